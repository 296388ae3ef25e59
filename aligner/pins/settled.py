"""What was settled, in the game of the record: certain mentions, findings confirmed or dropped, what no longer fits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from aligner.captions.timecode import clock
from aligner.pins.binding import Bound
from aligner.pins.pin import INFERRED, MOVE, RIGHT, WRONG, Pin
from aligner.pins.placing import Span
from aligner.record.model import Finding, Game, Mention
from aligner.record.tree import path

Placed = Sequence[tuple[Pin, Span]]

_BY_HAND = "Settled by hand."


def settle_game(game: Game, placed: Placed) -> Game:
    """The game with what was settled marked as certain.

    Findings settled as wrong are left out, and their mentions are misnamed no longer.
    """
    if not placed:
        return game
    moves = [span for pin, span in placed if pin.decision == MOVE]
    wrong = [span for pin, span in placed if pin.decision == WRONG]
    right = [span for pin, span in placed if pin.decision == RIGHT]
    findings: list[Finding] = []
    for finding in game.findings:
        if not any(_meet(finding.words, span) for span in wrong):
            sure = any(_meet(finding.words, span) for span in right)
            findings.append(replace(finding, confidence=1.0) if sure else finding)
    dropped = [finding.words for finding in game.findings if any(_meet(finding.words, span) for span in wrong)]
    mentions = tuple(_mention(mention, moves, dropped) for mention in game.mentions)
    unsaid = {tuple(pin.line) for pin, _ in placed if pin.decision == INFERRED}
    nodes = game.nodes
    if unsaid:
        known = {node.id: node for node in nodes}
        lines = {node.id: tuple(step.san for step in path(known, node.id)) for node in nodes if not node.times}
        nodes = tuple(
            replace(node, confidence=1.0, alternatives=()) if lines.get(node.id) in unsaid else node for node in nodes
        )
    return replace(game, nodes=nodes, mentions=mentions, findings=tuple(findings))


def notes_about(bound: Bound) -> list[str]:
    """A sentence for each settled decision that no longer fits."""
    return [
        f'what was settled at {clock(pin.anchor.at)} about "{pin.anchor.words}" no longer fits: {reason}; '
        "settle it again, or remove it from the file of settled decisions."
        for pin, reason in bound.unfit
    ]


def _mention(mention: Mention, moves: Sequence[Span], dropped: Sequence[Span]) -> Mention:
    if mention.kind == "slip" and any(_meet(mention.words, span) for span in dropped):
        mention = replace(mention, kind="move")
    if any(span == mention.words for span in moves):
        why = mention.why if mention.why.startswith(_BY_HAND) else f"{_BY_HAND} {mention.why}".strip()
        mention = replace(mention, confidence=1.0, alternatives=(), why=why)
    return mention


def _meet(one: Span, other: Span) -> bool:
    return one[0] < other[1] and other[0] < one[1]

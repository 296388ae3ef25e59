"""The findings of a game gone over: slips taken back at once dropped, cause and reason told, false statements added."""

from __future__ import annotations

from dataclasses import replace

import chess

from aligner.errata.as_said import told_as_said
from aligner.errata.cause import cause, prior_of
from aligner.errata.corrections import Corrections
from aligner.errata.discussion import FIRM, Discussion
from aligner.errata.reasons import reason
from aligner.errata.statements import false_statements
from aligner.errata.too_little import ends_before, names_no_move
from aligner.record.model import Finding, Game, Node
from aligner.record.tree import by_id
from aligner.speech.listen import Speech

UNKNOWN_GAME = 0.5
"""Factor for misnamed moves where no score was given: on the talks for fitting 3 of 24 were slips, 21 the record's."""
LEAST_SLIP, LEAST_SLIP_UNKNOWN = 0.4, 0.2
"""Confidence below which a misnamed move is no finding, with a score and without one, where all are lowered.
On the talks for fitting F1 was 0.81 when they were set (0.77 with 0.3), and without scores, the game's own moves
alone, 0.42 (0.38 with 0.25 and 0.3)."""
LEAST_SHARE = 0.6
"""Share that a misnamed move needs beside all moves that are told just as the words say."""
_AS_SAID = ("move", "again")
"""Kinds of rivals that take the words as they stand."""
PUT_RIGHT = 0.85
"""Confidence of a slip that the speaker himself puts right."""
LEAST_GARBLE = 0.75
"""The same for words that only sound like a move: on the talks for fitting all ten that were meant are surer than 0.88,
and of those below 0.75 none was."""


def reviewed(speech: Speech, game: Game, known: bool = True) -> Game:
    """The game with its findings gone over.

    Args:
        speech: the talk as heard.
        game: as the search left it: mentions, and a basic finding for every misnamed move.
        known: whether the score was given; without it a slip is as often a game misunderstood.
    """
    nodes = by_id(game)
    wordings = speech.wordings()
    discussion = Discussion(game)
    told = Corrections(speech, wordings, discussion)
    dropped = {f.words for f in game.findings if told.at_once(f) or told.glued(f) or ends_before(f, speech)}
    kept = [f for f in game.findings if f.words not in dropped and not names_no_move(f, speech)]
    kept = [f for f in kept if not told_as_said(f, speech, discussion)]
    garbled = sum(f.kind == "garble" for f in kept)
    prior = prior_of(garbled, len(kept) - garbled)
    slips = [
        _weighed(_judged(f, nodes.get(f.meant.node) if f.meant.node is not None else None, prior), discussion, known)
        for f in kept
    ]
    least = LEAST_SLIP if known else LEAST_SLIP_UNKNOWN
    slips = [replace(f, confidence=max(f.confidence, PUT_RIGHT)) if told.put_right(f) else f for f in slips]
    slips = [f for f in slips if f.confidence >= (LEAST_GARBLE if f.kind == "garble" else least)]
    mentions = tuple(replace(m, kind="move") if m.kind == "slip" and m.words in dropped else m for m in game.mentions)
    game = replace(game, mentions=mentions)
    false = [
        f
        for f in false_statements(speech, game, known=known)
        if not any(f.words[0] < s.words[1] and s.words[0] < f.words[1] for s in slips)
    ]
    return replace(game, findings=tuple(sorted([*slips, *false], key=lambda f: (f.start, f.end))))


def _judged(finding: Finding, node: Node | None, prior: float) -> Finding:
    """The finding with cause and reason."""
    if not finding.meant.uci or not finding.fen:
        return finding
    mover = chess.Board(finding.fen).piece_type_at(chess.Move.from_uci(finding.meant.uci).from_square)
    who = cause(finding.said, finding.kind, finding.meant.uci, chess.piece_name(mover) if mover else "", prior)
    return replace(finding, cause=who, message=reason(finding, node))


def _weighed(finding: Finding, discussion: Discussion, known: bool) -> Finding:
    """The finding with its confidence lowered where the record is in doubt; a garble sounds like its move anyhow.

    What was misnamed is known of the game's own moves. A sideline is what the words made of it: where they do not fit,
    it is as likely misplaced, unless the moves around it hold it in its place. And where the words may tell another
    move just as they stand, nothing was misnamed.
    """
    if finding.kind == "garble":
        return finding
    node = discussion.nodes.get(finding.meant.node) if finding.meant.node is not None else None
    if node is not None and not node.main and not (finding.confidence >= FIRM and discussion.firm(node)):
        return replace(finding, confidence=0.0)
    mention = discussion.last(finding.words[0])
    told = sum(rival.confidence for rival in mention.alternatives if rival.kind in _AS_SAID) if mention else 0.0
    if finding.confidence < LEAST_SHARE * (finding.confidence + told):
        return replace(finding, confidence=0.0)
    trust = min(discussion.trust(finding.words[0]), 1.0) * (1.0 if known else UNKNOWN_GAME)
    return replace(finding, confidence=round(finding.confidence * trust, 4))

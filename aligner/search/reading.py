"""One way to read a whole talk, with how likely each decision is and what its rivals are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass

import chess

from aligner.prices.prices import Prices
from aligner.search.beam import Allows, Beam, best_path
from aligner.search.lattice import Place, weights
from aligner.search.lines import LineNode, Lines
from aligner.search.options import Options
from aligner.search.state import Decision, State
from aligner.speech.listen import Speech

Way = tuple[Place[Decision], Place[Decision], Decision, float]
"""The place before and after a decision, the decision, and its probability."""

_LEAST_RIVAL = 0.01
_MOST_RIVALS = 5


@dataclass(frozen=True, slots=True)
class Rival:
    """Another way to take the words of a decision.

    Attributes:
        nodes: the moves they would speak of; empty where they would speak of none.
        kind: of the decision.
        slips: what would have been said wrongly.
        probability: of this rival.
    """

    nodes: tuple[LineNode, ...]
    kind: str
    slips: tuple[str, ...]
    probability: float


@dataclass(frozen=True, slots=True)
class Choice:
    """A decision of the best reading.

    Attributes:
        decision: what the phrase is taken for.
        cursor: the position under discussion when it is spoken.
        words: half-open range of words.
        probability: that the phrase means these moves, over all surviving readings.
        rivals: likeliest first.
    """

    decision: Decision
    cursor: LineNode
    words: tuple[int, int]
    probability: float
    rivals: tuple[Rival, ...]


@dataclass(frozen=True, slots=True)
class Reading:
    """The talk, read.

    Attributes:
        lines: all nodes.
        head: the furthest position of the game.
        choices: decisions, in order of time, those that speak of no move included.
        presence: probability that a node belongs to the tree, by its number.
        cost: of the reading, in nats.
    """

    lines: Lines
    head: LineNode
    choices: tuple[Choice, ...]
    presence: dict[int, float]
    cost: float


def read(
    speech: Speech,
    start: chess.Board,
    score: Sequence[str],
    prices: Prices,
    *,
    cast: Mapping[str, bool] | None = None,
    allows: Allows | None = None,
    progress: Callable[[float], None] | None = None,
) -> Reading:
    """Read a talk: the best reading of all its stretches and what the rivals say.

    Args:
        speech: what was heard.
        start: position the game starts from.
        score: the game's moves in UCI; empty where the talk is all there is.
        prices: of the mode that belongs to `score`.
        cast: words that say who moves, with their side; see `evidence`.
        allows: constraint on decisions.
        progress: told the share done, 0 to 1.
    """
    lines = Lines(start, score)
    options = Options(lines, prices, cast)
    begin = State(lines.root, lines.root, None, (), 0.0)
    ends = Beam(speech, options, allows=allows).run(0, len(speech.stretches), [begin], progress)
    return reading_of(speech, lines, ends or [begin], prices.sharpness)


def reading_of(speech: Speech, lines: Lines, ends: list[State], sharpness: float) -> Reading:
    """The best reading of a search that ended in these states, best first, and what the others say of it."""
    ways = weights(ends, sharpness)
    presence = _presence(ways)
    return Reading(lines, ends[0].head, _choices(speech, best_path(ends[0]), ways), presence, ends[0].cost)


def _presence(ways: Sequence[Way]) -> dict[int, float]:
    together: dict[tuple[int, int], float] = defaultdict(float)
    for _, _, decision, share in ways:
        if decision.spoken is not None and decision.kind != "again":
            for node in (*decision.nodes, *decision.passed):
                together[decision.spoken.phrase.start, node.number] += share
    presence: dict[int, float] = {}
    for (_, number), share in together.items():
        presence[number] = max(presence.get(number, 0.0), min(share, 1.0))
    return presence


def _choices(speech: Speech, path: Sequence[tuple[State, Decision]], ways: Sequence[Way]) -> tuple[Choice, ...]:
    by_word: dict[int, list[tuple[int, Decision, float]]] = defaultdict(list)
    for way, (_, _, decision, share) in enumerate(ways):
        if decision.spoken is not None and share > 1e-4:
            first, last = speech.span(decision.spoken.phrase)
            for word in range(first, last):
                by_word[word].append((way, decision, share))
    places: dict[int, Hashable] = {}

    def place(node: LineNode) -> Hashable:
        """The move and the position it is played in, by whatever way the talk came there."""
        if node.number not in places:
            board = node.parent.board if node.parent is not None else node.board
            pieces = (board.pawns, board.knights, board.bishops, board.rooks, board.queens, board.kings)
            places[node.number] = (pieces, board.occupied_co[chess.WHITE], board.turn, node.move)
        return places[node.number]

    found = []
    for before, decision in path:
        if decision.spoken is None:
            continue
        first, last = speech.span(decision.spoken.phrase)
        shares: dict[tuple[Hashable, ...], float] = defaultdict(float)
        example: dict[tuple[Hashable, ...], tuple[float, Decision]] = {}
        counted: set[int] = set()
        for word in range(first, last):
            for way, other, share in by_word[word]:
                if way in counted:
                    continue
                counted.add(way)
                key = tuple(place(node) for node in other.nodes)
                shares[key] += share
                if key not in example or share > example[key][0]:
                    example[key] = (share, other)
        own = tuple(place(node) for node in decision.nodes)
        probability = min(shares.get(own, 0.0), 1.0)
        others = sum(share for key, share in shares.items() if key != own)
        scale = min(1.0, (1.0 - probability) / others) if others > 0 else 0.0  # phrases inside one another overlap
        rivals = [
            Rival(example[key][1].nodes, example[key][1].kind, example[key][1].slips, share * scale)
            for key, share in shares.items()
            if key != own and share * scale >= _LEAST_RIVAL and not (set(key) & set(own))
        ]
        rivals.sort(key=lambda rival: (-rival.probability, [node.number for node in rival.nodes]))
        found.append(Choice(decision, before.cursor, (first, last), probability, tuple(rivals[:_MOST_RIVALS])))
    return tuple(found)

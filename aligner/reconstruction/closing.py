"""The plies of a found game that nobody spoke: the likeliest move for each, and which others it may have been.

While the game is looked for such a ply is left open, or filled in with a move that goes without saying. At the end each
takes the likeliest of the moves after which all that was told later can still be played, by cheap knowledge of the
game (`aligner.search.plies`), by what is stated later of the position ("White is a pawn up") and, where the user names
one, by an engine's opinion.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import exp
from operator import itemgetter

import chess

from aligner.reconstruction.amending import Amender, played_as
from aligner.reconstruction.hypothesis import Hypothesis, Ply
from aligner.search.fits import Fits
from aligner.search.lines import LineNode
from aligner.search.material import stated_terms
from aligner.speech.statements import Statement

LEAST_SHARE = 0.01
"""Moves that are less than so many times as likely as the likeliest are no rivals."""
_MOST = 12
"""Moves that are weighed against each other."""

Opinion = Callable[[chess.Board, Sequence[chess.Move]], Mapping[chess.Move, float]]
"""What an engine thinks: for legal moves of a position, how many pawns' worth each loses against the best of them."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A move that may have been the one that nobody spoke.

    Attributes:
        uci: the move.
        share: its probability among all that keep the rest of the game playable, given the game before it.
    """

    uci: str
    share: float


@dataclass(frozen=True, slots=True)
class Closed:
    """A game without open plies.

    Attributes:
        moves: from the start position.
        candidates: for each ply, the moves it may have been, the played one first; empty where it was told or settled.
        whole: whether every ply that was told has its place; else the game ends before one that can't be played.
    """

    moves: tuple[chess.Move, ...]
    candidates: tuple[tuple[Candidate, ...], ...]
    whole: bool


class Closing:
    """Closes the open plies of games that were found in one talk.

    Args:
        fits: of the talk's phrases.
        amender: plays on what was told.
        opinion: an engine's; None for none.
        statements: what is said in it of positions as a whole, in order.
    """

    def __init__(
        self, fits: Fits, amender: Amender, opinion: Opinion | None = None, statements: Sequence[Statement] = ()
    ) -> None:
        self._fits = fits
        self._amender = amender
        self._opinion = opinion
        self._statements = statements

    def close(self, hypothesis: Hypothesis, settled: Sequence[chess.Move] = ()) -> Closed | None:
        """The game of a hypothesis, every later ply played as it was told; where none can be, it ends before that.

        Args:
            hypothesis: at the end of the talk.
            settled: moves that the game begins with; None is returned where the hypothesis tells another game.
        """
        rest = plies_of(hypothesis)[::-1]
        if not rest:
            line = hypothesis.head.line()
            return Closed(tuple(line), ((),) * len(line), True) if line[: len(settled)] == list(settled) else None
        stated = _stated_after(hypothesis, self._statements)
        node = self._fits.lines.root
        moves: list[chess.Move] = []
        candidates: list[tuple[Candidate, ...]] = []
        while rest:
            ply = rest.pop()
            own: tuple[Candidate, ...] = ()
            unspoken = ply.spoken is None
            following: LineNode | None
            if len(moves) < len(settled):
                following = self._settled(node, ply, settled[len(moves)], unspoken)
                if following is None:
                    return None
            elif unspoken:
                own = self._candidates(node, rest, stated)
                following = self._fits.lines.after(node, chess.Move.from_uci(own[0].uci)) if own else None
            else:
                following = self._amender.play(node, ply)
            if following is None:
                return Closed(tuple(moves), tuple(candidates), False) if len(moves) >= len(settled) else None
            node = following
            assert node.move is not None
            moves.append(node.move)
            candidates.append(own)
        return Closed(tuple(moves), tuple(candidates), True) if len(moves) >= len(settled) else None

    def _settled(self, node: LineNode, ply: Ply, move: chess.Move, unspoken: bool) -> LineNode | None:
        """The position after a settled move, where the ply was not told as another one."""
        if unspoken:
            return self._fits.lines.after(node, move) if node.board.is_legal(move) else None
        following = self._amender.play(node, ply)
        return following if following is not None and following.move == move else None

    def _candidates(
        self, node: LineNode, rest: Sequence[Ply], stated: Mapping[int, Sequence[Statement]]
    ) -> tuple[Candidate, ...]:
        """Moves after which the rest can be played, or as much of it as may be; likeliest first."""
        kept: list[tuple[chess.Move, float, float]] = []
        most = -1
        for candidate, cost in self._fits.likely(node):
            if most == len(rest) and (len(kept) == _MOST or exp(kept[0][1] - cost) < LEAST_SHARE):
                break
            assert candidate.move is not None
            way = _played(node, candidate.move, rest)
            if len(way) > most + 1:
                kept, most = [], len(way) - 1
            if len(way) == most + 1:
                terms = (term for at in way if at.ply in stated for term in stated_terms(at.board, stated[at.ply]))
                kept.append((candidate.move, cost, self._fits.prices.cost(terms)))
        return self._weighed(node.board, [(move, cost + said) for move, cost, said in kept[:_MOST]])

    def _weighed(self, board: chess.Board, costs: list[tuple[chess.Move, float]]) -> tuple[Candidate, ...]:
        if self._opinion is not None and len(costs) > 1:
            price = self._fits.prices.table.get("engine.loss", 0.0)
            losses = self._opinion(board, [move for move, _ in costs])
            costs = [(move, cost + price * losses.get(move, 0.0)) for move, cost in costs]
        costs.sort(key=lambda pair: (pair[1], pair[0].uci()))
        weights = [exp(costs[0][1] - cost) for _, cost in costs]
        total = sum(weights)
        return tuple(Candidate(move.uci(), weight / total) for (move, _), weight in zip(costs, weights, strict=True))


def plies_of(hypothesis: Hypothesis) -> list[Ply]:
    """The plies of a hypothesis' game, in order."""
    plies: list[Ply] = []
    ply = hypothesis.plies
    while ply is not None:
        plies.append(ply)
        ply = ply.before
    return plies[::-1]


def _played(node: LineNode, move: chess.Move, rest: Sequence[Ply]) -> list[LineNode]:
    """The position after a move, and those after as many of the plies as can be played; the last in the list is first.

    The nodes are of no line, so that what is only tried is soon forgotten.
    """
    way = [LineNode(-1, node, move, -1)]
    for ply in reversed(rest):
        found = played_as(way[-1], ply)
        if found is None:
            break
        way.append(LineNode(-1, way[-1], found, -1))
    return way


def _stated_after(hypothesis: Hypothesis, statements: Sequence[Statement]) -> Mapping[int, Sequence[Statement]]:
    """By plies played, what is stated of the game's position then; what is said in sidelines is left out."""
    if not statements:
        return {}
    told = [  # (first token of a phrase, plies played after it, -1 in a sideline)
        (step.spoken.phrase.start, step.head.ply if step.side is None else -1)
        for step in hypothesis.steps
        if step.spoken is not None
    ]
    told.reverse()
    found: dict[int, list[Statement]] = {}
    for stated in statements:
        place = bisect_right(told, stated.start, key=itemgetter(0)) - 1
        if place >= 0 and told[place][1] >= 0:
            found.setdefault(told[place][1], []).append(stated)
    return found

"""Second thoughts about the game: other unspoken plies, or another reading of what was told, that let a move be played.

A ply that nobody spoke is filled in with a likely one, and "the knight takes" with a knight. Whether that was right
shows only when a later move is told that could not be played. Then the game is gone through again backwards: which
other ply would have made it possible, with everything told in between still legal?
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import log

import chess

from aligner.reconstruction.gaps import is_open
from aligner.reconstruction.hypothesis import Hypothesis, Ply, Telling
from aligner.search.fits import Fits
from aligner.search.lines import LineNode
from aligner.search.matching import LETTERS, PricedFit, exact_fits
from aligner.speech.description import Terms
from aligner.speech.listen import Spoken

_FARTHEST = 40
"""Plies back at which another one is tried."""
_CUTS = (2, 4, 6, 8)
"""Plies in a row that are tried to be no part of the game, a line that somebody considered; at its end any number."""
_PLACES = 12
"""Plies that are tried otherwise, the latest first."""
_LIKELY = 20
"""Other unspoken plies tried at each."""
_KEPT = 3


@dataclass(frozen=True, slots=True)
class Change:
    """Another course of the game.

    Attributes:
        base: the position from which on it differs.
        added: the plies from there up to the present.
        end: the position they lead to.
        fits: how the phrase fits there, the cheapest first.
        terms: what the change costs.
    """

    base: LineNode
    added: tuple[Telling, ...]
    end: LineNode
    fits: list[PricedFit]
    terms: Terms


class Amender:
    """Looks for other courses of the game."""

    def __init__(self, fits: Fits) -> None:
        self._fits = fits
        self._played: dict[Ply, dict[int, LineNode | None]] = {}

    def forget(self) -> None:
        """Drop what was worked out so far."""
        self._played.clear()

    def changes(self, hypothesis: Hypothesis, spoken: Spoken) -> list[Change]:
        """Courses after which the phrase can be played, cheapest first."""
        found: list[tuple[float, Change]] = []
        later: list[Ply] = []
        ply = hypothesis.plies
        places = 0
        while ply is not None and places < _PLACES and hypothesis.head.ply - ply.node.ply < _FARTHEST:
            parent = ply.node.parent
            assert parent is not None
            others = self._others(ply, parent, spoken)
            if others:
                places += 1
            for node, nats in others:
                change = self._replay(parent, node, nats, ply, later, spoken)
                if change is not None:
                    found.append((nats + change.fits[0][2], change))
            later.append(ply)
            ply = ply.before
        found += self._cuts(hypothesis, spoken)
        found.sort(key=lambda pair: pair[0])
        return [change for _, change in found[:_KEPT]]

    def _cuts(self, hypothesis: Hypothesis, spoken: Spoken) -> Iterator[tuple[float, Change]]:
        """Courses without a few plies in a row."""
        plies: list[Ply] = []
        ply = hypothesis.plies
        while ply is not None and len(plies) < _FARTHEST:
            plies.append(ply)
            ply = ply.before
        runs = [(0, cut) for cut in range(2, len(plies) + 1)]
        runs += [(last, cut) for cut in _CUTS for last in range(1, len(plies) - cut + 1)]
        for last, cut in runs:
            base = plies[last + cut - 1].node.parent
            assert base is not None
            change = self._replay(base, base, 0.0, None, plies[:last], spoken)
            if change is not None:
                terms: Terms = (("amend_cut", 1.0), ("amend_cut_plies", log(cut)))
                yield change.fits[0][2] + log(cut), replace(change, terms=terms)

    def _others(self, ply: Ply, parent: LineNode, spoken: Spoken) -> list[tuple[LineNode, float]]:
        """Other plies that may stand in a ply's place, with how many nats they cost more."""
        lines = self._fits.lines
        if ply.spoken is None:
            likely = self._fits.likely(parent)
            wanted = LETTERS.get(spoken.phrase.moves[0].piece or "P")
            moved = parent.board.piece_type_at(ply.node.move.from_square) if ply.node.move else wanted
            own = next((nats for node, nats in likely if node is ply.node), likely[0][1] if likely else 0.0)
            every = moved == wanted or spoken.phrase.moves[0].castle
            return [
                (node, nats - own)
                for node, nats in likely[: _LIKELY if every else 40]
                if node is not ply.node
                and (every or parent.board.piece_type_at(node.move.from_square if node.move else 0) == wanted)
            ]
        if ply.said is None or ply.said is not ply.spoken.phrase.moves[0]:
            return []
        slip = self._fits.prices.table.get("slip_in.game", 0.0)
        fits = [(move, cost) for move, _, cost in self._fits.fits(parent, ply.spoken)]
        fits += [(move, cost + slip) for move, _, cost in self._fits.near(parent, ply.spoken)]
        own = next((cost for move, cost in fits if move == ply.node.move), 0.0)
        return [(lines.after(parent, move), cost - own) for move, cost in fits if move != ply.node.move]

    def _replay(
        self, base: LineNode, node: LineNode, nats: float, ply: Ply | None, later: list[Ply], spoken: Spoken
    ) -> Change | None:
        nodes = [node]
        for then in reversed(later):
            further = self.play(nodes[-1], then)
            if further is None:
                return None
            nodes.append(further)
        fits_now = self._fits.fits(nodes[-1], spoken)
        if not fits_now:
            return None
        plies, added = (later, nodes[1:]) if ply is None else ([*later, ply], nodes)
        told = tuple(then.telling._replace(node=at) for then, at in zip(reversed(plies), added, strict=True))
        was_open = ply is not None and not ply.node.move  # which it was had to be told yet
        terms: Terms = (("amend_nats", nats),) if was_open else (("amend", 1.0), ("amend_nats", nats))
        return Change(base, told, nodes[-1], fits_now, terms)

    def play(self, node: LineNode, ply: Ply) -> LineNode | None:
        """The position after a ply that was told in another course of the game; None where it can't be played."""
        known = self._played.get(ply)
        if known is None:
            known = self._played[ply] = {}
        number = node.number
        if number in known:
            return known[number]
        move = played_as(node, ply)
        after = known[number] = self._fits.lines.after(node, move) if move is not None else None
        return after


def played_as(node: LineNode, ply: Ply) -> chess.Move | None:
    """The move that a ply told in another course of the game would be at a node; None where it can't be played."""
    move = ply.node.move
    assert move is not None
    if not move:
        return None if node.board.is_check() or is_open(node) else move
    if _legal(node, ply):
        return move
    fits = exact_fits(node, ply.said) if ply.said is not None else []
    return fits[0].move if fits else None


def _legal(node: LineNode, ply: Ply) -> bool:
    """Whether a ply's move can be played as before, by a piece of the same kind."""
    board, move = node.board, ply.node.move
    assert move is not None and ply.node.parent is not None
    own = board.occupied_co[board.turn]
    if not own & chess.BB_SQUARES[move.from_square] or own & chess.BB_SQUARES[move.to_square]:
        return False  # most are told apart by this alone
    if not board.is_legal(move):
        return False
    return ply.said is None or board.piece_type_at(move.from_square) == ply.node.parent.board.piece_type_at(
        move.from_square
    )

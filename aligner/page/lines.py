"""The tree of a game as it is set in a book: the game's own line, and each sideline in a paragraph of its own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from aligner.page.places import Place


@dataclass(frozen=True, slots=True)
class Move:
    """A move where it is printed.

    Attributes:
        place: index of the position after it.
        number: "13." or "13..."; "" where the move before tells it.
    """

    place: int
    number: str


@dataclass(frozen=True, slots=True)
class Line:
    """A paragraph of moves.

    Attributes:
        depth: 0 for the game's own line.
        about: what the line is, for readers who cannot see its indent.
        moves: at least one.
    """

    depth: int
    about: str
    moves: tuple[Move, ...]


def lines(places: Sequence[Place], root: int) -> Iterator[Line]:
    """The lines of one game in the order in which PGN nests them.

    A list and not nested lists, and a stack and not recursion: browsers cut nesting off at some hundred levels, and a
    talk may be deeper than that.

    Args:
        places: of the record.
        root: index of the game's start position.
    """
    below: dict[int, list[int]] = {}
    for index, place in enumerate(places):
        below.setdefault(place.parent, []).append(index)
    for siblings in below.values():
        siblings.sort(key=lambda index: not places[index].node.main)
    depth, about, moves = 0, "", list[Move]()
    # A move to print and what follows it (None to open), or a line to open or to take up again.
    waiting: list[tuple[str, int]] = [("after", root)]
    while waiting:
        step, index = waiting.pop()
        place = places[index]
        if step == "after":
            waiting += reversed(list(_following(places, index, below.get(index, []))))
        elif step == "move":
            starts = not moves or place.number.count(".") == 1
            moves.append(Move(index, place.number if starts else ""))
        else:
            if moves:
                yield Line(depth, about, tuple(moves))
            moves = []
            depth = place.depth
            about = _opening(places, index, below) if step == "open" else _resuming(depth)
    if moves:
        yield Line(depth, about, tuple(moves))


def _following(places: Sequence[Place], index: int, below: list[int]) -> Iterator[tuple[str, int]]:
    """What is printed after a move: the first move after it, the sidelines instead of that one, what follows it."""
    if not below:
        return
    first, *others = below
    if places[first].depth > places[index].depth:
        # The game ends here and the talk goes on.
        first, others = -1, below
    else:
        yield "move", first
    for other in others:
        yield "open", other
        yield "move", other
        yield "after", other
    if first >= 0:
        if others:
            yield "resume", first
        yield "after", first


def _opening(places: Sequence[Place], index: int, below: dict[int, list[int]]) -> str:
    place = places[index]
    first = below[place.parent][0]
    level = "Sideline" if place.depth == 1 else f"Sideline, {place.depth} deep"
    if first == index or places[first].depth == place.depth:
        return f"{level}, after {places[place.parent].name}:"
    return f"{level}, instead of {places[first].name}:"


def _resuming(depth: int) -> str:
    return "The game goes on:" if depth == 0 else f"The sideline, {depth} deep, goes on:"

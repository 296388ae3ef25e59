"""The picture of a talk: time from left to right, the game's plies upward, and what the talk dwells on between them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from aligner.page.assets import style, template
from aligner.page.places import Course, Place, course, holds
from aligner.page.text import clock, fragment, printable
from aligner.page.words import Erratum, errata
from aligner.record.model import Record

_STEPS = (5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800, 86400)
_STEPS_IN_MOVES = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
_LETTER = 0.56
"""Width of a letter, in font sizes, on average."""


@dataclass(frozen=True, slots=True)
class Size:
    """How large a picture is drawn, in its own units.

    Attributes:
        width: of all of it.
        height: of all of it.
        font: size of letters.
        labels: so many of the longest stays are named.
    """

    width: int
    height: int
    font: int
    labels: int

    @property
    def left(self) -> float:
        """Where time begins."""
        return self.font * 2.6

    @property
    def right(self) -> float:
        """Where time ends."""
        return self.width - self.font * 0.8

    @property
    def top(self) -> float:
        """Where the last ply stands."""
        return self.font * 2.4

    @property
    def bottom(self) -> float:
        """Where the start position stands."""
        return self.height - self.font * 1.9


SHEET = Size(1200, 460, 15, 24)
"""The picture as a file."""
STRIP = Size(1200, 118, 12, 12)
"""The picture along the foot of a page."""
PLATE = Size(400, 240, 12, 8)
"""The picture on a narrow page."""


@dataclass(frozen=True, slots=True)
class Label:
    """Words or a number in the picture.

    Attributes:
        x: in the picture's units.
        y: in the picture's units.
        text: what is written.
    """

    x: float
    y: float
    text: str


@dataclass(frozen=True, slots=True)
class Touch:
    """A part of the picture that leads somewhere.

    Attributes:
        x: its left side.
        width: of it.
        target: fragment of the moment, "t=12.4".
        title: what is there.
    """

    x: float
    width: float
    target: str
    title: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """Everything that is drawn, in the picture's units.

    Attributes:
        size: of the picture.
        end: milliseconds at the right side.
        paths: path data by what it shows: "game", "sideline", "deeper", "turn", "left".
        asides: left side and width of each stay outside the game.
        times: marks of the time axis.
        moves: marks of the ply axis.
        labels: names of long stays.
        errata: left side of each erratum.
        touches: what leads somewhere, left to right.
    """

    size: Size
    end: int
    paths: dict[str, str]
    asides: tuple[tuple[float, float], ...]
    times: tuple[Label, ...]
    moves: tuple[Label, ...]
    labels: tuple[Label, ...]
    errata: tuple[float, ...]
    touches: tuple[Touch, ...]


def write_picture(record: Record, link: str = "") -> str:
    """The picture of a record as an SVG 1.1 document of its own, without script.

    Args:
        record: the record.
        link: address of the recording or the page; each stay in the picture then leads to its moment there.
    """
    whole = course(record)
    drawn = drawing(whole, errata(record, whole), SHEET)
    title = printable(record.recording.title or record.recording.captions)
    return template("picture.svg").render(
        drawing=drawn, title=title, about=description(whole), style=style("picture.css"), link=link, alone=True
    )


def description(whole: Course) -> str:
    """What the picture shows, in a sentence."""
    stays = [(place, end - start) for place, start, end in holds(whole)]
    aside = sum(length for place, length in stays if place.depth)
    plies = max((place.node.ply for place in whole.places if place.node.main), default=0)
    longest = max(stays, key=lambda stay: stay[1], default=None)
    text = f"{clock(whole.end)} of talk over {(plies + 1) // 2} moves, {clock(aside)} of it in sidelines"
    return f"{text}; the longest stay is at {longest[0].name}, {clock(longest[1])}." if longest else f"{text}."


def drawing(whole: Course, notes: Sequence[Erratum], size: Size) -> Drawing:
    """Work out where everything stands.

    Args:
        whole: of the record.
        notes: `errata` of the record.
        size: of the picture.
    """
    stays = list(holds(whole))
    end = max(whole.end, 1)
    plies = max((place.node.ply for place in whole.places), default=0) or 1

    def x(time: int) -> float:
        return round(size.left + (size.right - size.left) * min(time, end) / end, 1)

    def y(ply: int) -> float:
        return round(size.bottom - (size.bottom - size.top) * ply / plies, 1)

    paths: dict[str, list[str]] = {"game": [], "sideline": [], "deeper": [], "turn": [], "left": []}
    asides: list[tuple[float, float]] = []
    before, left, last = -1, 0, 0
    for place, start, stop in stays:
        height = y(place.node.ply)
        kind = ("game", "sideline", "deeper")[min(place.depth, 2)]
        paths[kind].append(f"M{x(start):g} {height:g}H{x(stop):g}")
        if before >= 0 and before != place.node.ply:
            paths["turn"].append(f"M{x(start):g} {y(before):g}V{height:g}")
        before = place.node.ply
        if place.depth == 0:
            left = place.node.ply
        else:
            paths["left"].append(f"M{x(start):g} {y(left):g}H{x(stop):g}")
            if asides and last == start:
                asides[-1] = (asides[-1][0], round(x(stop) - asides[-1][0], 1))
            else:
                asides.append((x(start), round(x(stop) - x(start), 1)))
            last = stop
    return Drawing(
        size,
        whole.end,
        {kind: "".join(parts) for kind, parts in paths.items()},
        tuple(asides),
        tuple(Label(x(time), round(size.height - size.font * 0.5, 1), clock(time)) for time in _times(end, size)),
        tuple(Label(round(size.left - size.font * 0.5, 1), y(ply), text) for ply, text in _moves(whole, plies, size)),
        tuple(_labels(stays, x, y, size)),
        tuple(x(note.time) for note in notes),
        tuple(_touches(stays, x)),
    )


def _times(end: int, size: Size) -> Iterator[int]:
    most = max(2, int((size.right - size.left) / (size.font * 5.5)))
    step = next((step for step in _STEPS if end / 1000 / step <= most), _STEPS[-1] * (end // 1000 // _STEPS[-1] + 1))
    yield from range(0, end - step * 200, step * 1000)


def _moves(whole: Course, plies: int, size: Size) -> Iterator[tuple[int, str]]:
    """Plies after White's moves, as far apart as letters need, with their numbers as in the first game."""
    numbers = {place.node.ply: place.number for place in whole.places if place.number.count(".") == 1}
    most = max(1, int((size.bottom - size.top) / (size.font * 1.5)))
    moves = plies / 2
    step = next((step for step in _STEPS_IN_MOVES if moves / step <= most), int(moves))
    for ply, number in sorted(numbers.items()):
        if int(number[:-1]) % step == 0:
            yield ply, number


def _labels(
    stays: Sequence[tuple[Place, int, int]], x: Callable[[int], float], y: Callable[[int], float], size: Size
) -> Iterator[Label]:
    """Names of the longest stays, the longest first; one that would cover another is left out."""
    taken: list[tuple[float, float, float, float]] = []
    for place, start, stop in sorted(stays, key=lambda stay: stay[1] - stay[2]):
        if len(taken) == size.labels:
            return
        if not place.number:
            continue
        width = _LETTER * size.font * len(place.name)
        middle = min(max((x(start) + x(stop)) / 2, size.left + width / 2), size.right - width / 2)
        base = y(place.node.ply) - size.font * 0.4
        box = (middle - width / 2 - 2, base - size.font, middle + width / 2 + 2, base + size.font * 0.3)
        if all(box[2] < other[0] or box[0] > other[2] or box[3] < other[1] or box[1] > other[3] for other in taken):
            taken.append(box)
            yield Label(round(middle, 1), round(base, 1), place.name)


def _touches(stays: Sequence[tuple[Place, int, int]], x: Callable[[int], float]) -> Iterator[Touch]:
    """Stays too short to be hit are joined with those before them."""
    at: tuple[Place, int] | None = None
    for place, start, stop in stays:
        if at is None:
            at = (place, start)
        if x(stop) - x(at[1]) >= 2:
            title = f"{clock(at[1])} {at[0].name}"
            yield Touch(x(at[1]), round(x(stop) - x(at[1]), 1), fragment(at[1]), title)
            at = None

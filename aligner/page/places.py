"""The positions of a whole record in one row, and the moments at which the talk comes to them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from aligner.record.model import Game, Mention, Node, Record
from aligner.record.tree import children, positions

GLYPHS = {1: "!", 2: "?", 3: "!!", 4: "??", 5: "!?", 6: "?!"}
"""Signs for the first glyphs of the PGN standard, section 10."""


@dataclass(frozen=True, slots=True)
class Place:
    """One position, of any game of the record.

    Attributes:
        game: index of the game, 0-based.
        node: of the record.
        parent: index of the place before; -1 for a start position.
        depth: 0 in the game's own line, 1 in a sideline, 2 in a sideline of that.
        number: number of the move with its dots, "13." or "13..."; "" for a start position.
        fen: the position.
        times: milliseconds at which its move is spoken of, in order.
    """

    game: int
    node: Node
    parent: int
    depth: int
    number: str
    fen: str
    times: tuple[int, ...]

    @property
    def glyphs(self) -> str:
        """Signs of judgement, "!" and the like."""
        return "".join(GLYPHS.get(nag, "") for nag in self.node.nags)

    @property
    def name(self) -> str:
        """The move with its number, "13.Bg5"; "the start" for a start position."""
        return f"{self.number}{self.node.san}" if self.number else "the start"


@dataclass(frozen=True, slots=True)
class Spoken:
    """A mention, seen from the page.

    Attributes:
        mention: of the record.
        start: milliseconds.
        places: indices of the positions it speaks of, in order.
    """

    mention: Mention
    start: int
    places: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Moment:
    """The talk comes to a position.

    Attributes:
        time: milliseconds.
        place: index of the position.
        spoken: index of the mention; -1 where the talk turns to a game.
    """

    time: int
    place: int
    spoken: int


@dataclass(frozen=True, slots=True)
class Course:
    """What a record holds, as a page follows it.

    Attributes:
        places: every position; the parent of each stands before it.
        roots: index of the start position of each game.
        spoken: mentions that speak of moves, game by game.
        moments: in order of time.
        end: milliseconds; nothing is spoken after it.
    """

    places: tuple[Place, ...]
    roots: tuple[int, ...]
    spoken: tuple[Spoken, ...]
    moments: tuple[Moment, ...]
    end: int

    @property
    def first(self) -> int:
        """Index of the position the talk begins with."""
        return self.roots[0]


def milliseconds(seconds: float) -> int:
    """Seconds of the record in whole milliseconds, never negative."""
    return max(0, round(seconds * 1000))


def course(record: Record) -> Course:
    """All positions and moments of a record."""
    places: list[Place] = []
    roots: list[int] = []
    spoken: list[Spoken] = []
    moments: list[Moment] = []
    for number, game in enumerate(record.games):
        index = {node.id: len(places) + at for at, node in enumerate(game.nodes)}
        roots.append(len(places))
        places.extend(_places(game, number, index))
        if number:
            moments.append(Moment(milliseconds(game.start), roots[-1], -1))
        if not game.mentions:
            # A record from elsewhere may know times and no mentions.
            moments += [Moment(time, index[node.id], -1) for node in game.nodes for time in _starts(node) if node.uci]
        for mention in game.mentions:
            if mention.nodes:
                moments += _moments(mention, index, len(spoken))
                spots = tuple(index[node] for node in mention.nodes)
                spoken.append(Spoken(mention, milliseconds(mention.start), spots))
    moments.sort(key=lambda moment: moment.time)
    last_word = milliseconds(record.words[-1].end) if record.words else 0
    end = max(milliseconds(record.recording.seconds), last_word, moments[-1].time if moments else 0)
    return Course(tuple(places), tuple(roots), tuple(spoken), tuple(moments), end)


def _places(game: Game, number: int, index: Mapping[int, int]) -> Iterator[Place]:
    boards = positions(game)
    depths = depths_of(game)
    first, white = boards[game.nodes[0].id].fullmove_number, boards[game.nodes[0].id].turn
    for node in game.nodes:
        shown = ""
        if node.parent is not None:
            move, second = divmod(node.ply - 1 + (not white), 2)
            shown = f"{first + move}{'...' if second else '.'}"
        # PGN standard, 16.1.3.4: the en passant square is always told after a double step.
        fen = boards[node.id].fen(en_passant="fen")
        parent = -1 if node.parent is None else index[node.parent]
        yield Place(number, node, parent, depths[node.id], shown, fen, tuple(_starts(node)))


def depths_of(game: Game) -> dict[int, int]:
    """How deep in sidelines each node stands, by id; 0 in the game's own line."""
    below = children(game)
    depths = {game.nodes[0].id: 0}
    for node in game.nodes:
        for at, child in enumerate(below[node.id]):
            depths[child.id] = depths[node.id] + (at > 0 or (node.main and not child.main))
    return depths


def _starts(node: Node) -> list[int]:
    return [milliseconds(start) for start, _ in node.times]


def _moments(mention: Mention, index: Mapping[int, int], spoken: int) -> Iterator[Moment]:
    """One moment for each move of a mention, spread evenly over its words."""
    start, end = milliseconds(mention.start), milliseconds(mention.end)
    for at, node in enumerate(mention.nodes):
        yield Moment(start + max(0, end - start) * at // len(mention.nodes), index[node], spoken)


def holds(course: Course) -> Iterator[tuple[Place, int, int]]:
    """Each position with the milliseconds from which to which it is under discussion, in order of time."""
    stops = [(0, course.first), *((moment.time, moment.place) for moment in course.moments), (course.end, -1)]
    for (start, place), (end, _) in pairwise(stops):
        if end > start:
            yield course.places[place], start, end

"""A talk on the desk: its decisions on the disk, and what the search makes of it under them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import RLock

import chess

from aligner.desk.naming import name_of
from aligner.desk.view import View, joined, view_of
from aligner.pins.doubts import Doubt, doubts
from aligner.pins.pin import INFERRED, Pin, with_pin
from aligner.pins.sidecar import change_pins, read_pins, sidecar_of, tidy
from aligner.pins.typed import Place, Standing, line_nodes, places, san_line, standing
from aligner.pipeline import Alignment, WholeTalk
from aligner.record.model import Record
from aligner.search.lines import LineNode, Lines
from aligner.search.reading import Reading
from aligner.search.state import State
from aligner.speech.listen import Speech


@dataclass(frozen=True, slots=True)
class Change:
    """What other words are taken for since the last alignment.

    Attributes:
        start: seconds.
        text: the words.
        before: what they were taken for.
        after: what they are taken for now.
    """

    start: float
    text: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class AlignedGame:
    """One game of a talk as aligned under some decisions.

    Attributes:
        reading: what the search made of it.
        speech: its part of the talk as the search heard it.
        end: the best state that the search ended in.
    """

    reading: Reading
    speech: Speech
    end: State


@dataclass(frozen=True, slots=True)
class Aligned:
    """A talk as aligned under some decisions.

    Attributes:
        pins: the decisions.
        games: what the search made of each.
        record: the same as a record.
        doubts: what is doubtful, the most telling first.
        settled: for each decision that could be placed, the words it is about.
        changes: what changed against the alignment before.
        view: what the desk shows of it, as plain values.
        version: 1 for the first alignment, one more for each later one.
    """

    pins: tuple[Pin, ...]
    games: tuple[AlignedGame, ...]
    record: Record
    doubts: tuple[Doubt, ...]
    settled: tuple[tuple[Pin, tuple[int, int]], ...]
    changes: tuple[Change, ...]
    view: View
    version: int


class Talk:
    """A talk that decisions are made about. Its methods may be called from several threads.

    Args:
        captions: file of the captions, beside which the decisions are kept.
        alignment: the talk made ready.
    """

    def __init__(self, captions: Path, alignment: WholeTalk) -> None:
        self.captions = captions
        self.alignment = alignment
        self.sidecar = sidecar_of(captions)
        tidy(captions)
        self.pins = read_pins(self.sidecar)
        self.latest: Aligned | None = None
        self._replaced: dict[int, tuple[Pin, ...]] = {}
        self._pins_lock = RLock()
        self._search_lock = RLock()
        self._lines_lock = RLock()
        self._lines: dict[int, Lines] = {}

    @property
    def aligned(self) -> Aligned:
        """The latest alignment; the first is made when it is asked for."""
        if self.latest is None:
            self.align()
        assert self.latest is not None
        return self.latest

    @property
    def record(self) -> Record:
        """The record of the latest alignment."""
        return self.aligned.record

    def decide(self, pin: Pin) -> None:
        """Keep a decision; when this returns it is on the disk."""

        def change(pins: tuple[Pin, ...]) -> Sequence[Pin]:
            after = with_pin(pins, pin)
            number = max(one.number for one in after)
            self._replaced[number] = tuple(old for old in pins if old not in after)
            return after

        self._change(change)

    def take_back(self) -> Pin | None:
        """Take the latest decision back, and put again what it had replaced; None where nothing is settled."""
        taken: list[Pin] = []

        def change(pins: tuple[Pin, ...]) -> Sequence[Pin]:
            if not pins:
                return pins
            latest = max(pins, key=lambda pin: pin.number)
            taken.append(latest)
            before = self._replaced.pop(latest.number, ())
            return [*[pin for pin in pins if pin is not latest], *before]

        self._change(change)
        return taken[0] if taken else None

    def remove(self, unwanted: Callable[[Pin], bool]) -> int:
        """Take back every decision for which this is true; returns how many."""
        removed: list[Pin] = []

        def change(pins: tuple[Pin, ...]) -> Sequence[Pin]:
            removed.extend(pin for pin in pins if unwanted(pin))
            return [pin for pin in pins if not unwanted(pin)]

        self._change(change)
        return len(removed)

    def _change(self, change: Callable[[tuple[Pin, ...]], Sequence[Pin]]) -> None:
        with self._pins_lock:
            self.pins = change_pins(self.captions, change, self.alignment.start_fen)

    def align(self, progress: Callable[[float], None] | None = None) -> tuple[Change, ...]:
        """Align the talk anew under the decisions; returns what else has changed since the last time."""
        with self._search_lock:
            pins = self.pins
            readings = self.alignment.read(pins, progress)
            record = self.alignment.record(readings)
            before = self.latest
            games: list[AlignedGame] = []
            views: list[View] = []
            open_doubts: list[Doubt] = []
            settled: list[tuple[Pin, tuple[int, int]]] = []
            changes: list[Change] = []
            for number, (part, reading) in enumerate(zip(self.alignment.parts, readings, strict=True)):
                search = part.search
                bound = search.bound
                spans = [span for pin, span in bound.placed if pin.decision != INFERRED]
                found = doubts(bound.speech, reading, search.ends, search.prices.sharpness, spans)
                if before is not None:
                    changes += changes_between(before.games[number].reading, reading, bound.speech)
                views.append(view_of(bound.speech, reading, search.ends[0], record.games[number], found, bound.placed))
                games.append(AlignedGame(reading, bound.speech, search.ends[0]))
                open_doubts += found
                settled += bound.placed
            open_doubts.sort(key=lambda doubt: -doubt.worth)
            version = before.version + 1 if before is not None else 1
            self.latest = Aligned(
                pins, tuple(games), record, tuple(open_doubts), tuple(settled), tuple(changes), joined(views), version
            )
            return self.latest.changes

    def part(self, word: int) -> Alignment:
        """The alignment of the game that a word is about."""
        return self.alignment.parts[self.alignment.part_at(word)]

    def places(self, word: int, text: str, in_game: bool | None) -> list[Place]:
        """Where a typed move may stand before a word, the likeliest first."""
        with self.nodes(word) as lines:
            return places(lines, self._standing(word), text, in_game)

    @contextmanager
    def nodes(self, word: int) -> Iterator[Lines]:
        """The desk's own lines of the game that a word is about, while nobody else uses them: python-chess plays on a
        board to name its moves."""
        with self._lines_lock:
            number = self.alignment.part_at(word)
            if number not in self._lines:
                part = self.alignment.parts[number]
                self._lines[number] = Lines(chess.Board(part.start_fen), part.moves)
            yield self._lines[number]

    def head(self, word: int) -> LineNode:
        """The furthest position of the game before a word."""
        with self._lines_lock:
            return self._standing(word).head

    def line(self, node: LineNode) -> tuple[str, ...]:
        """The moves to one of the desk's own nodes, in SAN."""
        with self._lines_lock:
            return san_line(node)

    def before(self, word: int) -> LineNode:
        """The position under discussion before a word."""
        with self._lines_lock:
            return self._standing(word).cursor

    def node(self, word: int, line: Sequence[str]) -> LineNode | None:
        """The position after a line in SAN from the start position of the game that a word is about; None where a
        move of it is illegal."""
        with self.nodes(word) as lines:
            found = line_nodes(lines, line)
            return None if found is None else found[-1] if found else lines.root

    def _standing(self, word: int) -> Standing:
        """Where the talk stands before a word, in nodes of the desk's own: the search's are busy while it runs."""
        game = self.aligned.games[self.alignment.part_at(word)]
        there = standing(game.speech, game.end, word)
        with self.nodes(word) as lines:

            def own(node: LineNode) -> LineNode:
                mine = lines.root
                for move in node.line():
                    mine = lines.after(mine, move)
                return mine

            return Standing(own(there.cursor), own(there.head), tuple(own(end) for end in there.trail))


def changes_between(old: Reading, new: Reading, speech: Speech) -> tuple[Change, ...]:
    """Words that two readings of one talk take for different moves, in order of time."""
    before, after = _moves(old), _moves(new)
    found: list[Change] = []
    for words in sorted(before.keys() | after.keys()):
        one, other = before.get(words, ()), after.get(words, ())
        if one == other:
            continue
        if not one and any(_meet(words, span) for span in before) and words not in before:
            continue  # other words of the same place tell it already
        first, past = words
        text = " ".join(word.text for word in speech.words[first:past])
        names = name_of(one, old.head), name_of(other, new.head)
        if names[0] == names[1]:
            continue  # the same move in a game that has another unspoken one before it
        found.append(Change(speech.words[first].start / 1000, text, *names))
    return tuple(found)


def _moves(reading: Reading) -> dict[tuple[int, int], tuple[LineNode, ...]]:
    return {choice.words: choice.decision.nodes for choice in reading.choices if choice.decision.nodes}


def _meet(one: tuple[int, int], other: tuple[int, int]) -> bool:
    return one[0] < other[1] and other[0] < one[1]

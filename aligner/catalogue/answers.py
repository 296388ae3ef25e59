"""Answers: what was found, written out for people."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import sqlalchemy as sa

from aligner.catalogue import tables as t
from aligner.catalogue.positions import Position
from aligner.catalogue.streams import NodeRow
from aligner.catalogue.words import Block, TalkWords, parts_of, unpack

_MARGIN = 12
"""Words before and after that an answer shows."""
LINES = ("game", "sideline", "idea")


class MomentRow(NamedTuple):
    """A moment as the table has it; times in milliseconds."""

    node_id: int
    number: int
    start: int
    length: int
    kind: int
    confidence: int
    first_word: int
    words: int
    passage: int


@dataclass(frozen=True, slots=True)
class Moment:
    """An answer: a moment of a talk.

    Attributes:
        talk: name of the talk.
        title: of the talk, or its captions' name.
        start: seconds.
        end: seconds.
        link: the recording's address with the time as a W3C Media Fragment; "" where the address is not known.
        before: words before.
        said: the words.
        after: words after.
        move: with its number, "17... Nf5"; "" where the answer is no move.
        line: "game", "sideline" or "idea"; "" where the answer is words alone.
        kind: "move", "again", "slip", "idea", "statement", "unspoken" or "words".
        confidence: 0 to 1.
        note: what was misnamed, where it was.
        fen: the position after the move; "" for words alone.
        white: player.
        black: player.
        event: as in the headers.
        date: as far as known, "2024-05".
        eco: code of the opening.
        opening: its name.
    """

    talk: str
    title: str
    start: float
    end: float
    link: str
    before: str
    said: str
    after: str
    move: str
    line: str
    kind: str
    confidence: float
    note: str
    fen: str
    white: str
    black: str
    event: str
    date: str
    eco: str
    opening: str


class Writer:
    """Writes answers out, having read all they need of their talks at once."""

    def __init__(self, connection: sa.Connection) -> None:
        self.connection = connection

    @staticmethod
    def spoken(connection: sa.Connection, node: int) -> list[MomentRow]:
        """All moments of a node."""
        query = sa.select(t.moment).where(t.moment.c.node_id == node).order_by(t.moment.c.number)
        return [MomentRow(*row) for row in connection.execute(query)]

    def moments(self, found: Iterable[tuple[NodeRow, list[MomentRow]]], limit: int) -> list[Moment]:
        """One answer for each moment, up to a number."""
        chosen: list[tuple[NodeRow, MomentRow, bool]] = []
        for row, moments in found:
            chosen += [(row, moment, False) for moment in moments] or [(row, self._unspoken(row), True)]
            if len(chosen) >= limit:
                break
        del chosen[limit:]
        games = [(t.talk_of(row.id), row.game) for row, _, _ in chosen]
        spans = [(t.talk_of(row.id), at.first_word, at.first_word + at.words) for row, at, _ in chosen]
        self._read(games, spans)
        return [self._moment(row, moment, unspoken) for row, moment, unspoken in chosen]

    def passages(self, rows: Sequence[tuple[Any, ...]]) -> list[Moment]:
        """One answer for each passage, a row as the table has it."""
        games = [(t.talk_of(row[0]), row[1]) for row in rows]
        self._read(games, [(t.talk_of(row[0]), row[2], row[2] + row[4]) for row in rows])
        answers = []
        for number, game, first, _, heard, _ in rows:
            talk = t.talk_of(number)
            words = self._words[talk]
            start, end = words.span(first, first + heard)
            parts = words.around(first, first + heard, _MARGIN)
            answers.append(self._answer(talk, game, start, end, parts, "", "", "words", 1.0, "", ""))
        return answers

    def _read(self, games: Sequence[tuple[int, int]], spans: Sequence[tuple[int, int, int]]) -> None:
        talks = sorted({talk for talk, _ in games})
        columns = t.talk.c
        query = sa.select(columns.id, columns.name, columns.title, columns.captions, columns.url)
        rows = self.connection.execute(query.where(columns.id.in_(talks)))
        self._talks = {number: (name, title or captions, url or "") for number, name, title, captions, url in rows}
        needed = {(talk, part) for talk, first, past in spans for part in parts_of(first - _MARGIN, past + _MARGIN)}
        parts = t.talk_words.c
        # SQLite reads the whole table for pairs in a list, and only what is asked for by two lists
        numbers = sorted({part for _, part in needed})
        blocks = sa.select(t.talk_words).where(parts.talk_id.in_(talks), parts.part.in_(numbers))
        found: dict[int, dict[int, Block]] = {talk: {} for talk in talks}
        for talk, part, block in self.connection.execute(blocks):
            if (talk, part) in needed:
                found[talk][part] = unpack(block)
        self._words = {talk: TalkWords(own) for talk, own in found.items()}
        names = ("id", "white", "black", "event", "date", "eco", "opening", "first_number")
        headers = sa.select(*(t.game.c[name] for name in names))
        ids = sorted({talk * 64 + place for talk, place in games})
        rows = self.connection.execute(headers.where(t.game.c.id.in_(ids)))
        self._games = {row[0]: tuple(row[1:]) for row in rows}

    def _moment(self, row: NodeRow, moment: MomentRow, unspoken: bool) -> Moment:
        talk = t.talk_of(row.id)
        start, end = moment.start / 1000, (moment.start + moment.length) / 1000
        parts = self._words[talk].around(moment.first_word, moment.first_word + moment.words, _MARGIN)
        kind = "unspoken" if unspoken else t.KINDS[moment.kind]
        note = self._note(talk, moment.start) if kind in ("slip", "statement") else ""
        move = _numbered(row, self._games[talk * 64 + row.game][6]) if row.san else ""
        fen = Position(row.placement, row.state).fen()
        line = LINES[row.line & 3]
        return self._answer(
            talk, row.game, start, end, parts, move, line, kind, moment.confidence / 100, note, fen
        )  # fmt: skip

    def _answer(
        self, talk: int, game: int, start: float, end: float, parts: tuple[str, str, str], move: str, line: str,
        kind: str, confidence: float, note: str, fen: str,
    ) -> Moment:  # fmt: skip
        name, title, url = self._talks[talk]
        white, black, event, date, eco, opening, _ = self._games[talk * 64 + game]
        link = f"{url}#t={start:.3f},{max(end, start + 0.001):.3f}" if url else ""
        return Moment(
            name, title, start, end, link, *parts, move, line, kind, confidence, note, fen, white, black, event, date,
            eco, opening,
        )  # fmt: skip

    def _unspoken(self, row: NodeRow) -> MomentRow:
        """The moment nearest to a move that nobody spoke of: of the last spoken one before it on its line."""
        talk, place = t.talk_of(row.id), t.ordinal_of(row.id)
        column = t.node.c.id
        spoken = range(t.LEVELS - 1)
        ranges = [column.between(t.ranked_id(level, talk, 0), t.ranked_id(level, talk, place)) for level in spoken]
        query = sa.select(column, t.node.c.below).where(sa.or_(*ranges))
        above = [node for node, below in self.connection.execute(query) if t.ordinal_of(node) + below >= place]
        if above:
            nearest = max(above, key=t.ordinal_of)
            moment = t.moment.c
            spoken_at = sa.select(t.moment).where(moment.node_id == nearest).order_by(moment.number).limit(1)
            first = self.connection.execute(spoken_at).first()
            if first is not None:
                return MomentRow(*first)
        return MomentRow(row.id, 0, 0, 0, 0, 0, 0, 0, -1)

    def _note(self, talk: int, start: int) -> str:
        columns = t.finding.c
        query = sa.select(columns.message).where(columns.talk_id == talk, columns.start == start).limit(1)
        return str(self.connection.execute(query).scalar() or "")


def _numbered(row: NodeRow, first: int) -> str:
    """The move with its number; the position after it tells who made it.

    Args:
        first: number of the start position's next move.
    """
    by_black = bool(row.state & 1)
    black_began = by_black == (row.ply % 2 == 1)
    number = first + (row.ply - 1 + black_began) // 2
    return f"{number}{'...' if by_black else '.'} {row.san}"

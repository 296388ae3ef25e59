"""The catalogue as a store: talks go in, are replaced, taken out, listed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from types import TracebackType
from typing import Any

import sqlalchemy as sa

from aligner.catalogue import tables as t
from aligner.catalogue.connection import WAIT, default_address, open_engine, shown
from aligner.catalogue.faults import CatalogueError, told
from aligner.catalogue.fulltext import FullText
from aligner.catalogue.migrations import check_version, migrate, version_of
from aligner.catalogue.prepare import TalkRows, prepare, raised
from aligner.catalogue.searched import searched
from aligner.catalogue.words import fold
from aligner.record.model import Record

_BATCH = 15_000
"""Mentions in one transaction: so many that a commit costs little, so few that they fit in memory."""


@dataclass(frozen=True, slots=True)
class Talk:
    """A talk in the catalogue.

    Attributes:
        id: number in this catalogue.
        name: under which it was added, usually the record's path; the same name again replaces it.
        captions: file name of the captions.
        fingerprint: SHA-256 of the captions.
        title: where known.
        url: of the recording, where known.
        seconds: length.
        words: number.
        mentions: number.
    """

    id: int
    name: str
    captions: str
    fingerprint: str
    title: str | None
    url: str | None
    seconds: float
    words: int
    mentions: int


@dataclass(frozen=True, slots=True)
class Added:
    """A talk that is now in the catalogue for good.

    Attributes:
        name: of the talk.
        mentions: in it.
        replaced: whether it was there before.
    """

    name: str
    mentions: int
    replaced: bool


@dataclass(frozen=True, slots=True)
class Catalogue:
    """An open catalogue; close it, or use it in a `with` statement.

    Attributes:
        address: its file or server, as it may be printed.
        engine: SQLAlchemy's.
        fulltext: its full-text index.
    """

    address: str
    engine: sa.Engine
    fulltext: FullText

    def __enter__(self) -> Catalogue:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Gives back all connections."""
        self.engine.dispose()

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A connection in one transaction that sees one state of the catalogue.

        Raises:
            CatalogueError: the database refuses.
        """
        with told(self.address), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """A connection in one transaction, committed at the end, undone where an error is raised.

        Raises:
            CatalogueError: the database refuses.
        """
        options = {"writing": True}
        with told(self.address), self.engine.connect().execution_options(**options) as connection, connection.begin():
            if connection.dialect.name == "postgresql":
                # one writer at a time, as in SQLite; readers go on
                connection.exec_driver_sql("LOCK TABLE about IN SHARE ROW EXCLUSIVE MODE")
            yield connection

    def add(self, record: Record, name: str) -> Added:
        """Adds a talk, or puts it in the place of the one of that name.

        Raises:
            CatalogueError: the database refuses; the catalogue is as it was.
            RecordError: the record is damaged.
        """
        return next(iter(self.add_rows([(name, prepare(record, name))])))

    def add_rows(self, talks: Iterable[tuple[str, TalkRows]]) -> Iterator[Added]:
        """Adds many prepared talks, a batch a transaction; each is told once it is safe.

        Raises:
            CatalogueError: the database refuses; what was told is safe, nothing else is there.
        """
        batch: dict[str, TalkRows] = {}
        mentions = 0
        for name, rows in talks:
            batch[name] = rows
            mentions += rows.talk[6]
            if mentions >= _BATCH:
                yield from self._write(batch)
                batch, mentions = {}, 0
        if batch:
            yield from self._write(batch)

    def remove(self, names: Sequence[str]) -> tuple[str, ...]:
        """Takes talks out; returns the names that were there.

        Raises:
            CatalogueError: the database refuses.
        """
        with self.writing() as connection:
            known = _known(connection, names)
            for number in known.values():
                _take_out(connection, self.fulltext, number)
            _forget_names(connection)
        return tuple(name for name in names if name in known)

    def talks(self) -> tuple[Talk, ...]:
        """All talks, in order of name.

        Raises:
            CatalogueError: the database refuses.
        """
        columns = [t.talk.c[name] for name in Talk.__slots__]
        with self.reading() as connection:
            return tuple(Talk(*row) for row in connection.execute(sa.select(*columns).order_by(t.talk.c.name)))

    def _write(self, batch: Mapping[str, TalkRows]) -> list[Added]:
        with self.writing() as connection:
            known = _known(connection, list(batch))
            highest = connection.execute(sa.select(sa.func.max(t.talk.c.id))).scalar() or 0
            numbered: list[tuple[int, str, TalkRows]] = []
            for name, rows in batch.items():
                if name in known:
                    _take_out(connection, self.fulltext, known[name])
                    number = known[name]
                else:
                    highest += 1
                    number = highest
                if number >= t.MOST_TALKS:
                    what = f"a catalogue holds {t.MOST_TALKS - 1} talks; begin another one."
                    raise CatalogueError(what, self.address)
                numbered.append((number, name, raised(rows, number)))
            _put_in(connection, self.fulltext, numbered)
            if known:
                _forget_names(connection)
        return [Added(name, rows.talk[6], name in known) for name, rows in batch.items()]


def open_catalogue(address: str | None = None, *, make: bool = False, wait: float = WAIT) -> Catalogue:
    """Opens a catalogue, and brings its schema up to date.

    Args:
        address: a file, or `postgresql://user@host/database`; None for the user's own.
        make: make it where it is missing.
        wait: seconds to wait for another program that writes.

    Raises:
        CatalogueError: there is none, it is damaged, or from a newer program.
    """
    address = address or default_address()
    where = shown(address)
    engine, fulltext = open_engine(address, make=make, wait=wait)
    try:
        with told(where), engine.connect() as connection:
            with connection.begin():
                version = version_of(connection)
            check_version(version)
            if version == 0 and not make:
                raise CatalogueError("the catalogue is empty; add talks with `aligner catalogue add`.")
            if version != t.VERSION:
                migrate(connection.execution_options(writing=True), fulltext)
    except BaseException:
        engine.dispose()
        raise
    return Catalogue(where, engine, fulltext)


def _known(connection: sa.Connection, names: Sequence[str]) -> dict[str, int]:
    found: dict[str, int] = {}
    for start in range(0, len(names), 500):
        query = sa.select(t.talk.c.name, t.talk.c.id).where(t.talk.c.name.in_(names[start : start + 500]))
        found.update((name, number) for name, number in connection.execute(query))
    return found


def _take_out(connection: sa.Connection, fulltext: FullText, number: int) -> None:
    boards = sa.select(*(t.node.c[name] for name in ("id", "placement", "state", "move", "line")))
    nodes = sorted(
        (row[0], row[1], row[2], row[3], row[4])
        for row in connection.execute(boards.where(t.talk_range(t.node.c.id, number)))
    )
    fulltext.remove(connection, searched(connection, number), nodes)
    connection.execute(sa.delete(t.moment).where(t.talk_range(t.moment.c.node_id, number)))
    connection.execute(sa.delete(t.node).where(t.talk_range(t.node.c.id, number)))
    connection.execute(sa.delete(t.passage).where(t.talk_range(t.passage.c.id, number)))
    connection.execute(sa.delete(t.talk).where(t.talk.c.id == number))


def _forget_names(connection: sa.Connection) -> None:
    """Names that no game has any more."""
    used = sa.select(t.game_name.c.game_id).where(t.game_name.c.name_id == t.name.c.id).exists()
    connection.execute(sa.delete(t.name).where(sa.not_(used)))


def _put_in(connection: sa.Connection, fulltext: FullText, talks: Sequence[tuple[int, str, TalkRows]]) -> None:
    _insert(connection, t.talk, [(number, name, *rows.talk) for number, name, rows in talks])
    blocks = [(number, part, block) for number, _, rows in talks for part, block in enumerate(rows.blocks)]
    _insert(connection, t.talk_words, blocks)
    _put_games(connection, talks)
    nodes = sorted(row for _, _, rows in talks for row in rows.nodes)
    _insert(connection, t.node, nodes)
    _insert(connection, t.moment, sorted(row for _, _, rows in talks for row in rows.moments))
    _insert(connection, t.finding, [(number, *row) for number, _, rows in talks for row in rows.findings])
    passages = sorted(told for _, _, rows in talks for told in zip(rows.passages, rows.texts, rows.told, strict=True))
    _insert(connection, t.passage, [row for row, _, _ in passages])
    boards = [(row[0], row[2], row[3], row[4], row[9]) for row in nodes]
    fulltext.add(connection, [(row[0], text, moves) for row, text, moves in passages], boards)


def _put_games(connection: sa.Connection, talks: Sequence[tuple[int, str, TalkRows]]) -> None:
    rows: list[tuple[Any, ...]] = []
    named: set[tuple[str, str, int]] = set()
    for number, _, talk in talks:
        for place, game in enumerate(talk.games):
            rows.append(
                (number * 64 + place, number, game.white, game.black, game.event, game.date, game.eco, game.opening,
                 game.first_number)
            )  # fmt: skip
            for role, name in (
                ("player", game.white), ("player", game.black), ("event", game.event), ("opening", game.opening)
            ):  # fmt: skip
                if fold(name):
                    named.add((role, fold(name), number * 64 + place))
    _insert(connection, t.game, rows)
    wanted = {name[:2] for name in named}
    ids: dict[tuple[str, str], int] = {}
    for role in ("player", "event", "opening"):
        names = [folded for own, folded in wanted if own == role]
        for start in range(0, len(names), 500):
            part = names[start : start + 500]
            query = sa.select(t.name.c.id, t.name.c.folded).where(t.name.c.role == role, t.name.c.folded.in_(part))
            ids.update({(role, folded): number for number, folded in connection.execute(query)})
    new = sorted(wanted - ids.keys())
    if new:
        highest = connection.execute(sa.select(sa.func.max(t.name.c.id))).scalar() or 0
        ids.update({pair: highest + 1 + place for place, pair in enumerate(new)})
        _insert(connection, t.name, [(ids[pair], *pair) for pair in new])
    _insert(connection, t.game_name, sorted((ids[role, folded], game) for role, folded, game in named))


def _insert(connection: sa.Connection, table: sa.Table, rows: Sequence[tuple[Any, ...]]) -> None:
    if not rows:
        return
    if connection.dialect.name == "sqlite":
        # the driver takes rows as they are: three times as fast as by way of named parameters
        statement = str(sa.insert(table).compile(dialect=connection.dialect))
        connection.exec_driver_sql(statement, list(rows))
        return
    names = [column.name for column in table.columns]
    connection.execute(sa.insert(table), [dict(zip(names, row, strict=True)) for row in rows])

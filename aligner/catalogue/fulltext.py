"""The two full-text indexes, in SQLite's FTS5 and PostgreSQL's tsvector and arrays: words of passages, terms of nodes.

Both stem by Porter's algorithm and drop no word. FTS5's `porter` tokeniser does so itself and has no stop words (SQLite
documentation, FTS5, 4.3.3); PostgreSQL's dictionaries stem otherwise, so it is given stems, and its `simple`
configuration keeps every word (PostgreSQL documentation, 12.6.2).
Questions are bound as parameters, their words quoted, so that nothing in them is syntax.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from functools import lru_cache
from typing import Any, Protocol

import sqlalchemy as sa
from sqlalchemy.dialects.postgresql import TSVECTOR

from aligner.catalogue.positions import (
    FIRST_POSITION,
    absent_terms,
    kind_term,
    move_term,
    position_key,
    position_term,
    rank_terms,
    ranks,
    terms,
)
from aligner.catalogue.stemming import stemmed
from aligner.catalogue.words import WordQuery

AnyOf = tuple[int, ...]
"""Terms of which a node must have one."""

_DIGITS = "0123456789abcdefghijklmnopqrstuvwxyz"
_TOKENS = [_DIGITS[number // 36] + _DIGITS[number % 36] for number in range(FIRST_POSITION)]


def _token(term: int) -> str:
    if term < FIRST_POSITION:
        return _TOKENS[term]
    bucket, last = divmod(term - FIRST_POSITION, 36)
    return _TOKENS[bucket] + _DIGITS[last]


Board = tuple[int, bytes, int, int | None, int]
"""Id, placement, state, move and line of a node."""


def node_terms(board: Board) -> list[int]:
    """All terms of a node: of its placement, its position, the move that leads to it, and what is said there."""
    _, placement, state, move, line = board
    return [*terms(placement), position_term(position_key(placement, state)), *_told_terms(move, line)]


def _told_terms(move: int | None, line: int) -> list[int]:
    found = [kind_term(line & 3)]
    if move is not None:
        found.append(move_term(move))
    if line & 4:
        found.append(kind_term(4))
    return found


class FullText(Protocol):
    """What the catalogue asks of a full-text index."""

    def create(self, connection: sa.Connection) -> None:
        """Makes the indexes."""

    def add(
        self,
        connection: sa.Connection,
        passages: Sequence[tuple[int, str]],
        boards: Sequence[Board],
    ) -> None:
        """Adds passages (id, folded text) and nodes, both in order of id."""

    def remove(self, connection: sa.Connection, passages: Sequence[tuple[int, str]], boards: Sequence[Board]) -> None:
        """Takes out what was added so."""

    def passages(self, query: WordQuery, after: int, among: Collection[int] | None) -> sa.Select[Any]:
        """Ids above `after`, in order, of passages that have the words; where given, only those `among` some ids."""

    def nodes(self, required: Sequence[AnyOf], after: int) -> sa.Select[Any]:
        """Ids above `after`, in order, of nodes that have one of each of the terms."""

    def damaged(self, connection: sa.Connection) -> str:
        """What is wrong with the indexes by themselves, "" for nothing."""


class SqliteFullText:
    """FTS5 tables that keep no text of their own."""

    def create(self, connection: sa.Connection) -> None:
        connection.exec_driver_sql(
            "CREATE VIRTUAL TABLE passage_words USING fts5(text, content='', columnsize=0, "
            "tokenize='porter unicode61 remove_diacritics 2')"
        )
        connection.exec_driver_sql(
            "CREATE VIRTUAL TABLE node_terms USING fts5(terms, content='', columnsize=0, detail=none, tokenize='ascii')"
        )

    def add(
        self,
        connection: sa.Connection,
        passages: Sequence[tuple[int, str]],
        boards: Sequence[Board],
    ) -> None:
        if passages:
            connection.exec_driver_sql("INSERT INTO passage_words(rowid, text) VALUES (?, ?)", list(passages))
        if boards:
            rows = [(board[0], _text(board)) for board in boards]
            connection.exec_driver_sql("INSERT INTO node_terms(rowid, terms) VALUES (?, ?)", rows)

    def remove(self, connection: sa.Connection, passages: Sequence[tuple[int, str]], boards: Sequence[Board]) -> None:
        # without a text of its own the index has to be told again what it was given (FTS5, 6.4)
        if passages:
            connection.exec_driver_sql(
                "INSERT INTO passage_words(passage_words, rowid, text) VALUES ('delete', ?, ?)", list(passages)
            )
        if boards:
            connection.exec_driver_sql(
                "INSERT INTO node_terms(node_terms, rowid, terms) VALUES ('delete', ?, ?)",
                [(board[0], _text(board)) for board in boards],
            )

    def passages(self, query: WordQuery, after: int, among: Collection[int] | None) -> sa.Select[Any]:
        # an FTS5 string in double quotes is only words (FTS5, 3.1); folding has left no quote in it
        wanted = " AND ".join(f'"{phrase}"' for phrase in query.wanted)
        unwanted = " OR ".join(f'"{phrase}"' for phrase in query.unwanted)
        match = f"({wanted}) NOT ({unwanted})" if unwanted else wanted
        return _matches("passage_words", match, after, among)

    def nodes(self, required: Sequence[AnyOf], after: int) -> sa.Select[Any]:
        match = " AND ".join(f"({' OR '.join(map(_token, group))})" for group in required)
        return _matches("node_terms", match, after, None)

    def damaged(self, connection: sa.Connection) -> str:
        try:
            for table in ("passage_words", "node_terms"):
                connection.exec_driver_sql(f"INSERT INTO {table}({table}) VALUES ('integrity-check')")
        except sa.exc.DatabaseError as error:
            return f"the full-text index is damaged ({error.orig})"
        return ""


def _text(board: Board) -> str:
    """The terms of a node as FTS5 is given them: two or three letters or digits each."""
    _, placement, state, move, line = board
    found = [_token(position_term(position_key(placement, state))), _told_text(move, line)]
    present = 0
    for rank in ranks(placement):
        text, kinds = _rank_text(*rank)
        found.append(text)
        present |= kinds
    found.append(_absent_text(present))
    return " ".join(found)


@lru_cache(maxsize=1 << 16)
def _rank_text(first: int, occupied: int, codes: str) -> tuple[str, int]:
    own, kinds = rank_terms(first, occupied, codes)
    return _tokens(own), kinds


@lru_cache(maxsize=1 << 12)
def _absent_text(present: int) -> str:
    return _tokens(absent_terms(present))


@lru_cache(maxsize=1 << 12)
def _told_text(move: int | None, line: int) -> str:
    return _tokens(_told_terms(move, line))


def _tokens(terms: Iterable[int]) -> str:
    return " ".join(map(_token, terms)).strip()


def _matches(table: str, match: str, after: int, among: Collection[int] | None) -> sa.Select[Any]:
    rowid: sa.ColumnClause[int] = sa.literal_column(f"{table}.rowid", sa.Integer)
    query = (
        sa.select(rowid.label("id"))
        .select_from(sa.text(table))
        .where(sa.text(f"{table} MATCH :match").bindparams(match=match))
    )
    query = query.where(rowid > after) if among is None else query.where(rowid.in_(list(among)))
    return query.order_by(rowid)


class PostgresFullText:
    """Tables with a tsvector and with an array of terms, each with a GIN index."""

    _metadata = sa.MetaData()
    words = sa.Table(
        "passage_words",
        _metadata,
        sa.Column("id", sa.BigInteger, primary_key=True, autoincrement=False),
        sa.Column("words", TSVECTOR, nullable=False),
    )
    terms = sa.Table(
        "node_terms",
        _metadata,
        sa.Column("id", sa.BigInteger, primary_key=True, autoincrement=False),
        sa.Column("terms", sa.ARRAY(sa.Integer), nullable=False),
    )
    sa.Index("passage_words_gin", words.c.words, postgresql_using="gin")
    sa.Index("node_terms_gin", terms.c.terms, postgresql_using="gin")

    def create(self, connection: sa.Connection) -> None:
        self._metadata.create_all(connection)

    def add(
        self,
        connection: sa.Connection,
        passages: Sequence[tuple[int, str]],
        boards: Sequence[Board],
    ) -> None:
        if passages:
            statement = sa.insert(self.words).values(
                id=sa.bindparam("id"), words=sa.text("to_tsvector('simple', :words)")
            )
            connection.execute(statement, [{"id": number, "words": stemmed(text)} for number, text in passages])
        if boards:
            rows = [{"id": board[0], "terms": node_terms(board)} for board in boards]
            connection.execute(sa.insert(self.terms), rows)

    def remove(self, connection: sa.Connection, passages: Sequence[tuple[int, str]], boards: Sequence[Board]) -> None:
        for table, ids in ((self.words, [row[0] for row in passages]), (self.terms, [row[0] for row in boards])):
            connection.execute(sa.delete(table).where(table.c.id.in_(ids)))

    def passages(self, query: WordQuery, after: int, among: Collection[int] | None) -> sa.Select[Any]:
        column = self.words.c
        found = sa.select(column.id).order_by(column.id)
        for phrase in query.wanted:
            found = found.where(column.words.bool_op("@@")(sa.func.phraseto_tsquery("simple", stemmed(phrase))))
        for phrase in query.unwanted:
            found = found.where(
                sa.not_(column.words.bool_op("@@")(sa.func.phraseto_tsquery("simple", stemmed(phrase))))
            )
        return found.where(column.id > after) if among is None else found.where(column.id.in_(list(among)))

    def nodes(self, required: Sequence[AnyOf], after: int) -> sa.Select[Any]:
        column = self.terms.c
        found = sa.select(column.id).where(column.id > after).order_by(column.id)
        for group in required:
            wanted = sa.cast(list(group), sa.ARRAY(sa.Integer))
            found = found.where(column.terms.bool_op("&&")(wanted))
        return found

    def damaged(self, connection: sa.Connection) -> str:
        return ""

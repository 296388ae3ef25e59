"""The two full-text indexes, in SQLite's FTS5 and PostgreSQL's tsvector and arrays: words of passages, terms of nodes.

With a passage's words stand the moves spoken of in it, so that words near a move are found without a look at every
place where the words or the move are told.

Both stem by Porter's algorithm and drop no word. FTS5's `porter` tokeniser does so itself and has no stop words (SQLite
documentation, FTS5, 4.3.3); PostgreSQL's dictionaries stem otherwise, so it is given stems, and its `simple`
configuration keeps every word (PostgreSQL documentation, 12.6.2).
Questions are bound as parameters, their words quoted, so that nothing in them is syntax.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Sequence
from functools import lru_cache
from typing import Any, Protocol

import sqlalchemy as sa
from sqlalchemy.dialects.postgresql import TSQUERY, TSVECTOR

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
from aligner.catalogue.tables import MOST_NODES, talk_in
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

Searched = tuple[int, str, Sequence[int]]
"""Id of a passage, its folded text, and the moves spoken of in it (`positions.move_code`), each once."""


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

    def forget_passages(self, connection: sa.Connection) -> None:
        """Makes the index of passages anew, with nothing in it."""

    def add(
        self,
        connection: sa.Connection,
        passages: Sequence[Searched],
        boards: Sequence[Board],
    ) -> None:
        """Adds passages and nodes, both in order of id."""

    def remove(self, connection: sa.Connection, passages: Sequence[Searched], boards: Sequence[Board]) -> None:
        """Takes out what was added so."""

    def passages(
        self, query: WordQuery, moves: Sequence[int], after: int, talks: Collection[int] | None = None
    ) -> sa.Select[Any]:
        """Ids above `after`, in order, of passages that have the words and, where moves are given, one of these.

        Where talks are given, only passages of these; all that have the words are gone through, but not handed out.
        """

    def heard(self, query: WordQuery, ids: Collection[int]) -> sa.Select[Any]:
        """Of some passages the ids of those that have the words, and perhaps of more passages of the same talks."""

    def nodes(self, required: Sequence[AnyOf], after: int, talks: Collection[int] | None = None) -> sa.Select[Any]:
        """Ids above `after`, in order, of nodes that have one of each of the terms; `talks` as for passages."""

    def damaged(self, connection: sa.Connection) -> str:
        """What is wrong with the indexes by themselves, "" for nothing."""


class SqliteFullText:
    """FTS5 tables that keep no text of their own."""

    def create(self, connection: sa.Connection) -> None:
        self._create_words(connection)
        connection.exec_driver_sql(
            "CREATE VIRTUAL TABLE node_terms USING fts5(terms, content='', columnsize=0, detail=none, tokenize='ascii')"
        )

    def forget_passages(self, connection: sa.Connection) -> None:
        connection.exec_driver_sql("DROP TABLE passage_words")
        self._create_words(connection)

    def _create_words(self, connection: sa.Connection) -> None:
        connection.exec_driver_sql(
            "CREATE VIRTUAL TABLE passage_words USING fts5(text, moves, content='', columnsize=0, "
            "tokenize='porter unicode61 remove_diacritics 2')"
        )

    def add(
        self,
        connection: sa.Connection,
        passages: Sequence[Searched],
        boards: Sequence[Board],
    ) -> None:
        if passages:
            rows = [(number, text, _move_tokens(moves)) for number, text, moves in passages]
            connection.exec_driver_sql("INSERT INTO passage_words(rowid, text, moves) VALUES (?, ?, ?)", rows)
        if boards:
            terms_of = [(board[0], _text(board)) for board in boards]
            connection.exec_driver_sql("INSERT INTO node_terms(rowid, terms) VALUES (?, ?)", terms_of)

    def remove(self, connection: sa.Connection, passages: Sequence[Searched], boards: Sequence[Board]) -> None:
        # without a text of its own the index has to be told again what it was given (FTS5, 6.4)
        if passages:
            connection.exec_driver_sql(
                "INSERT INTO passage_words(passage_words, rowid, text, moves) VALUES ('delete', ?, ?, ?)",
                [(number, text, _move_tokens(moves)) for number, text, moves in passages],
            )
        if boards:
            connection.exec_driver_sql(
                "INSERT INTO node_terms(node_terms, rowid, terms) VALUES ('delete', ?, ?)",
                [(board[0], _text(board)) for board in boards],
            )

    def passages(
        self, query: WordQuery, moves: Sequence[int], after: int, talks: Collection[int] | None = None
    ) -> sa.Select[Any]:
        match = _words_match(query)
        if moves:
            match += f" AND moves : ({' OR '.join(_token(move_term(code)) for code in moves)})"
        return _above(_matches("passage_words", match), after, talks)

    def heard(self, query: WordQuery, ids: Collection[int]) -> sa.Select[Any]:
        firsts = sorted({number // MOST_NODES * MOST_NODES for number in ids})
        if len(firsts) <= _LOOKED_UP:
            # a search for each level of each talk
            each = sa.text("json_each(:firsts) AS first CROSS JOIN passage_words").bindparams(firsts=json.dumps(firsts))
            first: sa.ColumnClause[int] = sa.literal_column("first.value", sa.Integer)
            row: sa.ColumnClause[int] = sa.literal_column("passage_words.rowid", sa.Integer)
            match = sa.text("passage_words MATCH :match").bindparams(match=_words_match(query))
            return sa.select(row).select_from(each).where(match, row.between(first, first + (MOST_NODES - 1)))
        # with a sign before it SQLite goes through the words' passages and looks none up by itself
        found = _matches("passage_words", _words_match(query))
        return found.where(_ROW.between(min(ids), max(ids)), sa.literal_column("+rowid").in_(_listed(ids)))

    def nodes(self, required: Sequence[AnyOf], after: int, talks: Collection[int] | None = None) -> sa.Select[Any]:
        match = " AND ".join(f"({' OR '.join(map(_token, group))})" for group in required)
        return _above(_matches("node_terms", match), after, talks)

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


def _move_tokens(moves: Iterable[int]) -> str:
    return _tokens(map(move_term, moves))


_LOOKED_UP = 50
"""Levels of talks in which words are looked for one by one; for more, all places of the words are gone through."""

_ROW: sa.ColumnClause[int] = sa.literal_column("rowid", sa.Integer)


def _words_match(query: WordQuery) -> str:
    # an FTS5 string in double quotes is only words (FTS5, 3.1); folding has left no quote in it
    wanted = " AND ".join(f'"{phrase}"' for phrase in query.wanted)
    unwanted = " OR ".join(f'"{phrase}"' for phrase in query.unwanted)
    return f"text : (({wanted}) NOT ({unwanted}))" if unwanted else f"text : ({wanted})"


def _matches(table: str, match: str) -> sa.Select[Any]:
    query = sa.select(_ROW.label("id")).select_from(sa.text(table))
    return query.where(sa.text(f"{table} MATCH :match").bindparams(match=match)).order_by(_ROW)


def _above(query: sa.Select[Any], after: int, talks: Collection[int] | None) -> sa.Select[Any]:
    query = query.where(after < _ROW)
    return query if talks is None else query.where(talk_in(_ROW).in_(_listed(talks)))


def _listed(ids: Collection[int]) -> sa.Select[Any]:
    """The ids as a table: as a list of parameters they take longer to send than to look for."""
    each = sa.func.json_each(json.dumps(sorted(ids))).table_valued("value")
    return sa.select(each.c.value)


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

    def forget_passages(self, connection: sa.Connection) -> None:
        connection.execute(sa.delete(self.words))

    def add(
        self,
        connection: sa.Connection,
        passages: Sequence[Searched],
        boards: Sequence[Board],
    ) -> None:
        if passages:
            # signs that no folded word has keep moves and words apart
            told = sa.text("to_tsvector('simple', :words) || array_to_tsvector(CAST(:moves AS text[]))")
            statement = sa.insert(self.words).values(id=sa.bindparam("id"), words=told)
            connection.execute(
                statement,
                [
                    {"id": number, "words": stemmed(text), "moves": [f"#{code}" for code in moves]}
                    for number, text, moves in passages
                ],
            )
        if boards:
            rows = [{"id": board[0], "terms": node_terms(board)} for board in boards]
            connection.execute(sa.insert(self.terms), rows)

    def remove(self, connection: sa.Connection, passages: Sequence[Searched], boards: Sequence[Board]) -> None:
        for table, ids in ((self.words, [row[0] for row in passages]), (self.terms, [row[0] for row in boards])):
            connection.execute(sa.delete(table).where(table.c.id.in_(ids)))

    def passages(
        self, query: WordQuery, moves: Sequence[int], after: int, talks: Collection[int] | None = None
    ) -> sa.Select[Any]:
        found = self._with_words(query)
        if moves:
            any_of = " | ".join(f"'#{code}'" for code in moves)
            found = found.where(self.words.c.words.bool_op("@@")(sa.cast(any_of, TSQUERY)))
        return _higher(found, self.words.c.id, after, talks)

    def heard(self, query: WordQuery, ids: Collection[int]) -> sa.Select[Any]:
        return self._with_words(query).where(self.words.c.id.in_(list(ids)))

    def nodes(self, required: Sequence[AnyOf], after: int, talks: Collection[int] | None = None) -> sa.Select[Any]:
        column = self.terms.c
        found = sa.select(column.id).order_by(column.id)
        for group in required:
            wanted = sa.cast(list(group), sa.ARRAY(sa.Integer))
            found = found.where(column.terms.bool_op("&&")(wanted))
        return _higher(found, column.id, after, talks)

    def _with_words(self, query: WordQuery) -> sa.Select[Any]:
        column = self.words.c
        found = sa.select(column.id).order_by(column.id)
        for phrase in query.wanted:
            found = found.where(column.words.bool_op("@@")(sa.func.phraseto_tsquery("simple", stemmed(phrase))))
        for phrase in query.unwanted:
            found = found.where(
                sa.not_(column.words.bool_op("@@")(sa.func.phraseto_tsquery("simple", stemmed(phrase))))
            )
        return found

    def damaged(self, connection: sa.Connection) -> str:
        return ""


def _higher(
    query: sa.Select[Any], column: sa.ColumnElement[int], after: int, talks: Collection[int] | None
) -> sa.Select[Any]:
    query = query.where(column > after)
    if talks is None:
        return query
    return query.where(talk_in(column) == sa.any_(sa.cast(sorted(talks), sa.ARRAY(sa.BigInteger))))

"""Reading from the catalogue: ids in order, in parts that grow, and nodes by their ids."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any, NamedTuple

import sqlalchemy as sa

from aligner.catalogue import tables as t

FIRST_PART, _LATER_PART, _GROWTH = 40, 1024, 4
"""Ids that are read at first and at most, and how many times more with each step; most questions want 20 answers."""

Query = Callable[[int], sa.Select[Any]]
"""From an id, the ids above it, in order."""


class NodeRow(NamedTuple):
    """A node as the table has it."""

    id: int
    game: int
    placement: bytes
    state: int
    move: int | None
    origin: int
    san: str
    ply: int
    below: int
    line: int

    @property
    def game_id(self) -> int:
        """Id of its game."""
        return t.talk_of(self.id) * 64 + self.game


def stream(connection: sa.Connection, query: Query, after: int = -1) -> Iterator[int]:
    """Ids in order, read in parts that grow."""
    return (row[0] for row in _in_parts(connection, query, after))


def stream_passages(connection: sa.Connection, query: Query) -> Iterator[Sequence[Any]]:
    """Passages in order: their ids, and the packed nodes that are spoken of in them."""
    columns = t.passage.c

    def with_nodes(some: sa.Select[Any]) -> sa.Select[Any]:
        ids = some.subquery()
        joined = ids.join(t.passage, columns.id == ids.c.id)
        return sa.select(columns.id, columns.nodes).select_from(joined).order_by(columns.id)

    return _in_parts(connection, query, -1, with_nodes)


def _in_parts(
    connection: sa.Connection,
    query: Query,
    after: int,
    more: Callable[[sa.Select[Any]], sa.Select[Any]] = lambda some: some,
) -> Iterator[Sequence[Any]]:
    part = FIRST_PART
    while True:
        rows = connection.execute(more(query(after).limit(part))).all()
        yield from rows
        if len(rows) < part:
            return
        after, part = rows[-1][0], min(_GROWTH * part, _LATER_PART)


def count(connection: sa.Connection, query: sa.Select[Any], most: int) -> int:
    """How many ids there are, up to a bound."""
    few = query.limit(most + 1).subquery()
    return int(connection.execute(sa.select(sa.func.count()).select_from(few)).scalar_one())


def fetch(
    connection: sa.Connection, ids: Sequence[int], conditions: Sequence[sa.ColumnElement[bool]] = ()
) -> list[NodeRow]:
    """Nodes by id, in that order; those that are not there, or do not meet the conditions, are left out."""
    rows = connection.execute(sa.select(t.node).where(t.node.c.id.in_(ids), *conditions)).all()
    found = {row[0]: NodeRow(*row) for row in rows}
    return [found[number] for number in ids if number in found]


def parts(ids: Iterable[int], size: int) -> Iterator[list[int]]:
    """The ids in lists of some size, the first one smaller, so that a quick answer stays quick."""
    part: list[int] = []
    wanted = min(size, FIRST_PART)
    for number in ids:
        part.append(number)
        if len(part) == wanted:
            yield part
            part, wanted = [], min(_GROWTH * wanted, size)
    if part:
        yield part

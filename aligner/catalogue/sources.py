"""Where candidates come from: for each condition of a question a stream of nodes, best first, and a check of one node.

The condition with the fewest nodes is read as a stream, the others only check what it gives, by its id alone where they
can. Streams are read in parts and stop once there are answers enough, so that a question takes no longer because the
archive has grown.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import chain
from typing import Any, NamedTuple

import sqlalchemy as sa

from aligner.catalogue import tables as t
from aligner.catalogue.fulltext import AnyOf, FullText
from aligner.catalogue.patterns import contradictory, holds
from aligner.catalogue.positions import Position, kind_term, move_term, position_term
from aligner.catalogue.prepare import unpack_nodes
from aligner.catalogue.question import Question, game_condition

_ALL = 1_000_000
"""Stands for more nodes than are worth counting: all are gone through until there are answers enough."""
_FIRST_PART, _LATER_PART = 128, 1024
_FEW_TALKS = 300
_WHOLE_TALKS_AT_ONCE, _TALKS_AT_ONCE = 10, 50
_FEW_PASSAGES, _MANY_PASSAGES = 10_000, 20_000
"""So many passages are remembered with their nodes, and so many without."""
_FEW_GAMES = 2000
"""Games that are remembered; of more games, those of the nodes at hand are asked for."""

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


@dataclass(frozen=True, slots=True)
class Source:
    """One condition.

    Attributes:
        name: of the option that sets it.
        count: nodes that have it, up to a bound; the smaller, the better to begin with.
        ids: them, in order of id.
        keep: of some nodes, the ids of those that have it.
        may_be: whether a node with this id may have it, which is known without reading the node; None where it is not.
        passages: all passages with the words, where they are few enough; else None.
    """

    name: str
    count: int
    ids: Callable[[], Iterator[int]]
    keep: Callable[[Sequence[NodeRow]], set[int]]
    may_be: Callable[[int], bool] | None = None
    passages: Callable[[], frozenset[int]] | None = None


def stream(connection: sa.Connection, query: Query, after: int = -1) -> Iterator[int]:
    """Ids in order, read in parts that grow."""
    part = _FIRST_PART
    while True:
        ids = connection.execute(query(after).limit(part)).scalars().all()
        yield from ids
        if len(ids) < part:
            return
        after, part = ids[-1], _LATER_PART


def count(connection: sa.Connection, query: Query, most: int) -> int:
    """How many ids there are, up to a bound."""
    few = query(-1).limit(most + 1).subquery()
    return int(connection.execute(sa.select(sa.func.count()).select_from(few)).scalar_one())


def fetch(connection: sa.Connection, ids: Sequence[int]) -> list[NodeRow]:
    """Nodes by id, in that order; those that are not there are left out."""
    rows = connection.execute(sa.select(t.node).where(t.node.c.id.in_(ids))).all()
    found = {row[0]: NodeRow(*row) for row in rows}
    return [found[number] for number in ids if number in found]


def sources(connection: sa.Connection, fulltext: FullText, question: Question) -> list[Source]:
    """One source for all that the terms of nodes tell, one each for lines, words and headers; the rarest first."""
    found = [_by_terms(connection, fulltext, question)]
    if question.after:
        found.append(_after(connection, fulltext, question, question.after))
    if question.words:
        found.append(_words(connection, fulltext, question))
    if question.about_games:
        found.append(_games(connection, question))
    return sorted(found, key=lambda source: source.count)


_KIND_TERMS = {"game": kind_term(0), "sideline": kind_term(1), "idea": kind_term(2), "erratum": kind_term(4)}
_KIND_LINES = {"game": {0, 4}, "sideline": {1, 5}, "idea": {2, 6}, "erratum": {4, 5, 6}}
"""The values of a node's `line`."""


def _by_terms(connection: sa.Connection, fulltext: FullText, question: Question) -> Source:
    required: list[AnyOf] = []
    move, position, partial = question.move, question.position, question.partial
    if move:
        required.append(tuple(move_term(code) for code in move.codes))
    if position:
        required.append((position_term(position.key),))
    for condition in partial:
        required += condition.terms()
    if question.kinds:
        required.append(tuple(_KIND_TERMS[kind] for kind in question.kinds))

    def holding(row: NodeRow) -> bool:
        return (
            (move is None or move.fits(row.move, row.origin, row.san))
            and (position is None or (row.placement, row.state) == (position.placement, position.state))
            and (not partial or holds(partial, row.placement))
        )

    def keep(rows: Sequence[NodeRow]) -> set[int]:
        return {row.id for row in rows if holding(row)}

    if not required:
        return Source("all", _ALL, lambda: stream(connection, _all_nodes), keep)

    if contradictory(partial):
        return Source("terms", 0, lambda: iter(()), keep, lambda _: False)

    def query(after: int) -> sa.Select[Any]:
        return fulltext.nodes(required, after)

    # to find the nodes with several terms takes long enough to do it only once, and not to count them
    few = connection.execute(query(-1).limit(_FIRST_PART)).scalars().all()
    if len(few) < _FIRST_PART:
        known = frozenset(few)
        return Source("terms", len(few), lambda: iter(few), keep, known.__contains__)

    def ids() -> Iterator[int]:
        return chain(few, stream(connection, query, few[-1]))

    return Source("terms", _likely(connection, few), ids, keep)


def _likely(connection: sa.Connection, first: Sequence[int]) -> int:
    """How many ids there may be, from how far the first ones reach."""
    talks = connection.execute(sa.select(sa.func.max(t.talk.c.id))).scalar() or 1
    reached = (t.level_of(first[-1]) + t.talk_of(first[-1]) / talks) / t.LEVELS
    return round(len(first) / reached)


def _all_nodes(after: int) -> sa.Select[Any]:
    return sa.select(t.node.c.id).where(t.node.c.id > after).order_by(t.node.c.id)


def _after(connection: sa.Connection, fulltext: FullText, question: Question, position: Position) -> Source:
    term = ((position_term(position.key),),)
    columns = t.node.c
    by_talk: dict[int, list[int]] = {}  # nodes that may have the position
    spans: dict[int, list[tuple[int, int]]] = {}  # preorder places of the position and of the last node below it

    def look(talks: Iterable[int]) -> None:
        if not by_talk:
            for node in stream(connection, lambda after: fulltext.nodes(term, after)):
                by_talk.setdefault(t.talk_of(node), []).append(node)
        new = [talk for talk in talks if talk not in spans]
        spans.update((talk, []) for talk in new)
        ids = [node for talk in new for node in by_talk.get(talk, ())]
        for start in range(0, len(ids), 1000):
            query = sa.select(columns.id, columns.below).where(
                columns.id.in_(ids[start : start + 1000]),
                columns.placement == position.placement,
                columns.state == position.state,
            )
            for number, below in connection.execute(query).all():
                spans[t.talk_of(number)].append((t.ordinal_of(number), t.ordinal_of(number) + below))

    def keep(rows: Sequence[NodeRow]) -> set[int]:
        look({t.talk_of(row.id) for row in rows})
        return {
            row.id
            for row in rows
            if any(first <= t.ordinal_of(row.id) <= last for first, last in spans[t.talk_of(row.id)])
        }

    places = count(connection, lambda after: fulltext.nodes(term, after), _FEW_TALKS)
    if places > _FEW_TALKS:
        return Source("after", _ALL, lambda: stream(connection, _all_nodes), keep)

    @cache
    def all_spans() -> dict[int, list[tuple[int, int]]]:
        look(())
        look(by_talk)
        return {talk: pairs for talk, pairs in spans.items() if pairs}

    def within(node: int) -> bool:
        at = t.ordinal_of(node)
        return any(first <= at <= last for first, last in all_spans().get(t.talk_of(node), ()))

    def ids() -> Iterator[int]:
        return filter(within, _of_talks(connection, question, list(all_spans())))

    return Source("after", places * _cost_of_talk(question) // 2, ids, keep, within)


def _of_talks(connection: sa.Connection, question: Question, talks: Sequence[int]) -> Iterator[int]:
    """The nodes of some talks that the question's conditions on single columns leave, best first."""
    own, node = t.talk.c.id, t.node.c.id
    ordered = sorted(talks)
    left = _by_columns(question)
    together = _TALKS_AT_ONCE if left else _WHOLE_TALKS_AT_ONCE
    for level in range(t.LEVELS):
        first = sa.cast(own, sa.BigInteger) * t.MOST_NODES + t.ranked_id(level, 0, 0)
        for start in range(0, len(ordered), together):
            query = (
                sa.select(node)
                .select_from(t.talk.join(t.node, node.between(first, first + (t.MOST_NODES - 1))))
                .where(own.in_(ordered[start : start + together]), *left)
            )
            yield from sorted(connection.execute(query).scalars().all())


def _cost_of_talk(question: Question) -> int:
    """What reading a talk's nodes costs, in nodes that are found otherwise."""
    return 25 if _by_columns(question) else 100


def _by_columns(question: Question) -> list[sa.ColumnElement[bool]]:
    """Of the conditions on nodes those that the database can tell without an index."""
    columns = t.node.c
    found: list[sa.ColumnElement[bool]] = []
    if question.move:
        found.append(columns.move.in_(question.move.codes))
    if question.position:
        found += [columns.placement == question.position.placement, columns.state == question.position.state]
    if question.kinds:
        found.append(columns.line.in_(sorted(set().union(*(_KIND_LINES[kind] for kind in question.kinds)))))
    return found


def _words(connection: sa.Connection, fulltext: FullText, question: Question) -> Source:
    assert question.words
    words = question.words

    def query(after: int) -> sa.Select[Any]:
        return fulltext.passages(words, after, None)

    @cache
    def passages() -> frozenset[int]:
        return frozenset(stream(connection, query))

    @cache
    def nodes() -> set[int]:
        found: set[int] = set()
        column = t.passage.c
        rows = connection.execute(sa.select(column.id, column.nodes).where(column.id.in_(query(-1))))
        for number, packed in rows.all():
            found.update(unpack_nodes(packed, t.talk_of(number)))
        return found

    def ids() -> Iterator[int]:
        return iter(sorted(nodes()))

    def keep(rows: Sequence[NodeRow]) -> set[int]:
        return {row.id for row in rows}  # which of a node's moments the words are near to is looked at later

    number = count(connection, query, _MANY_PASSAGES)
    if number > _FEW_PASSAGES:
        return Source("words", 2 * _ALL, ids, keep, None, passages if number <= _MANY_PASSAGES else None)
    return Source("words", number * 2, ids, keep, lambda node: node in nodes(), passages)


def _games(connection: sa.Connection, question: Question) -> Source:
    condition = game_condition(question)
    few = sa.select(t.game.c.id).where(condition).limit(_FEW_GAMES + 1)
    games = set(connection.execute(few).scalars().all())

    def ask_and_keep(rows: Sequence[NodeRow]) -> set[int]:
        ids = sorted({row.game_id for row in rows})
        fitting = set(connection.execute(sa.select(t.game.c.id).where(t.game.c.id.in_(ids), condition)).scalars())
        return {row.id for row in rows if row.game_id in fitting}

    if len(games) > _FEW_GAMES:
        return Source("headers", _ALL, lambda: stream(connection, _all_nodes), ask_and_keep)
    talks = {game // 64 for game in games}

    def keep(rows: Sequence[NodeRow]) -> set[int]:
        return {row.id for row in rows if row.game_id in games}

    def may_be(node: int) -> bool:
        return t.talk_of(node) in talks

    if len(games) > _FEW_TALKS:
        return Source("headers", _ALL, lambda: filter(may_be, stream(connection, _all_nodes)), keep, may_be)
    number = len(games) * _cost_of_talk(question)
    return Source("headers", number, lambda: _of_talks(connection, question, list(talks)), keep, may_be)


def parts(ids: Iterable[int], size: int) -> Iterator[list[int]]:
    """The ids in lists of some size, the first one smaller, so that a quick answer stays quick."""
    part: list[int] = []
    wanted = min(size, _FIRST_PART)
    for number in ids:
        part.append(number)
        if len(part) == wanted:
            yield part
            part, wanted = [], size
    if part:
        yield part

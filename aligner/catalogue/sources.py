"""Where candidates come from: for each condition of a question what may have it, and a check of what has it.

Candidates are read best first: the nodes with the terms that are asked for, or those of the passages with the words, or
all nodes, whichever are the fewest; the other conditions check them. Conditions that few talks meet tell these talks
first, and the database leaves all other talks out. Everything is read in parts that grow, and reading stops once there
are answers enough, so that a question takes hardly longer because the archive has grown.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from heapq import merge
from itertools import chain, groupby
from typing import Any

import sqlalchemy as sa

from aligner.catalogue import tables as t
from aligner.catalogue.fulltext import AnyOf, FullText
from aligner.catalogue.patterns import contradictory, holds
from aligner.catalogue.positions import Position, kind_term, move_term, position_term
from aligner.catalogue.prepare import unpack_nodes
from aligner.catalogue.question import Question, game_condition
from aligner.catalogue.streams import FIRST_PART, NodeRow, count, stream, stream_passages

_ALL = 1_000_000
"""Stands for more nodes than are worth counting: all are gone through until there are answers enough."""
_FEW_TALKS = 2000
"""Games and positions whose talks are told to the database; more than these leave out little."""
_WHOLE_TALKS_AT_ONCE, _TALKS_AT_ONCE = 10, 50
_BEST_PASSAGES = 0.5
"""The share of passages that have the best level, for they have that of their best node; for the estimate alone."""
_GONE_THROUGH = 0.02
"""What it costs to go through a node or passage that is left out for its talk, in ones that are read."""


@dataclass(frozen=True, slots=True)
class Beginning:
    """Candidates that have one condition.

    Attributes:
        count: nodes that are read for it if all are, up to a bound.
        ids: candidates in order of id; where talks are given, those of others may be left out.
        heard: the passages with the words that were read for these candidates; None where words are not looked for.
    """

    count: int
    ids: Callable[[Collection[int] | None], Iterator[int]]
    heard: Collection[int] | None = None


@dataclass(frozen=True, slots=True)
class Source:
    """One condition.

    Attributes:
        talks: outside of these no node has it; None where they are too many to tell.
        sift: of some ids, those of nodes that have it; None where ids do not tell it.
        keep: of some nodes, the ids of those that have it; None where it has been told before.
        beginning: how to begin with it; None where it only checks.
    """

    talks: frozenset[int] | None = None
    sift: Callable[[Sequence[int]], list[int]] | None = None
    keep: Callable[[Sequence[NodeRow]], set[int]] | None = None
    beginning: Beginning | None = None


def sources(connection: sa.Connection, fulltext: FullText, question: Question) -> list[Source]:
    """One source for all that the terms of nodes tell, one each for lines, words and headers."""
    found = [_by_terms(connection, fulltext, question)]
    if question.after:
        found.append(_after(connection, fulltext, question.after))
    if question.words:
        found.append(_words(connection, fulltext, question))
    if question.about_games:
        found.append(_games(connection, question))
    return found


def begin(connection: sa.Connection, question: Question, found: Sequence[Source]) -> tuple[Iterator[int], Beginning]:
    """The candidates of a question, in order of id, and where they come from."""
    told = [source.talks for source in found if source.talks is not None]
    talks = frozenset.intersection(*told) if told else None
    if talks is None:
        everything = Beginning(_ALL, lambda _: stream(connection, _all_nodes))
        share = 1.0
    else:
        few = sorted(talks)
        each = 25 if by_columns(question) else 100  # what reading a talk's nodes costs, in nodes found otherwise
        everything = Beginning(len(few) * each, lambda _: _of_talks(connection, question, few))
        share = min(1.0, len(few) / _highest(connection) + _GONE_THROUGH)
    others = [source.beginning for source in found if source.beginning is not None]
    best = min(others, key=lambda one: one.count, default=everything)
    if everything.count < share * best.count:
        best = everything
    return best.ids(talks), best


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
        return Source(keep=keep)

    if contradictory(partial):
        return Source(frozenset(), beginning=Beginning(0, lambda _: iter(())))

    # to find the nodes with several terms takes long enough to do it only once, and not to count them
    few = connection.execute(fulltext.nodes(required, -1).limit(FIRST_PART)).scalars().all()
    if len(few) < FIRST_PART:
        talks = frozenset(map(t.talk_of, few))
        return Source(talks, keep=keep, beginning=Beginning(len(few), lambda _: iter(few)))

    def ids(talks: Collection[int] | None) -> Iterator[int]:
        first = few if talks is None else [node for node in few if t.talk_of(node) in talks]
        return chain(first, stream(connection, lambda after: fulltext.nodes(required, after, talks), few[-1]))

    return Source(keep=keep, beginning=Beginning(_likely(connection, few, 1 / t.LEVELS), ids))


def _likely(connection: sa.Connection, first: Sequence[int], best: float) -> int:
    """How many ids there may be, from how far the first ones reach.

    Args:
        connection: to ask.
        first: ids, in order.
        best: the share of the best level; the others have the same.
    """
    reached = t.level_of(first[-1]) + t.talk_of(first[-1]) / _highest(connection)
    share = best * reached if reached <= 1 else best + (1 - best) * (reached - 1) / (t.LEVELS - 1)
    return round(len(first) / share)


def _highest(connection: sa.Connection) -> int:
    """The highest number of a talk, at least 1."""
    return connection.execute(sa.select(sa.func.max(t.talk.c.id))).scalar() or 1


def _all_nodes(after: int) -> sa.Select[Any]:
    return sa.select(t.node.c.id).where(t.node.c.id > after).order_by(t.node.c.id)


def _after(connection: sa.Connection, fulltext: FullText, position: Position) -> Source:
    term = ((position_term(position.key),),)
    columns = t.node.c
    spans: dict[int, list[tuple[int, int]]] = {}  # preorder places of the position and of the last node below it

    def look(talks: set[int] | None) -> None:
        query = sa.select(columns.id, columns.below).where(
            columns.id.in_(fulltext.nodes(term, -1, talks)),
            columns.placement == position.placement,
            columns.state == position.state,
        )
        for number, below in connection.execute(query).all():
            spans.setdefault(t.talk_of(number), []).append((t.ordinal_of(number), t.ordinal_of(number) + below))

    def sift(ids: Sequence[int]) -> list[int]:
        return [
            node
            for node in ids
            if any(first <= t.ordinal_of(node) <= last for first, last in spans.get(t.talk_of(node), ()))
        ]

    def look_and_sift(ids: Sequence[int]) -> list[int]:
        new = set(map(t.talk_of, ids)) - looked_at
        if new:
            looked_at.update(new)
            look(new)
        return sift(ids)

    looked_at: set[int] = set()
    if count(connection, fulltext.nodes(term, -1), _FEW_TALKS) > _FEW_TALKS:
        return Source(sift=look_and_sift)
    # other positions have the same term, the more of them the more talks there are
    look(None)
    return Source(frozenset(spans), sift)


def _of_talks(connection: sa.Connection, question: Question, ordered: Sequence[int]) -> Iterator[int]:
    """The nodes of some talks that the question's conditions on single columns leave, best first."""
    own, node = t.talk.c.id, t.node.c.id
    left = by_columns(question)
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


def by_columns(question: Question) -> list[sa.ColumnElement[bool]]:
    """Of the conditions on nodes those that the database can tell without an index."""
    columns = t.node.c
    found: list[sa.ColumnElement[bool]] = []
    if question.move:
        found.append(columns.move.in_(question.move.codes))
        if question.move.takes:
            found.append(columns.san.contains("x"))
    if question.position:
        found += [columns.placement == question.position.placement, columns.state == question.position.state]
    if question.kinds:
        found.append(columns.line.in_(sorted(set().union(*(_KIND_LINES[kind] for kind in question.kinds)))))
    return found


def _words(connection: sa.Connection, fulltext: FullText, question: Question) -> Source:
    assert question.words
    words, moves = question.words, question.move.codes if question.move else ()
    seen: set[int] = set()

    def ids(talks: Collection[int] | None) -> Iterator[int]:
        def query(after: int) -> sa.Select[Any]:
            return fulltext.passages(words, moves, after, talks)

        return _told_in(stream_passages(connection, query), seen)

    # which of a node's moments the words are near to is looked at when these are read
    few = connection.execute(fulltext.passages(words, moves, -1).limit(FIRST_PART)).scalars().all()
    number = len(few) if len(few) < FIRST_PART else _likely(connection, few, _BEST_PASSAGES)
    return Source(beginning=Beginning(2 * number, ids, seen))


def _told_in(passages: Iterable[Sequence[Any]], seen: set[int]) -> Iterator[int]:
    """The nodes spoken of in passages, in order of id, each once; nothing is read before it is asked for.

    A passage has the level of its best node, so that nodes of one level stand in passages of this one and of better
    ones, which have all been read before.

    Args:
        passages: ids in order, and packed nodes.
        seen: takes up the passages that were read.
    """
    later: list[list[int]] = [[] for _ in range(t.LEVELS)]

    def of_level(level: int, rows: Iterable[Sequence[Any]]) -> Iterator[int]:
        for talk, group in groupby(rows, key=lambda row: t.talk_of(row[0])):
            told: set[int] = set()
            for number, packed in group:
                seen.add(number)
                told.update(unpack_nodes(packed, talk))
            for node in sorted(told):
                if t.level_of(node) == level:
                    yield node
                else:
                    later[t.level_of(node)].append(node)

    groups = groupby(passages, key=lambda row: t.level_of(row[0]))
    following = next(groups, None)
    for level in range(t.LEVELS):
        own: Iterator[int] = iter(())
        if following is not None and following[0] == level:
            own = of_level(level, following[1])
        last = -1
        for node in merge(sorted(later[level]), own):
            if node != last:
                yield node
            last = node
        if following is not None and following[0] == level:
            following = next(groups, None)


def _games(connection: sa.Connection, question: Question) -> Source:
    condition = game_condition(question)
    few = sa.select(t.game.c.id).where(condition).limit(_FEW_TALKS + 1)
    games = set(connection.execute(few).scalars().all())

    def ask_and_keep(rows: Sequence[NodeRow]) -> set[int]:
        ids = sorted({row.game_id for row in rows})
        fitting = set(connection.execute(sa.select(t.game.c.id).where(t.game.c.id.in_(ids), condition)).scalars())
        return {row.id for row in rows if row.game_id in fitting}

    def keep(rows: Sequence[NodeRow]) -> set[int]:
        return {row.id for row in rows if row.game_id in games}

    if len(games) > _FEW_TALKS:
        return Source(keep=ask_and_keep)
    return Source(frozenset(game // 64 for game in games), keep=keep)

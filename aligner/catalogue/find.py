"""Finding: a question's answers, best first, each with its talk, time, words, move and position.

Ranked: moves of the game before sidelines, these before ideas, moves nobody spoke of last; in each of these groups
those told with a confidence of 0.8 and above and spoken of more than once come first, then those told once, then
the rest; then in the order in which the talks were added, then of the game. Words alone: first the passages in
which the best ranked moves are spoken of.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from typing import Any

import sqlalchemy as sa

from aligner.catalogue import tables as t
from aligner.catalogue.answers import Moment, MomentRow, Writer
from aligner.catalogue.question import Question, game_condition
from aligner.catalogue.sources import begin, by_columns, sources
from aligner.catalogue.store import Catalogue
from aligner.catalogue.streams import NodeRow, fetch, parts, stream

_PART = 512
_GAME_KINDS = tuple(t.KINDS.index(kind) for kind in ("move", "again", "slip"))
_ERRATA = tuple(t.KINDS.index(kind) for kind in ("slip", "statement"))
_IDEA = t.KINDS.index("idea")


def find(catalogue: Catalogue, question: Question) -> tuple[Moment, ...]:
    """The answers to a question, at most `question.limit`, best first.

    Raises:
        CatalogueError: the database refuses.
    """
    with catalogue.reading() as connection:
        writer = Writer(connection)
        if question.words and not question.about_nodes:
            return tuple(writer.passages(_passages(connection, catalogue, question)))
        return tuple(writer.moments(_nodes(connection, catalogue, question), question.limit))


def _passages(connection: sa.Connection, catalogue: Catalogue, question: Question) -> list[tuple[Any, ...]]:
    assert question.words
    words = question.words
    found: list[tuple[Any, ...]] = []
    seen: set[tuple[int, int]] = set()
    columns = t.passage.c
    for part in parts(stream(connection, lambda after: catalogue.fulltext.passages(words, (), after)), _PART):
        query = sa.select(t.passage).where(columns.id.in_(part))
        rows = {row[0]: tuple(row) for row in connection.execute(query)}
        kept = _in_fitting_games(connection, question, list(rows.values())) if question.about_games else set(part)
        for number in part:
            place = (t.talk_of(number), t.ordinal_of(number))
            # the words that two passages share are told once
            if number not in kept or {(place[0], place[1] - 1), (place[0], place[1] + 1)} & seen:
                continue
            seen.add(place)
            found.append(rows[number])
            if len(found) == question.limit:
                return found
    return found


def _in_fitting_games(connection: sa.Connection, question: Question, rows: Sequence[tuple[Any, ...]]) -> set[int]:
    games = {row[0]: t.talk_of(row[0]) * 64 + row[1] for row in rows}
    query = sa.select(t.game.c.id).where(t.game.c.id.in_(sorted(set(games.values()))), game_condition(question))
    fitting = set(connection.execute(query).scalars())
    return {passage for passage, game in games.items() if game in fitting}


def _nodes(
    connection: sa.Connection, catalogue: Catalogue, question: Question
) -> Iterator[tuple[NodeRow, list[MomentRow]]]:
    """The nodes that fit with their moments that fit, best first."""
    found = sources(connection, catalogue.fulltext, question)
    ids, beginning = begin(connection, question, found)
    conditions = by_columns(question)
    for part in parts(ids, _PART):
        for source in found:
            if source.sift:
                part = source.sift(part)
        rows = fetch(connection, part, conditions) if part else []
        for source in found:
            if source.keep and rows:
                kept = source.keep(rows)
                rows = [row for row in rows if row.id in kept]
        if rows:
            yield from _with_moments(connection, catalogue, question, rows, beginning.heard)


def _with_moments(
    connection: sa.Connection,
    catalogue: Catalogue,
    question: Question,
    rows: Sequence[NodeRow],
    known: Collection[int] | None,
) -> Iterator[tuple[NodeRow, list[MomentRow]]]:
    columns = t.moment.c
    query = sa.select(t.moment).where(columns.node_id.in_([row.id for row in rows]))
    query = query.order_by(columns.node_id, columns.number)
    moments: dict[int, list[MomentRow]] = {}
    for moment in connection.execute(query).all():
        moments.setdefault(moment[0], []).append(MomentRow(*moment))
    heard = _heard(connection, catalogue, question, moments, known) if question.words else None
    for row in rows:
        own = moments.get(row.id, [])
        if not own and not question.words and not question.confidence and _kind_fits(question, row, None):
            yield row, []
            continue
        fitting = [
            moment
            for moment in own
            if moment.confidence >= 100 * question.confidence
            and _kind_fits(question, row, moment)
            and (heard is None or (row.id, moment.number) in heard)
        ]
        if fitting:
            yield row, fitting


def _kind_fits(question: Question, row: NodeRow, moment: MomentRow | None) -> bool:
    if not question.kinds:
        return True
    kind = moment.kind if moment else 0
    spoken = row.line & 3 < 2 and kind in _GAME_KINDS
    return (
        ("game" in question.kinds and spoken and row.line & 3 == 0)
        or ("sideline" in question.kinds and spoken and row.line & 3 == 1)
        or ("erratum" in question.kinds and kind in _ERRATA)
        or ("idea" in question.kinds and kind == _IDEA)
    )


def _heard(
    connection: sa.Connection,
    catalogue: Catalogue,
    question: Question,
    moments: dict[int, list[MomentRow]],
    known: Collection[int] | None,
) -> set[tuple[int, int]]:
    """The moments in whose passage the words are: node and number.

    Args:
        connection: to ask.
        catalogue: its index is asked.
        question: has words.
        moments: by node.
        known: the passages with the words, where they have been read already.
    """
    assert question.words
    placed: dict[int, list[tuple[int, int]]] = {}
    for node, own in moments.items():
        for moment in own:
            if moment.passage >= 0:
                placed.setdefault(t.long_id(moment.passage, t.talk_of(node)), []).append((node, moment.number))
    if known is None and placed:
        known = connection.execute(catalogue.fulltext.heard(question.words, placed.keys())).scalars().all()
    return {moment for passage in placed.keys() & set(known or ()) for moment in placed[passage]}

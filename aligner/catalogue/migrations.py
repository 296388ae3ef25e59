"""Versions of the schema: each step is a function, run in one transaction together with the note that it has run."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import sqlalchemy as sa

from aligner.catalogue.faults import CatalogueError
from aligner.catalogue.fulltext import FullText
from aligner.catalogue.searched import searched
from aligner.catalogue.tables import VERSION, about, metadata, talk

_TALKS_AT_ONCE = 200
"""Whose passages are told to the index in order of id, which is the quicker the more they are."""

Step = Callable[[sa.Connection, FullText], None]


def _first(connection: sa.Connection, fulltext: FullText) -> None:
    metadata.create_all(connection)
    fulltext.create(connection)


def _moves_with_words(connection: sa.Connection, fulltext: FullText) -> None:
    """Passages are searched for the moves spoken of in them."""
    fulltext.forget_passages(connection)
    talks = list(connection.execute(sa.select(talk.c.id).order_by(talk.c.id)).scalars())
    for start in range(0, len(talks), _TALKS_AT_ONCE):
        passages = [one for number in talks[start : start + _TALKS_AT_ONCE] for one in searched(connection, number)]
        fulltext.add(connection, sorted(passages), [])


STEPS: Mapping[int, Step] = {1: _first, 2: _moves_with_words}
"""By the version to which they lead; none may be changed once it has been released."""

assert max(STEPS) == VERSION


def version_of(connection: sa.Connection) -> int:
    """The schema's version; 0 where there is none yet.

    Raises:
        CatalogueError: the database holds something else.
    """
    names = sa.inspect(connection).get_table_names()
    if "about" not in names:
        if names:
            raise CatalogueError("this database is no catalogue; name another file or database.")
        return 0
    value = connection.execute(sa.select(about.c.value).where(about.c.name == "catalogue version")).scalar()
    if value is None or not value.isdigit():
        raise CatalogueError("this database is no catalogue; name another file or database.")
    return int(value)


def check_version(version: int, steps: Mapping[int, Step] = STEPS) -> None:
    """Refuses a catalogue from a newer program.

    Raises:
        CatalogueError: it is newer.
    """
    if version > max(steps):
        raise CatalogueError(
            f"the catalogue has version {version}, and this program knows versions up to {max(steps)}; "
            "update the program, or make a new catalogue with this one."
        )


def migrate(connection: sa.Connection, fulltext: FullText, steps: Mapping[int, Step] = STEPS) -> int:
    """Brings the schema up to date, one transaction a step; returns the version it had.

    Args:
        connection: not in a transaction.
        fulltext: of the database.
        steps: other steps, for tests.

    Raises:
        CatalogueError: it is from a newer program, or no catalogue.
    """
    with connection.begin():
        before = version_of(connection)
    check_version(before, steps)
    for number in sorted(steps):
        if number <= before:
            continue
        with connection.begin():
            if version_of(connection) >= number:
                continue  # another program was faster
            steps[number](connection, fulltext)
            if number > 1:
                connection.execute(
                    sa.update(about).where(about.c.name == "catalogue version").values(value=str(number))
                )
            else:
                connection.execute(sa.insert(about).values(name="catalogue version", value="1"))
    return before

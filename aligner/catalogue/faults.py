"""What goes wrong with a catalogue, told in one sentence."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from aligner.errors import InputError


class CatalogueError(InputError):
    """A catalogue that cannot be used."""


DAMAGED = "the catalogue is damaged; put back a copy of it, or move it away and add the talks again."

_SENTENCES = (
    (("not a database", "malformed", "corrupt", "invalid page", "disk image"), DAMAGED),
    (("locked", "busy", "lock timeout", "could not obtain lock"),
     "another program is writing to the catalogue; wait until it is done, then run this again."),
    (("disk is full", "disk full", "no space left", "database or disk", "quota"),
     "the disk is full; what was reported as added is kept. Make room, then run this again."),
    (("disk i/o error",),
     "the system cannot read or write the catalogue's file; check the disk and its space, then run this again."),
    (("readonly", "read-only", "permission denied"),
     "the catalogue may not be written; check its permissions."),
    (("unable to open", "no such file"),
     "the catalogue cannot be opened; check its folder and its permissions."),
    (("connection refused", "could not connect", "connection failed", "could not translate", "connection is bad",
      "timeout expired", "server closed the connection", "terminating connection"),
     "the database server does not answer; check its address and that it runs."),
    (("password", "authentication", "role ", "does not exist"),
     "the database server refuses; check the user, the password and the database's name in the address."),
)  # fmt: skip


@contextmanager
def told(where: str) -> Iterator[None]:
    """Turns the databases' errors into sentences, and says of which catalogue they speak.

    Args:
        where: the catalogue's address, without a password.

    Raises:
        CatalogueError: the database refuses.
    """
    try:
        yield
    except CatalogueError as error:
        raise CatalogueError(error.what, error.where or where) from None
    except SQLAlchemyError as error:
        raise CatalogueError(_sentence(error), where) from None


def _sentence(error: SQLAlchemyError) -> str:
    cause = str(error.orig) if isinstance(error, DBAPIError) else str(error)
    low = cause.lower()
    for signs, sentence in _SENTENCES:
        if any(sign in low for sign in signs):
            return sentence
    first = " ".join(cause.split("\n")[0].split()).rstrip(".")
    return f"the database refuses ({first}); run `aligner catalogue check`."

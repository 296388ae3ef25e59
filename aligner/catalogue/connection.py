"""Opening a catalogue: a SQLite file, or `postgresql://...` for a shared archive."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from aligner.catalogue.faults import CatalogueError
from aligner.catalogue.fulltext import FullText, PostgresFullText, SqliteFullText

_APPLICATION = 0x414C4743
"""Marks the file as ours (SQLite, PRAGMA application_id)."""
WAIT = 5.0
"""Seconds to wait for another program that writes."""


def default_address() -> str:
    """The catalogue where none is named: ALIGNER_CATALOGUE, else a file in the user's data folder (XDG)."""
    return os.environ.get("ALIGNER_CATALOGUE") or file_address()


def file_address() -> str:
    """The user's own catalogue file."""
    data = os.environ.get("XDG_DATA_HOME") or os.path.join(os.path.expanduser("~"), ".local", "share")
    return os.path.join(data, "aligner", "catalogue.sqlite")


def is_server(address: str) -> bool:
    """Whether an address names a PostgreSQL server."""
    return address.startswith(("postgresql:", "postgres:", "postgresql+psycopg:"))


def shown(address: str) -> str:
    """The address as it may be printed: without a password."""
    if not is_server(address):
        return address
    try:
        return sa.make_url(address).render_as_string(hide_password=True)
    except sa.exc.ArgumentError:
        return "postgresql://..."


def open_engine(address: str, *, make: bool, wait: float = WAIT) -> tuple[sa.Engine, FullText]:
    """An engine for a catalogue, and its full-text index; nothing is read yet.

    Args:
        address: path of a file, or a PostgreSQL address.
        make: whether a file that is missing is to be made, with its folder.
        wait: seconds to wait for another program that writes.

    Raises:
        CatalogueError: there is no such file, or the address cannot be read.
    """
    if is_server(address):
        return _open_server(address, wait), PostgresFullText()
    if "://" in address:
        raise CatalogueError(
            "a catalogue is a file or an address that begins postgresql://.", address.split("://")[0] + "://..."
        )
    path = Path(address)
    if path.is_dir():
        raise CatalogueError("this is a folder; name the catalogue's file in it.", address)
    if not path.exists():
        if not make:
            raise CatalogueError("there is no catalogue here; make one with `aligner catalogue add`.", address)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise CatalogueError(f"the folder cannot be made ({error.strerror}).", str(path.parent)) from None
    return _open_file(path, wait), SqliteFullText()


def _open_file(path: Path, wait: float) -> sa.Engine:
    engine = sa.create_engine(
        sa.URL.create("sqlite", database=str(path)),
        connect_args={"timeout": wait, "check_same_thread": False},
    )

    @sa.event.listens_for(engine, "connect")
    def prepare(connection: sqlite3.Connection, _: Any) -> None:
        # transactions are begun below, so that a writer has the lock from its first statement on
        connection.isolation_level = None
        run = connection.execute
        known = run("PRAGMA application_id").fetchone()[0]
        if known == 0 and run("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0:
            run(f"PRAGMA application_id = {_APPLICATION}")
        run("PRAGMA journal_mode = WAL")
        run("PRAGMA synchronous = FULL")  # what was reported as added outlives a power cut
        run("PRAGMA foreign_keys = ON")
        run("PRAGMA cache_size = -131072")  # KiB
        run("PRAGMA mmap_size = 1073741824")
        run("PRAGMA temp_store = MEMORY")
        run("PRAGMA wal_autocheckpoint = 8000")  # pages

    @sa.event.listens_for(engine, "begin")
    def begin(connection: sa.Connection) -> None:
        writing = connection.get_execution_options().get("writing", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")

    return engine


def _open_server(address: str, wait: float) -> sa.Engine:
    try:
        url = sa.make_url(address).set(drivername="postgresql+psycopg")
        return sa.create_engine(
            url,
            connect_args={"connect_timeout": 10, "options": f"-c lock_timeout={round(1000 * wait)}"},
        )
    except sa.exc.ArgumentError:
        what = "this is no address; it looks like postgresql://user@host/database."
        raise CatalogueError(what, shown(address)) from None
    except ImportError:
        raise CatalogueError(
            "for PostgreSQL a driver is needed; install it with `pip install 'aligner[postgresql]'`.", shown(address)
        ) from None

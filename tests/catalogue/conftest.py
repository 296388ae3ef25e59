"""Catalogues to test with: SQLite in a file, and a real PostgreSQL server of our own on loopback."""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from aligner.catalogue.store import Catalogue, open_catalogue
from aligner.record.model import Record

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "measure"))
from archive import invented_record

SEEDS = range(1, 9)


def _programs() -> Path | None:
    """The newest PostgreSQL on this machine."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[4]))
    if found:
        return found[-1].parent
    known = shutil.which("initdb")
    return Path(known).parent if known else None


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """Address of a PostgreSQL server that runs for the tests alone, in a folder that is thrown away."""
    programs = _programs()
    if programs is None:
        pytest.skip("there is no PostgreSQL server here; install Debian's package postgresql")
    # the server refuses to run as root
    user = None
    if os.geteuid() == 0:
        user = next((name for name in ("postgres", "nobody") if name in {row.pw_name for row in pwd.getpwall()}), None)
        if user is None:
            pytest.skip("a PostgreSQL server cannot run as root, and there is no other user here")
    folder = Path(tempfile.mkdtemp(prefix="aligner-postgres-"))
    if user:
        os.chown(folder, pwd.getpwnam(user).pw_uid, pwd.getpwnam(user).pw_gid)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]

    def run(*command: str) -> None:
        done = subprocess.run(command, cwd=folder, user=user, capture_output=True, text=True, check=False, timeout=120)
        assert done.returncode == 0, done.stderr

    data = str(folder / "data")
    options = f"-c listen_addresses=127.0.0.1 -c port={port} -c unix_socket_directories={folder} -c fsync=off"
    try:
        run(str(programs / "initdb"), "-D", data, "-U", "aligner", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8")
        log = str(folder / "log")
        run(str(programs / "pg_ctl"), "-D", data, "-l", log, "-w", "-o", options, "start")
        try:
            yield f"postgresql://aligner@127.0.0.1:{port}/postgres"
        finally:
            run(str(programs / "pg_ctl"), "-D", data, "-m", "immediate", "-w", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def fresh_database(server: str, name: str) -> str:
    """Address of an empty database on the server."""
    import psycopg

    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f'DROP DATABASE IF EXISTS "{name}"')
        connection.execute(f'CREATE DATABASE "{name}"')
    return server.rsplit("/", 1)[0] + f"/{name}"


@pytest.fixture(scope="session")
def archive() -> dict[str, Record]:
    """Invented talks by name."""
    return {f"talk-{seed}": invented_record(seed, 120) for seed in SEEDS}


@pytest.fixture(scope="session", params=["sqlite", "postgresql"])
def kind(request: pytest.FixtureRequest) -> str:
    """Each database in turn."""
    return str(request.param)


@pytest.fixture(scope="session")
def filled(
    kind: str, archive: dict[str, Record], request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Catalogue]:
    """A catalogue with the archive in it; not to be changed."""
    if kind == "sqlite":
        address = str(tmp_path_factory.mktemp("catalogue") / "catalogue.sqlite")
    else:
        address = fresh_database(request.getfixturevalue("server"), "filled")
    with open_catalogue(address, make=True) as catalogue:
        for name, record in archive.items():
            catalogue.add(record, name)
        yield catalogue


@pytest.fixture
def empty(kind: str, request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Catalogue]:
    """An empty catalogue to play with."""
    if kind == "sqlite":
        address = str(tmp_path / "catalogue.sqlite")
    else:
        address = fresh_database(request.getfixturevalue("server"), "empty")
    with open_catalogue(address, make=True) as catalogue:
        yield catalogue

"""An archive in one night: `aligner batch`."""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from aligner.cli.terminal import say
from aligner.errors import InputError
from aligner.record.printing import clean, clock

if TYPE_CHECKING:
    from aligner.batch.database import Database
    from aligner.batch.run import Pool, Progress
    from aligner.batch.work import Outcome, Task


def batch(
    source: Annotated[
        Path, typer.Argument(metavar="FOLDER|LIST", help="Folder with captions, or a list of them (text or CSV).")
    ],
    out: Annotated[Path, typer.Option("-o", "--out", metavar="FOLDER", help="Where the outputs go; made if missing.")],
    jobs: Annotated[
        int | None, typer.Option("--jobs", metavar="N", min=1, help="Processes; else one for each core.")
    ] = None,
    scores: Annotated[
        Path | None, typer.Option("--scores", metavar="DATABASE.pgn", help="Games in which each talk's own is found.")
    ] = None,
    catalogue: Annotated[
        str | None, typer.Option("--catalogue", metavar="FILE", help="Also enter every talk into this catalogue.")
    ] = None,
    write: Annotated[
        str, typer.Option("--write", metavar="KINDS", help="Outputs beside the record: pgn, chapters; with commas.")
    ] = "pgn",
    cluster: Annotated[
        str | None, typer.Option("--cluster", metavar="ADDRESS", help="Use the workers of a Dask scheduler, tcp://...")
    ] = None,
    shared: Annotated[
        bool, typer.Option("--shared", help="The cluster's workers see the same folders: let them read and write.")
    ] = False,
    retry: Annotated[bool, typer.Option("--retry", help="Try again what failed before.")] = False,
    time_limit: Annotated[
        float | None, typer.Option("--time-limit", metavar="SECONDS", min=1, help="Set a talk aside that takes longer.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No progress and no table.")] = False,
) -> None:
    """Align an archive: every talk of a folder or list, on all cores or on a cluster.

    A score of the same stem, one named in the list or one found with --scores goes with each talk. Stopped at any
    moment, the next call goes on where it was. The report stands in the output folder and on standard error.
    """
    if cluster is not None and (jobs is not None or time_limit is not None):
        raise InputError("a cluster has its own workers and limits; leave out --jobs and --time-limit, or --cluster.")
    if shared and cluster is None:
        raise InputError("--shared speaks of a cluster's workers; give --cluster too.")
    if out.exists() and not out.is_dir():
        raise InputError("the output is no folder; name a folder.", str(out))

    # what follows loads slowly
    from aligner.batch.jobs import OWN_FOLDER, find_jobs
    from aligner.batch.outputs import OUTPUTS, chosen
    from aligner.batch.report import report_table
    from aligner.batch.run import run_batch
    from aligner.batch.tasks import Settings

    outputs = chosen(name.strip() for name in write.split(",") if name.strip())
    found = find_jobs(source, out, [output.ending for output in OUTPUTS.values() if output.ending.count(".") > 1])
    database = None
    if scores is not None:
        from aligner.batch.database import read_database

        database = read_database(scores, out / OWN_FOLDER, travels=cluster is not None and not shared)
        if database.skipped and not quiet:
            say(f"{scores.name}: {database.skipped} of its games cannot be read and were passed over.")
    filling = None
    if catalogue is not None:
        from aligner.batch.filling import Filling

        filling = Filling(catalogue)
    settings = Settings(out, outputs, database, filling, shared, retry)
    pool = _pool(cluster, jobs, database, time_limit)
    # a scheduler that wants the machine back sends SIGTERM; what is done is kept as with Ctrl-C
    with suppress(ValueError):
        signal.signal(signal.SIGTERM, _interrupt)
    progress = None if quiet else _Shown()
    try:
        summary = run_batch(found, settings, pool, progress=progress)
    except KeyboardInterrupt:
        if progress is not None:
            progress.end()
        say("stopped; what is done is kept, and the same call goes on from here.")
        raise
    finally:
        if filling is not None:
            filling.close()
    if progress is not None:
        progress.end()
        say(report_table(summary.entries, summary.left))
    if any(entry.status == "failed" for entry in summary.entries):
        raise typer.Exit(2)


def _interrupt(number: int, frame: object) -> None:
    raise KeyboardInterrupt


def _pool(cluster: str | None, jobs: int | None, database: Database | None, limit: float | None) -> Pool:
    if cluster is not None:
        from aligner.batch.cluster import run_on_cluster

        address = cluster

        def on_cluster(tasks: Iterable[Task]) -> Iterator[Outcome]:
            return run_on_cluster(tasks, address, database, say=say)

        return on_cluster
    from aligner.batch.processes import run_on_processes

    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    number = jobs if jobs is not None else cores or 1

    def on_processes(tasks: Iterable[Task]) -> Iterator[Outcome]:
        return run_on_processes(tasks, number, database, limit=limit)

    return on_processes


class _Shown:
    """Progress on a terminal: a line that is written over; elsewhere nothing."""

    def __init__(self) -> None:
        self._shows = sys.stderr.isatty()
        self._width = 0
        self._last = 0.0

    def __call__(self, progress: Progress) -> None:
        now = time.monotonic()
        if not self._shows or (now - self._last < 0.1 and progress.settled < progress.total):
            return
        self._last = now
        left = f", {clock(progress.seconds_left)} left" if progress.seconds_left is not None else ""
        line = clean(f"{progress.settled} of {progress.total} talks{left} {progress.name}")[:100]
        print(f"\r{line:<{self._width}}\r{line}", end="", file=sys.stderr, flush=True)
        self._width = len(line)

    def end(self) -> None:
        """Leave the line clean for what comes next."""
        if self._shows:
            print(f"\r{'':<{self._width}}\r", end="", file=sys.stderr, flush=True)

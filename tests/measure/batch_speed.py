"""Talks a minute on one process, on two, and on two workers of a Dask scheduler, with the ratios between them.

`python tests/measure/batch_speed.py [--talks 96] [--rounds 1] [--minutes 2] [--cluster]`

Everything runs as `aligner batch` does it: captions and scores read, outputs written, the journal forced to the disk.
The time to start the workers is told apart: an archive pays it once. Ratios of time on the clock mean something only on
a machine that does nothing else; the load that was there is told with them.
"""

from __future__ import annotations

import argparse
import json
import os
import tempfile
import time
from collections.abc import Iterable, Iterator
from pathlib import Path

import long_talks
from growth import as_vtt

from aligner.batch.cluster import run_on_cluster
from aligner.batch.jobs import find_jobs
from aligner.batch.outputs import chosen
from aligner.batch.processes import run_on_processes
from aligner.batch.program import program_hash
from aligner.batch.run import Pool, run_batch
from aligner.batch.tasks import Settings
from aligner.batch.work import Outcome, Task


class Timed:
    """A pool whose first outcomes (one a worker) only warm it up; then the clock starts."""

    def __init__(self, pool: Pool, workers: int) -> None:
        self.pool = pool
        self.workers = workers
        self.began = 0.0
        self.count = 0
        self.work = 0.0

    def __call__(self, tasks: Iterable[Task]) -> Iterator[Outcome]:
        for outcome in self.pool(tasks):
            if self.count == self.workers - 1:
                self.began = time.perf_counter()
                self.work = -outcome.took
            self.count += 1
            self.work += outcome.took
            yield outcome

    def rate(self) -> float:
        """Talks a minute since the warm-up."""
        return 60 * (self.count - self.workers) / (time.perf_counter() - self.began)


def write_archive(folder: Path, talks: int, minutes: float) -> None:
    """So many talks with their scores."""
    folder.mkdir()
    kinds = [long_talks.compiled(path) for path in long_talks.TALKS[:4]]
    for at in range(talks):
        talk = kinds[at % len(kinds)]
        captions = long_talks.lasting(talk.captions, minutes)
        (folder / f"{at:04d}.vtt").write_text(as_vtt(captions), encoding="utf-8")
        if talk.pgn:
            (folder / f"{at:04d}.pgn").write_text(talk.pgn, encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--talks", type=int, default=96, help="few end unevenly: the last long one is waited for")
    parser.add_argument("--rounds", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=2)
    parser.add_argument("--cluster", action="store_true")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_archive(folder / "in", arguments.talks, arguments.minutes)
        rates: dict[str, float] = {}

        def measure(kind: str, pool: Pool, workers: int) -> None:
            for turn in range(arguments.rounds):
                out = folder / f"{kind}-{turn}".replace(" ", "-")
                timed = Timed(pool, workers)
                summary = run_batch(find_jobs(folder / "in", out), Settings(out, chosen(["pgn"])), timed)
                assert all(entry.status != "failed" for entry in summary.entries), summary
                rates[kind] = max(rates.get(kind, 0.0), timed.rate())
            ratio = {"ratio_to_one": round(rates[kind] / rates["one process"], 2)}
            load = round(os.getloadavg()[0], 1)
            row = {"kind": kind, "talks_a_minute": round(rates[kind], 1), **ratio, "load": load}
            print(json.dumps(row), flush=True)

        measure("one process", lambda tasks: run_on_processes(tasks, 1), 1)
        measure("two processes", lambda tasks: run_on_processes(tasks, 2), 2)
        if arguments.cluster:
            import distributed

            program_hash.cache_clear()

            with distributed.LocalCluster(
                n_workers=2, threads_per_worker=1, dashboard_address=None, silence_logs=50, host="127.0.0.1"
            ) as cluster:
                measure("two workers", lambda tasks: run_on_cluster(tasks, cluster.scheduler_address), 2)


if __name__ == "__main__":
    main()

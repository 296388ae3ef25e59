"""The same work on workers of a Dask scheduler that come, die and go; needs the extra `cluster`."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from small_talks import deadly, true_work, write_bad, write_talks

from aligner.batch.cluster import run_on_cluster
from aligner.batch.jobs import find_jobs
from aligner.batch.outputs import chosen
from aligner.batch.program import program_hash
from aligner.batch.run import run_batch
from aligner.batch.tasks import Settings
from aligner.batch.work import Task
from aligner.errors import InputError

distributed = pytest.importorskip("distributed")


@pytest.fixture(autouse=True)
def program_of_today() -> None:
    """Workers start with the package as it is now; who works on it while the tests run is not another program."""
    program_hash.cache_clear()


@pytest.fixture(scope="module")
def scheduler() -> Iterator[object]:
    cluster = distributed.LocalCluster(
        n_workers=0, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50, host="127.0.0.1"
    )
    yield cluster
    # killed workers are waited for in vain
    with suppress(TimeoutError):
        cluster.close(timeout=20)


def test_talks_travel_there_and_records_come_back(scheduler, tmp_path: Path) -> None:
    """Begins without any worker; two come while the run waits for them."""
    source, out = tmp_path / "in", tmp_path / "out"
    write_talks(source, 3)
    write_bad(source)
    settings = Settings(out, chosen(["pgn"]))
    scheduler.scale(2)
    summary = run_batch(
        find_jobs(source, out),
        settings,
        lambda tasks: run_on_cluster(tasks, scheduler.scheduler_address, work=true_work, wait=60),
    )
    assert sum(entry.status == "failed" for entry in summary.entries) == 5
    for at in range(3):
        record = json.loads((out / f"talk-{at:03d}.json").read_text(encoding="utf-8"))
        assert [node.get("uci") for node in record["games"][0]["nodes"]][1:3] == ["e2e4", "e7e5"]
        assert "1. e4" in (out / f"talk-{at:03d}.pgn").read_text(encoding="utf-8")


def test_a_talk_that_kills_its_worker_twice_is_set_aside_and_the_rest_is_done(scheduler, tmp_path: Path) -> None:
    scheduler.scale(4)
    names = ["a", "kill", "b", "c", "d"]
    tasks = [Task(name, "key", f"{name}.vtt", b"") for name in names]
    outcomes = {o.name: o for o in run_on_cluster(tasks, scheduler.scheduler_address, work=deadly, wait=60)}
    assert set(outcomes) == set(names)
    assert [name for name, outcome in outcomes.items() if outcome.status != "done"] == ["kill"]
    assert "died 2 times" in outcomes["kill"].sentence


def test_a_scheduler_that_does_not_answer() -> None:
    with pytest.raises(InputError, match="no scheduler answers"):
        list(run_on_cluster([], "nonsense://127.0.0.1:1"))

"""Processes that die, hang, or are ended cost no talk but the one they were at."""

from __future__ import annotations

import time
from pathlib import Path

from small_talks import deadly, quick

from aligner.batch.processes import run_on_processes
from aligner.batch.work import Task


def task(name: str, path: str = "") -> Task:
    return Task(name, "key", f"{name}.vtt", b"", path)


def test_a_talk_that_kills_its_process_twice_is_set_aside_and_the_rest_is_done(tmp_path: Path) -> None:
    tasks = [task("a"), task("kill"), task("once", str(tmp_path / "seen")), *(task(f"b{at}") for at in range(6))]
    outcomes = {outcome.name: outcome for outcome in run_on_processes(tasks, 2, work=deadly)}
    assert len(outcomes) == len(tasks)
    assert [name for name, outcome in outcomes.items() if outcome.status != "done"] == ["kill"]
    assert "died 2 times" in outcomes["kill"].sentence


def test_a_talk_that_hangs_is_set_aside_after_its_time() -> None:
    began = time.monotonic()
    tasks = [task("hang"), task("a")]
    outcomes = {outcome.name: outcome for outcome in run_on_processes(tasks, 1, limit=6, work=deadly)}
    assert outcomes["a"].status == "done" and "longer than 6 seconds" in outcomes["hang"].sentence
    assert time.monotonic() - began < 50


def test_tasks_are_taken_only_when_a_worker_is_free_and_closing_ends_the_workers() -> None:
    taken = 0

    def tasks():
        nonlocal taken
        for at in range(1000):
            taken += 1
            yield task(f"t{at}")

    outcomes = run_on_processes(tasks(), 2, work=quick)
    next(outcomes)
    outcomes.close()
    assert taken <= 5

"""Workers on this machine: processes of their own, so that a talk that kills one costs nobody else's work."""

from __future__ import annotations

import multiprocessing
import signal
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess

from aligner.batch.work import Outcome, Task, work
from aligner.errors import AlignerError

Work = Callable[[Task, object], Outcome]

DEATHS = 2
"""Workers that a talk may kill before it is set aside."""

_IDLE_DEATHS = 3
"""Workers in a row that may die before they have any talk."""


class WorkersError(AlignerError):
    """There are no workers to do the work."""


def set_aside(task: Task, where: str) -> Outcome:
    """The outcome of a talk that killed its worker too often."""
    sentence = f"{where} died {DEATHS} times over this talk (killed, or out of memory), so it was set aside; run it alone."
    return Outcome(task.name, task.key, "failed", sentence)


def run_on_processes(
    tasks: Iterable[Task], number: int, database: object = None, *, limit: float | None = None, work: Work = work
) -> Iterator[Outcome]:
    """Do all tasks on processes of this machine; outcomes come as they are done.

    Closing the iterator ends the workers.

    Args:
        tasks: taken one by one, when a worker is free.
        number: of processes.
        database: of scores, handed to each worker once.
        limit: seconds after which a talk is set aside; None for no limit.
        work: what is done.

    Raises:
        WorkersError: processes die before they have anything to do.
    """
    waiting = iter(tasks)
    again: deque[Task] = deque()
    deaths: dict[str, int] = {}
    idle_deaths = 0
    workers: list[_Worker] = []
    try:
        while True:
            idle = [worker for worker in workers if worker.task is None]
            while (task := again.popleft() if again else next(waiting, None)) is not None:
                worker = idle.pop() if idle else _Worker(work, database)
                if worker not in workers:
                    workers.append(worker)
                if not worker.give(task):
                    again.appendleft(task)
                    worker.end()
                    workers.remove(worker)
                    idle_deaths += 1
                    if idle_deaths > _IDLE_DEATHS:
                        raise WorkersError("the worker processes of this machine die as soon as they begin; is memory short?")
                elif not idle and len(workers) >= number:
                    break
            busy = [worker for worker in workers if worker.task is not None]
            if not busy:
                return
            timeout = None if limit is None else max(0.0, min(worker.since for worker in busy) + limit - time.monotonic())
            ready = wait([worker.connection for worker in busy], timeout)
            for worker in busy:
                task = worker.task
                if task is None:
                    continue
                if worker.connection in ready:
                    outcome = worker.outcome()
                    if outcome is not None:
                        idle_deaths = 0
                        yield outcome
                        continue
                    deaths[task.name] = deaths.get(task.name, 0) + 1
                    if deaths[task.name] >= DEATHS:
                        yield set_aside(task, "the process")
                    else:
                        again.append(task)
                elif limit is not None and time.monotonic() - worker.since >= limit:
                    sentence = f"this talk took longer than {limit:g} seconds and was set aside; see --time-limit."
                    yield Outcome(task.name, task.key, "failed", sentence, took=limit)
                else:
                    continue
                worker.end()
                workers.remove(worker)
    finally:
        for worker in workers:
            worker.end()


class _Worker:
    """A process and the line to it."""

    def __init__(self, work: Work, database: object) -> None:
        # spawn: a fork would copy the locks of other threads in whatever state they are
        context = multiprocessing.get_context("spawn")
        self.connection, theirs = context.Pipe()
        self.process: SpawnProcess = context.Process(target=_serve, args=(theirs, work, database), daemon=True)
        self.process.start()
        theirs.close()
        self.task: Task | None = None
        self.since = 0.0

    def give(self, task: Task) -> bool:
        """Hand over a task; False where the process is gone."""
        try:
            self.connection.send(task)
        except OSError:
            return False
        self.task, self.since = task, time.monotonic()
        return True

    def outcome(self) -> Outcome | None:
        """What came of the task; None where the process died over it."""
        try:
            outcome = self.connection.recv()
        except (EOFError, OSError):
            return None
        self.task = None
        return outcome if isinstance(outcome, Outcome) else None

    def end(self) -> None:
        """End the process, whatever it does."""
        self.connection.close()
        if self.task is not None:
            self.process.kill()
        self.process.join(5)
        if self.process.is_alive():
            self.process.kill()
            self.process.join()


def _serve(connection: Connection, work: Work, database: object) -> None:
    """What a worker process does until nobody sends it tasks any more."""
    # Ctrl-C goes to the whole group of processes; the one that leads decides
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(EOFError, OSError):
        while True:
            connection.send(work(connection.recv(), database))

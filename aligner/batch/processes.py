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
from typing import TYPE_CHECKING

from aligner.batch.work import Outcome, Task, work
from aligner.errors import InputError

if TYPE_CHECKING:
    from aligner.batch.database import Database

Work = Callable[[Task, "Database | None"], Outcome]

DEATHS = 2
"""Workers that a talk may kill before it is set aside."""

_IDLE_DEATHS = 3
"""Workers in a row that may die before they have any talk."""


class WorkersError(InputError):
    """There are no workers to do the work."""


def set_aside(task: Task, where: str) -> Outcome:
    """The outcome of a talk that killed its worker too often."""
    sentence = f"{where} died {DEATHS} times over this talk (killed, or out of memory); it was set aside, try it alone."
    return Outcome(task.name, task.key, "failed", sentence)


def run_on_processes(
    tasks: Iterable[Task],
    number: int,
    database: Database | None = None,
    *,
    limit: float | None = None,
    work: Work = work,
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
    crew = _Crew(iter(tasks), number, database, limit, work)
    try:
        while True:
            # the free are given new work before anyone looks at what is done
            crew.hand_out()
            while crew.finished:
                yield crew.finished.popleft()
            if not crew.busy():
                return
            crew.wait()
    finally:
        for worker in crew.workers:
            worker.end()


class _Crew:
    """The workers of one run, the tasks that a death left undone, and the outcomes nobody has seen yet."""

    def __init__(
        self, tasks: Iterator[Task], number: int, database: Database | None, limit: float | None, work: Work
    ) -> None:
        self.tasks = tasks
        self.number = number
        self.database = database
        self.limit = limit
        self.work = work
        self.workers: list[_Worker] = []
        self.again: deque[Task] = deque()
        self.finished: deque[Outcome] = deque()
        self.deaths: dict[str, int] = {}
        self.idle_deaths = 0

    def busy(self) -> list[_Worker]:
        """The workers that have a task."""
        return [worker for worker in self.workers if worker.task is not None]

    def hand_out(self) -> None:
        """Give every free worker a task, as far as there are tasks."""
        while len(self.busy()) < self.number:
            task = self.again.popleft() if self.again else next(self.tasks, None)
            if task is None:
                return
            worker = next((worker for worker in self.workers if worker.task is None), None)
            if worker is None:
                worker = _Worker(self.work, self.database)
                self.workers.append(worker)
            if not worker.give(task):
                self.again.appendleft(task)
                self._dismiss(worker)
                self.idle_deaths += 1
                if self.idle_deaths > _IDLE_DEATHS:
                    raise WorkersError("the worker processes die as soon as they begin; is memory short?")

    def wait(self) -> None:
        """Wait until something is done, somebody is dead or the time of a talk is over."""
        busy, limit = self.busy(), self.limit
        timeout = None if limit is None else max(0.0, min(worker.since for worker in busy) + limit - time.monotonic())
        ready = wait([worker.connection for worker in busy], timeout)
        for worker in busy:
            task = worker.task
            assert task is not None
            if worker.connection in ready:
                outcome = worker.outcome()
                if outcome is not None:
                    self.idle_deaths = 0
                    self.finished.append(outcome)
                    continue
                self.deaths[task.name] = self.deaths.get(task.name, 0) + 1
                if self.deaths[task.name] >= DEATHS:
                    self.finished.append(set_aside(task, "the process"))
                else:
                    self.again.append(task)
                self._dismiss(worker)
            elif limit is not None and time.monotonic() - worker.since >= limit:
                sentence = f"this talk took longer than {limit:g} seconds and was set aside; see --time-limit."
                self.finished.append(Outcome(task.name, task.key, "failed", sentence, took=limit))
                self._dismiss(worker)

    def _dismiss(self, worker: _Worker) -> None:
        worker.end()
        self.workers.remove(worker)


class _Worker:
    """A process and the line to it."""

    def __init__(self, work: Work, database: Database | None) -> None:
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


def _serve(connection: Connection, work: Work, database: Database | None) -> None:
    """What a worker process does until nobody sends it tasks any more."""
    # Ctrl-C goes to the whole group of processes; the one that leads decides
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(EOFError, OSError):
        while True:
            connection.send(work(connection.recv(), database))

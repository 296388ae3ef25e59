"""Workers on a cluster: those of a scheduler of Dask's `distributed`, which exist already and may come and go.

One talk at a time for each worker, and each talk sent to a worker by name, so that a worker's death is charged to the
talk it was working on and to no other.
"""

from __future__ import annotations

import logging
import time
import uuid
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from importlib import import_module
from typing import TYPE_CHECKING, Any

from aligner.batch.processes import DEATHS, Work, WorkersError, set_aside
from aligner.batch.program import program_hash
from aligner.batch.work import Outcome, Task, work
from aligner.errors import InputError

if TYPE_CHECKING:
    from aligner.batch.database import Database

_PATIENCE = 0.2
"""Seconds between two looks at the workers."""

_databases: dict[str, Database | None] = {}
"""On a worker: the database of scores, by the name of the run."""


def run_on_cluster(
    tasks: Iterable[Task],
    address: str,
    database: Database | None = None,
    *,
    say: Callable[[str], None] = lambda sentence: None,
    work: Work = work,
    wait: float = 600.0,
) -> Iterator[Outcome]:
    """Do all tasks on the workers of a scheduler; outcomes come as they are done.

    Args:
        tasks: taken one by one, when a worker is free.
        address: of the scheduler, such as tcp://host:8786.
        database: of scores, sent to each worker once.
        say: told, in sentences, about workers that cannot be used.
        work: what is done.
        wait: seconds to wait for a worker while there is none.

    Raises:
        InputError: the library is not installed, or the scheduler does not answer.
        WorkersError: no worker can be used, for longer than `wait`.
    """
    try:
        distributed: Any = import_module("distributed")
    except ImportError:
        raise InputError("a cluster needs Dask's distributed; install aligner[cluster].", "--cluster") from None
    # its warnings about lost workers are what this module deals with
    for name in ("distributed", "tornado"):
        logging.getLogger(name).setLevel(logging.CRITICAL)
    try:
        client = distributed.Client(address, timeout=20, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        reason = " ".join(str(error).split())[:200]
        raise InputError(f"no scheduler answers there ({reason}); check the address.", address) from None
    run = _Run(distributed, client, database, say, work)
    try:
        yield from run.outcomes(iter(tasks), wait)
    except (OSError, TimeoutError) as error:
        raise InputError(f"the scheduler is gone ({error}); what is done is kept, call again.", address) from None
    finally:
        with suppress(Exception):
            client.cancel(run.futures(), force=True)
        with suppress(Exception):
            client.close(timeout=5)


class _Run:
    """One run on a cluster.

    `waiting` holds tasks to do again; `busy` and `preparing` hold a future by the address of its worker.
    """

    def __init__(
        self, distributed: Any, client: Any, database: Database | None, say: Callable[[str], None], work: Work
    ) -> None:
        self.distributed = distributed
        self.client = client
        self.database = database
        self.say = say
        self.work = work
        self.name = uuid.uuid4().hex
        self.waiting: deque[Task] = deque()
        self.deaths: dict[str, int] = {}
        self.busy: dict[str, tuple[Any, Task]] = {}
        self.preparing: dict[str, Any] = {}
        self.ready: set[str] = set()
        self.unusable: set[str] = set()
        self.count = 0

    def futures(self) -> list[Any]:
        """All that is under way."""
        return [future for future, _ in self.busy.values()] + list(self.preparing.values())

    def outcomes(self, tasks: Iterator[Task], wait: float) -> Iterator[Outcome]:
        """Hand out the tasks, gather what comes of them."""
        task = next(tasks, None)
        alone_since = time.monotonic()
        while task is not None or self.waiting or self.busy:
            workers = set(self.client.nthreads())
            outcomes = [*self._gather(), *self._bury(workers)]
            self._prepare(workers)
            for address in sorted(self.ready - set(self.busy)):
                given = self.waiting.popleft() if self.waiting else task
                if given is None:
                    break
                if given is task:
                    task = next(tasks, None)
                self._submit(address, given)
            # the free have new work before anyone looks at what is done
            yield from outcomes
            if self.ready:
                alone_since = time.monotonic()
            elif time.monotonic() - alone_since > wait:
                raise WorkersError(f"no worker of the cluster was usable for {wait:g} seconds; what is done is kept.")
            if self.futures():
                with suppress(TimeoutError), self.client.as_current():
                    self.distributed.wait(self.futures(), timeout=_PATIENCE, return_when="FIRST_COMPLETED")
            elif task is not None or self.waiting:
                time.sleep(_PATIENCE)

    def _bury(self, workers: set[str]) -> Iterator[Outcome]:
        """Charge the talks of workers that are gone."""
        self.ready &= workers
        for address in [address for address in self.preparing if address not in workers]:
            self.preparing.pop(address).cancel(force=True)
        for address in [address for address in self.busy if address not in workers]:
            future, task = self.busy.pop(address)
            if future.status == "finished":
                with suppress(Exception):
                    yield future.result(timeout=5)
                    continue
            future.cancel(force=True)
            yield from self._died(task)

    def _died(self, task: Task) -> Iterator[Outcome]:
        self.deaths[task.name] = self.deaths.get(task.name, 0) + 1
        if self.deaths[task.name] >= DEATHS:
            yield set_aside(task, "the worker")
        else:
            self.waiting.append(task)

    def _prepare(self, workers: set[str]) -> None:
        for address in workers - self.ready - self.unusable - set(self.preparing):
            self.preparing[address] = self.client.submit(
                prepare, self.name, self.database,
                workers=[address], key=f"aligner-prepare-{uuid.uuid4().hex}", pure=False, retries=0,
            )  # fmt: skip
        for address, future in list(self.preparing.items()):
            if not future.done():
                continue
            del self.preparing[address]
            if future.status == "finished" and future.result() == program_hash():
                self.ready.add(address)
                continue
            self.unusable.add(address)
            why = "has another version of aligner" if future.status == "finished" else "cannot load aligner"
            self.say(f"the worker at {address} {why} and gets no talks; install the same version there.")

    def _submit(self, address: str, task: Task) -> None:
        self.count += 1
        future = self.client.submit(
            work_there, self.name, self.work, task,
            workers=[address], key=f"aligner-{self.name}-{self.count}", pure=False, retries=0,
        )  # fmt: skip
        self.busy[address] = (future, task)

    def _gather(self) -> Iterator[Outcome]:
        for address, (future, task) in list(self.busy.items()):
            if not future.done():
                continue
            del self.busy[address]
            outcome = None
            with suppress(Exception):
                outcome = future.result(timeout=30)
            if isinstance(outcome, Outcome):
                yield outcome
            else:
                self.ready.discard(address)
                yield from self._died(task)


def prepare(run: str, database: Database | None) -> str:
    """On a worker: keep the database, and tell which program is installed here."""
    _databases.clear()
    _databases[run] = database
    return program_hash()


def work_there(run: str, work: Work, task: Task) -> Outcome:
    """On a worker: do one talk."""
    return work(task, _databases.get(run))

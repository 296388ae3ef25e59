"""A run over an archive: what is left to do is done, written and entered, and nothing is done twice."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from aligner.batch.jobs import OWN_FOLDER, Job
from aligner.batch.journal import Entry, Journal, file_hash, text_hash
from aligner.batch.outputs import OUTPUTS, RECORD
from aligner.batch.report import report_json
from aligner.batch.tasks import Settings, make_task, output_path, size_of, task_key
from aligner.batch.work import Outcome, Task
from aligner.errors import AlignerError, InputError
from aligner.files import same_file, write_files
from aligner.record.model import Record

_DRAFT = re.compile(r"\.[0-9a-f]{16}\.draft")
"""What `write_files` calls a file that it has not finished."""

Pool = Callable[[Iterable[Task]], Iterator[Outcome]]
"""What does the work: `run_on_processes` or `run_on_cluster`, with all but the tasks given."""


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a run is.

    Attributes:
        settled: talks that are settled, earlier runs included.
        total: talks of the run.
        name: of the talk settled last.
        seconds_left: as far as the talks so far tell; None before the first.
    """

    settled: int
    total: int
    name: str
    seconds_left: float | None


@dataclass(frozen=True, slots=True)
class Summary:
    """What a run leaves.

    Attributes:
        entries: of the talks that are settled, in order of the jobs.
        left: names of those that are not, after an interruption.
        fresh: talks settled by this run.
    """

    entries: tuple[Entry, ...]
    left: tuple[str, ...]
    fresh: int


def run_batch(
    jobs: Sequence[Job],
    settings: Settings,
    pool: Pool,
    *,
    progress: Callable[[Progress], None] | None = None,
) -> Summary:
    """Do what is left to do, and write the report, also when the run is interrupted.

    Raises:
        InputError: an output would destroy an input, the folder cannot be written, or another run writes there.
    """
    began = time.monotonic()
    _protect(jobs, settings)
    own = settings.folder / OWN_FOLDER
    try:
        own.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"the folder cannot be made ({error.strerror}); name another.", str(settings.folder)) from None
    with Journal(own / "journal.jsonl") as journal:
        _sweep(settings.folder)
        run = _Run(jobs, settings, journal, progress)
        try:
            run.work(pool)
        finally:
            entries = tuple(journal.entries[job.name] for job in jobs if job.name in run.settled)
            left = tuple(job.name for job in jobs if job.name not in run.settled)
            report = report_json(entries, left, run.fresh, time.monotonic() - began)
            write_files({own / "report.json": report})
    return Summary(entries, left, run.fresh)


def _sweep(folder: Path) -> None:
    """Take away drafts that a killed run left; nobody else writes here while the journal is locked."""
    for draft in folder.rglob(".*.draft"):
        if _DRAFT.fullmatch(draft.name):
            with suppress(OSError):
                draft.unlink()


def _protect(jobs: Sequence[Job], settings: Settings) -> None:
    inputs = {path.name for job in jobs for path in (job.captions, job.score) if path is not None}
    for job in jobs:
        for output in settings.outputs.values():
            path = output_path(settings.folder, job.name, output)
            if path.name not in inputs:
                continue
            for other in jobs:
                for source in (other.captions, other.score):
                    if source is not None and source.name == path.name and same_file(path, source):
                        what = "this output is one of the inputs, which would be lost; name another folder with --out."
                        raise InputError(what, str(path))


class _Run:
    def __init__(
        self,
        jobs: Sequence[Job],
        settings: Settings,
        journal: Journal,
        progress: Callable[[Progress], None] | None,
    ) -> None:
        self.jobs = jobs
        self.settings = settings
        self.journal = journal
        self.progress = progress
        self.settled: set[str] = set()
        self.fresh = 0
        self._weights: dict[str, int] = {}
        self._began = time.monotonic()

    def work(self, pool: Pool) -> None:
        todo: list[Job] = []
        for job in self.jobs:
            if self._is_settled(job):
                self.settled.add(job.name)
            else:
                todo.append(job)
                self._weights[job.name] = size_of(job.captions)
        self._began = time.monotonic()
        self._all = self._left = sum(self._weights.values())
        self._tell("")
        outcomes = pool(self._tasks(todo))
        try:
            for outcome in outcomes:
                self._settle(outcome)
        finally:
            close = getattr(outcomes, "close", None)
            if close is not None:
                close()

    def _tasks(self, todo: Iterable[Job]) -> Iterator[Task]:
        """The tasks, each read when it is asked for; what cannot even be read is settled at once."""
        for job in todo:
            try:
                task = make_task(job, self.settings)
            except AlignerError as error:
                self._settle(Outcome(job.name, task_key(job, self.settings), "failed", str(error)))
            else:
                yield task

    def _settle(self, outcome: Outcome) -> None:
        figures = {name: getattr(outcome, name) for name in ("words", "minutes", "mentions", "doubts", "findings")}
        figures["took"] = round(outcome.took, 3)
        hashes = {name: text_hash(text) for name, text in outcome.texts.items()}
        entry = Entry(outcome.name, outcome.key, outcome.status, outcome.sentence, outcome.score, figures, hashes)
        if outcome.usable:
            self.journal.begin(entry)
            folder, outputs = self.settings.folder, self.settings.outputs
            _write({output_path(folder, outcome.name, outputs[name]): text for name, text in outcome.texts.items()})
            if self.settings.filling is not None:
                self.settings.filling.add(output_path(folder, outcome.name, OUTPUTS[RECORD]), outcome.rows)
        self.journal.settle(entry)
        self.settled.add(outcome.name)
        self.fresh += 1
        self._left -= self._weights.get(outcome.name, 0)
        self._tell(outcome.name)

    def _record(self, path: Path) -> Record:
        from aligner.record.document import record_from_json

        return record_from_json(path.read_text(encoding="utf-8"), path.name)

    def _is_settled(self, job: Job) -> bool:
        """Whether nothing is left to do for a talk; outputs that are missing are made from its record."""
        entry = self.journal.entries.get(job.name)
        begun = self.journal.writing.get(job.name)
        if entry is None and begun is None:
            return False
        key = task_key(job, self.settings)
        if begun is not None and begun.key == key and begun.outputs:
            files = {name: self._path(job, name) for name in begun.outputs if name in OUTPUTS}
            if all(file_hash(path) == begun.outputs[name] for name, path in files.items()):
                if self.settings.filling is not None:
                    self.settings.filling.add(self._path(job, RECORD), None)
                self.journal.settle(begun)
                entry = begun
        if entry is None or entry.key != key:
            return False
        if entry.status == "failed":
            return not self.settings.retry
        record = self._path(job, RECORD)
        if not record.is_file():
            return False
        filling = self.settings.filling
        if filling is not None and record not in filling:
            filling.add(record, None)
        missing = [name for name in self.settings.outputs if not self._path(job, name).is_file()]
        if not missing:
            return True
        try:
            made = self._record(record)
            texts = {name: self.settings.outputs[name].text(made) for name in missing}
        except (AlignerError, OSError, ValueError):
            return False
        _write({self._path(job, name): text for name, text in texts.items()})
        self.journal.settle(replace(entry, outputs={**entry.outputs, **{n: text_hash(t) for n, t in texts.items()}}))
        return True

    def _path(self, job: Job, name: str) -> Path:
        return output_path(self.settings.folder, job.name, OUTPUTS[name])

    def _tell(self, name: str) -> None:
        if self.progress is None:
            return
        done = self._all - self._left
        left = (time.monotonic() - self._began) * self._left / done if done > 0 else None
        self.progress(Progress(len(self.settled), len(self.jobs), name, left))


def _write(texts: Mapping[Path, str]) -> None:
    for path in texts:
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise InputError(f"this folder cannot be made ({error.strerror}).", str(path.parent)) from None
    write_files(texts)

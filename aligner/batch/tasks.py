"""From a job to the task a worker is given, and the hash that tells whether it was done before."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from aligner.batch.jobs import Job
from aligner.batch.journal import file_hash
from aligner.batch.outputs import RECORD, Output
from aligner.batch.program import program_hash
from aligner.batch.work import Task
from aligner.errors import InputError

if TYPE_CHECKING:
    from aligner.batch.database import Database
    from aligner.batch.filling import Filling


@dataclass(frozen=True, slots=True)
class Settings:
    """How a run is to be done.

    Attributes:
        folder: for the outputs.
        outputs: by name.
        database: in which scores are found; None for none.
        filling: the catalogue that the talks are entered into; None for none.
        shared: whether the workers see the same folders and read and write files themselves.
        retry: whether talks that failed are tried again.
    """

    folder: Path
    outputs: Mapping[str, Output]
    database: Database | None = None
    filling: Filling | None = None
    shared: bool = False
    retry: bool = False


def output_path(folder: Path, name: str, output: Output) -> Path:
    """Where an output of a talk stands."""
    return folder.joinpath(*f"{name}{output.ending}".split("/"))


def make_task(job: Job, settings: Settings) -> Task:
    """The task of a job, with its files read.

    Raises:
        AlignerError: one of them cannot be read.
    """
    from aligner.batch.filling import catalogue_name
    from aligner.captions.decoding import read_bytes
    from aligner.pgn.reader import read_scores
    from aligner.pins.sidecar import read_pins, sidecar_of

    if job.fault:
        raise InputError(job.fault)
    data = read_bytes(job.captions, job.captions.name)
    scores = read_scores(job.score) if job.score is not None else ()
    shared = settings.shared
    files = {name: output_path(settings.folder, job.name, output) for name, output in settings.outputs.items()}
    return Task(
        name=job.name,
        key=task_key(job, settings, data),
        file=job.captions.name,
        captions=b"" if shared else data,
        path=str(job.captions.resolve()) if shared else "",
        scores=scores,
        game_number=job.game_number,
        fen=job.fen,
        title=job.title,
        media=job.media,
        outputs=tuple(settings.outputs),
        files={name: str(path.resolve()) for name, path in files.items()} if shared else {},
        find=settings.database is not None and not scores,
        pins=read_pins(sidecar_of(job.captions)),
        entry=catalogue_name(files[RECORD]) if settings.filling is not None else "",
    )


def task_key(job: Job, settings: Settings, data: bytes | None = None) -> str:
    """Hash of all that a talk's result depends on: contents, not dates, and the program itself."""
    from aligner.pins.sidecar import sidecar_of

    captions = hashlib.sha256(data).hexdigest() if data is not None else file_hash(job.captions)
    score = file_hash(job.score) if job.score is not None else ""
    database = settings.database.digest if settings.database is not None and job.score is None else ""
    parts = [
        program_hash(), job.captions.name, captions, file_hash(sidecar_of(job.captions)), score, database,
        job.title, job.media, job.fen, job.game_number, job.fault,
    ]  # fmt: skip
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()


def size_of(path: Path) -> int:
    """Bytes of a file, at least 1: how much work a talk is, as far as anyone knows before it is read."""
    try:
        return max(path.stat().st_size, 1)
    except OSError:
        return 1

"""One talk's work, wherever it is done: from the bytes of its captions to its outputs, or to the sentence why not."""

from __future__ import annotations

import os
import time
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from aligner.errors import AlignerError
from aligner.pgn.score import Score
from aligner.pins.pin import Pin
from aligner.record.model import Record

if TYPE_CHECKING:
    from aligner.batch.database import Database
    from aligner.catalogue.prepare import TalkRows

DOUBTFUL_MENTION = 0.8
"""Mentions below this confidence are doubtful."""

DOUBTFUL_SHARE = 0.25
"""A talk of whose mentions more than this share are doubtful is doubtful as a whole, and wants a person's look."""


@dataclass(frozen=True, slots=True)
class Task:
    """What a worker needs for one talk; no file, unless it sees the same folder.

    Attributes:
        name: of the talk.
        key: hash of all that its result depends on.
        file: name of the captions file, for messages and the record.
        captions: its bytes; empty where the worker reads `path`.
        path: of the captions, where the worker sees the same folder; else "".
        scores: of the talk.
        game_number: 1-based place of the score to take.
        fen: start position where there is no score.
        title: of the talk.
        media: address of the sound or film.
        outputs: names of the outputs to make.
        files: path of each output, by name, where the worker is to write them itself.
        find: whether a score is to be looked for in the database.
        pins: what a person has settled about the talk.
        entry: what the talk is called in the catalogue that its rows are prepared for; "" for none.
    """

    name: str
    key: str
    file: str
    captions: bytes
    path: str = ""
    scores: tuple[Score, ...] = ()
    game_number: int | None = None
    fen: str | None = None
    title: str | None = None
    media: str | None = None
    outputs: tuple[str, ...] = ("json",)
    files: Mapping[str, str] = field(default_factory=dict)
    find: bool = False
    pins: tuple[Pin, ...] = ()
    entry: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one talk.

    Attributes:
        name: of the talk.
        key: of its task.
        status: "done", "doubtful" or "failed".
        sentence: why it failed or is doubtful; else "".
        words: of the talk.
        minutes: of the talk.
        mentions: of moves.
        doubts: mentions that are doubtful.
        findings: misnamed moves and false statements.
        score: how the score was come by: "given", "found", "none".
        took: seconds of work.
        texts: the outputs by name; empty where the worker wrote them.
        rows: of the talk, prepared for the catalogue; None where none were asked for.
    """

    name: str
    key: str
    status: str
    sentence: str = ""
    words: int = 0
    minutes: float = 0.0
    mentions: int = 0
    doubts: int = 0
    findings: int = 0
    score: str = "none"
    took: float = 0.0
    texts: Mapping[str, str] = field(default_factory=dict)
    rows: TalkRows | None = None

    @property
    def usable(self) -> bool:
        """Whether there are outputs."""
        return self.status != "failed"


def work(task: Task, database: Database | None = None) -> Outcome:
    """Align one talk. Whatever happens comes back as an outcome, a fault of the program too.

    Args:
        task: the talk.
        database: in which to look for its score, where it has none.
    """
    began = time.perf_counter()
    try:
        return _work(task, database, began)
    except AlignerError as error:
        sentence = str(error)
    except MemoryError:
        sentence = "there was not enough memory for this talk; run it alone, or on a larger machine."
    except Exception as error:
        fault = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
        sentence = f"a fault of the program, not of the file ({' '.join(fault.split())[:300]}); please report it."
    return Outcome(task.name, task.key, "failed", sentence, took=time.perf_counter() - began)


def _work(task: Task, database: Database | None, began: float) -> Outcome:
    from aligner.batch.outputs import OUTPUTS
    from aligner.captions.decoding import decode, read_bytes
    from aligner.captions.reading import parse_captions
    from aligner.pgn.fen import parse_fen
    from aligner.pipeline import align

    data = task.captions or (read_bytes(Path(task.path), task.file) if task.path else b"")
    text, problems = decode(data, task.file)
    talk = parse_captions(text, task.file)
    if problems:
        talk = replace(talk, problems=tuple(sorted((*problems, *talk.problems), key=lambda problem: problem.line)))
    scores, score, doubt = task.scores, "given" if task.scores else "none", ""
    if task.find and database is not None and not scores:
        found = database.find(talk.words)
        scores, doubt = found.scores, found.doubt
        score = "found" if scores else "none"
    record = align(
        talk,
        scores,
        start_fen=parse_fen(task.fen) if task.fen and not scores else None,
        game_number=task.game_number,
        title=task.title,
        url=task.media,
        pins=task.pins,
    )
    if doubt:
        record = replace(record, notes=(*record.notes, doubt))
    texts = {name: OUTPUTS[name].text(record) for name in task.outputs}
    if task.files:
        from aligner.files import write_files

        for path in task.files.values():
            os.makedirs(os.path.dirname(path), exist_ok=True)
        write_files({Path(path): texts[name] for name, path in task.files.items()})
        texts = {}
    rows = None
    if task.entry:
        from aligner.catalogue.prepare import prepare

        rows = prepare(record, task.entry)
    outcome = judged(task, record, doubt)
    return replace(outcome, score=score, texts=texts, rows=rows, took=time.perf_counter() - began)


def judged(task: Task, record: Record, doubt: str = "") -> Outcome:
    """The figures of a record, and whether a person should look at it."""
    mentions = [mention for game in record.games for mention in game.mentions]
    doubts = sum(mention.confidence < DOUBTFUL_MENTION for mention in mentions)
    if not doubt and doubts > DOUBTFUL_SHARE * len(mentions):
        doubt = f"{doubts} of {len(mentions)} mentions are doubtful; look at them before you publish."
    return Outcome(
        name=task.name,
        key=task.key,
        status="doubtful" if doubt else "done",
        sentence=doubt,
        words=record.recording.words,
        minutes=round(record.recording.seconds / 60, 2),
        mentions=len(mentions),
        doubts=doubts,
        findings=sum(len(game.findings) for game in record.games),
    )

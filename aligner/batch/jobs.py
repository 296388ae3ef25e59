"""What there is to do: captions files, each with its score where it stands beside it or a list names it."""

from __future__ import annotations

import csv
import io
import os
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from aligner.errors import InputError

CAPTIONS = (".vtt", ".srt", ".sbv", ".txt")
"""Endings of the kinds of captions, in the order in which one is chosen to name a talk."""

OWN_FOLDER = "_batch"
"""Folder inside the output folder where a run keeps its state and its report."""

_COLUMNS = ("captions", "score", "name", "title", "media", "fen", "game_number")


@dataclass(frozen=True, slots=True)
class Job:
    """One talk to align.

    Attributes:
        name: of its outputs: a relative path without ending, unique in the run.
        captions: file.
        score: file with the game's score; None where there is none, or where it is to be found.
        title: of the talk.
        media: address of the sound or film.
        fen: start position where there is no score.
        game_number: 1-based place of the score in its file.
        fault: why the job cannot be done at all, a sentence; "" where it can.
    """

    name: str
    captions: Path
    score: Path | None = None
    title: str | None = None
    media: str | None = None
    fen: str | None = None
    game_number: int | None = None
    fault: str = ""


def find_jobs(source: Path, out: Path, made: Sequence[str] = ()) -> tuple[Job, ...]:
    """The talks in a folder and its subfolders, or in a list, in order of their names.

    In a folder a score belongs to the captions of the same stem. A list is CSV with a column `captions` and, where
    wanted, `score`, `name`, `title`, `media`, `fen`, `game_number`; or text with a captions file a line. Paths in a
    list count from its folder.

    Args:
        source: the folder or the list.
        out: the output folder, in which nothing is looked for.
        made: endings of outputs, which are no captions even if their last part looks so.

    Raises:
        InputError: neither a folder nor a list, or nothing in it.
    """
    if source.is_dir():
        jobs = list(_in_folder(source, out, made))
        nothing = f"no captions in this folder (files ending in {', '.join(CAPTIONS)}); name the folder they are in."
    else:
        jobs = list(_in_list(source))
        nothing = "this list names no captions; give a line to each file, or a CSV with a column `captions`."
    if not jobs:
        raise InputError(nothing, str(source))
    return _with_own_names(jobs)


def _in_folder(source: Path, out: Path, made: Sequence[str]) -> Iterator[Job]:
    outputs = os.path.realpath(out)
    inside = os.path.realpath(source) != outputs
    for folder, below, files in os.walk(source):
        below[:] = sorted(
            name for name in below
            if not name.startswith(".") and name != OWN_FOLDER
            and not (inside and os.path.realpath(os.path.join(folder, name)) == outputs)
        )  # fmt: skip
        here = set(files)
        for file in sorted(files):
            stem, ending = os.path.splitext(file)
            if ending.lower() not in CAPTIONS or file.startswith(".") or file.endswith(tuple(made)):
                continue
            score = next((name for name in (f"{stem}.pgn", f"{stem}.PGN") if name in here), None)
            path = Path(folder, file)
            name = path.relative_to(source).with_suffix("").as_posix()
            yield Job(name, path, Path(folder, score) if score else None)


def _in_list(source: Path) -> Iterator[Job]:
    try:
        text = source.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise InputError("there is no such folder or list; check the name.", str(source)) from None
    except UnicodeDecodeError as error:
        raise InputError(f"this list is no UTF-8 text (byte {error.start}); save it as UTF-8.", str(source)) from None
    except OSError as error:
        raise InputError(f"this list cannot be read ({error.strerror}).", str(source)) from None
    if "\0" in text:
        raise InputError("this is no list of captions; name a CSV or text file.", str(source))
    first = text.partition("\n")[0]
    separator = next((sign for sign in ("\t", ";", ",") if sign in first), ",")
    names = [name.strip().lower() for name in first.split(separator)]
    if "captions" not in names:
        for number, line in enumerate(text.splitlines(), start=1):
            if line.strip() and not line.lstrip().startswith("#"):
                yield _row(source, number, {"captions": line})
        return
    rows = csv.reader(io.StringIO(text), delimiter=separator, strict=False)
    next(rows)
    try:
        for row in rows:
            if any(field.strip() for field in row):
                yield _row(source, rows.line_num, dict(zip(names, row, strict=False)))
    except csv.Error as error:
        raise InputError(f"this is no CSV ({error}); mend the line.", f"{source}, line {rows.line_num}") from None


def _row(source: Path, line: int, fields: Mapping[str, str]) -> Job:
    captions, score, name, title, media, fen, number = (fields.get(column, "").strip() for column in _COLUMNS)
    where = f"{source.name}, line {line}"
    folder = source.parent
    fault = ""
    if not captions:
        fault = f"{where}: no captions are named; give a file in the column `captions`."
    if number and not (number.isascii() and number.isdigit() and int(number[:9]) > 0):
        fault = f"{where}: {number[:40]!r} is no place of a game; give a number from 1 on."
    stem = Path(captions).with_suffix("") if captions.strip("./") else Path(f"line-{line}")
    # a name keeps its folders where they are below the list, and never leads out of the output folder
    parts = [part for part in (Path(name) if name.strip("./") else stem).parts if part not in ("..", os.sep)]
    if not name and stem.is_absolute():
        parts = parts[-1:]
    return Job(
        name="/".join(part.replace(":", "_").replace("\\", "_") for part in parts) or f"line-{line}",
        captions=folder / captions,
        score=folder / score if score else None,
        title=title or None,
        media=media or None,
        fen=fen or None,
        game_number=int(number[:9]) if number and not fault else None,
        fault=fault,
    )


def _with_own_names(jobs: list[Job]) -> tuple[Job, ...]:
    """The jobs, those of one name told apart by the ending of their captions, then by number."""
    shared = Counter(job.name for job in jobs)
    taken: set[str] = set()
    named = []
    for job in jobs:
        name = f"{job.name}{job.captions.suffix}" if shared[job.name] > 1 else job.name
        number, base = 2, name
        while name in taken:
            name, number = f"{base}-{number}", number + 1
        taken.add(name)
        named.append(replace(job, name=name))
    return tuple(named)

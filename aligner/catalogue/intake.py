"""Records from files, many at a time: read and prepared by other processes while this one writes to the catalogue."""

from __future__ import annotations

import os
from codecs import BOM_UTF8
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from pathlib import Path

import msgspec

from aligner.catalogue.prepare import TalkRows, prepare
from aligner.catalogue.words import Timed, timed
from aligner.collection import collection_paused
from aligner.errors import AlignerError, InputError, RecordError
from aligner.record.document import record_from_json
from aligner.record.model import VERSION, Game, Record, Recording

_AHEAD = 64
"""Files that each process may be ahead of the writing, so that none waits while a batch is written."""
_WORTH_PROCESSES = 8
"""With fewer files than this, starting other processes takes longer than it saves."""


def record_files(paths: Iterable[Path]) -> list[Path]:
    """The files named, and the `.json` files in the folders named and below, in order.

    Raises:
        InputError: a path is not there, or nothing was found.
    """
    found: list[Path] = []
    for path in paths:
        if path.is_dir():
            inside = sorted(file for file in path.rglob("*.json") if file.is_file())
            if not inside:
                what = "there is no record (.json) in this folder; write some with `aligner align --json`."
                raise InputError(what, str(path))
            found += inside
        elif path.exists():
            found.append(path)
        else:
            raise InputError("there is no such file or folder; check its name.", str(path))
    return list(dict.fromkeys(found))


def prepare_files(
    paths: Iterable[Path], failed: Callable[[AlignerError], None], processes: int | None = None
) -> Iterator[tuple[str, TalkRows]]:
    """The rows of each file, in order, by the file's full path.

    Args:
        paths: of records.
        failed: told of every file that cannot be used; the others go on.
        processes: how many to use; None for as many as there are processors.
    """
    files = [str(path.resolve()) for path in paths]
    count = processes or min(os.cpu_count() or 1, 8)
    if count < 2 or len(files) < _WORTH_PROCESSES:
        for file in files:
            try:
                yield file, prepare_file(file)
            except AlignerError as error:
                failed(error)
        return
    with ProcessPoolExecutor(count) as pool:
        waiting: deque[tuple[str, Future[TalkRows]]] = deque()
        rest = iter(files)
        for file in rest:
            waiting.append((file, pool.submit(prepare_file, file)))
            if len(waiting) == _AHEAD * count:
                break
        while waiting:
            file, future = waiting.popleft()
            for following in rest:
                waiting.append((following, pool.submit(prepare_file, following)))
                break
            try:
                yield file, future.result()
            except AlignerError as error:
                failed(error)


def prepare_file(file: str) -> TalkRows:
    """The rows of a record in a file.

    Raises:
        RecordError: the file cannot be read or is no record.
    """
    try:
        data = Path(file).read_bytes()
    except OSError as error:
        raise RecordError(f"the file cannot be read ({error.strerror}).", file) from None
    with collection_paused():
        try:
            record, words = _quickly(data)
            return prepare(record, file, words)
        except Exception:
            pass  # whatever is wrong, the careful way says what and where
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        what = "this is not UTF-8, so no record; name a file that `aligner align --json` wrote."
        raise RecordError(what, file) from None
    return prepare(record_from_json(text, file), file)


class _Word(msgspec.Struct, gc=False):
    """What the catalogue keeps of a `SpokenWord`."""

    text: str
    start: float
    end: float


class _Plain(msgspec.Struct):
    """A `Record` with lighter words."""

    version: int
    recording: Recording
    games: tuple[Game, ...]
    words: tuple[_Word, ...]


_decoder = msgspec.json.Decoder(_Plain)


def _quickly(data: bytes) -> tuple[Record, Timed]:
    """A record without its words, and these; none of the checks is made that `prepare` makes again."""
    plain = _decoder.decode(data.removeprefix(BOM_UTF8))
    if plain.version != VERSION or not plain.games:
        raise ValueError
    words = plain.words
    columns = timed([word.text for word in words], [word.start for word in words], [word.end for word in words])
    return Record(plain.recording, plain.games, ()), columns

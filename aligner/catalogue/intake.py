"""Records from files, many at a time: read and prepared by other processes while this one writes to the catalogue."""

from __future__ import annotations

import json
import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from pathlib import Path
from typing import Any

from aligner.catalogue.prepare import TalkRows, prepare
from aligner.catalogue.words import Timed, timed
from aligner.collection import collection_paused
from aligner.errors import AlignerError, InputError, RecordError
from aligner.record.document import record_from_json
from aligner.record.model import (
    VERSION,
    Alternative,
    Finding,
    Game,
    Meant,
    Mention,
    Node,
    Record,
    Recording,
)

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
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        what = "this is not UTF-8, so no record; name a file that `aligner align --json` wrote."
        raise RecordError(what, file) from None
    except OSError as error:
        raise RecordError(f"the file cannot be read ({error.strerror}).", file) from None
    with collection_paused():
        try:
            return prepare(*_quickly(text, file))
        except (
            RecordError,
            KeyError,
            TypeError,
            ValueError,
            AttributeError,
            IndexError,
            AssertionError,
            RecursionError,
        ):
            # whatever is wrong, the careful way says what and where
            return prepare(record_from_json(text, file), file)


def _quickly(text: str, file: str) -> tuple[Record, str, Timed]:
    """What `prepare` takes, without the checks that `prepare` makes again; five times as fast."""
    plain: dict[str, Any] = json.loads(text)
    if plain["version"] != VERSION or not plain["games"]:
        raise ValueError
    games = tuple(_game(game) for game in plain["games"])
    words = plain["words"]
    columns = timed([w["text"] for w in words], [w["start"] for w in words], [w["end"] for w in words])
    recording = Recording(**plain["recording"])
    return Record(recording, games, ()), file, columns


def _game(plain: dict[str, Any]) -> Game:
    nodes = tuple(
        [
            Node(
                node["id"],
                node.get("parent"),
                node.get("uci"),
                node.get("san", ""),
                main=node.get("main", True),
                confidence=node.get("confidence", 1.0),
            )
            for node in plain["nodes"]
        ]
    )
    mentions = tuple(
        [
            Mention(
                mention["start"],
                mention["end"],
                mention["text"],
                tuple(mention["words"]),
                mention["kind"],
                tuple(mention["nodes"]),
                mention["confidence"],
                () if mention["nodes"] else tuple(Alternative(**rival) for rival in mention["alternatives"]),
            )
            for mention in plain["mentions"]
        ]
    )
    findings = []
    for finding in plain["findings"]:
        fields = dict(finding)
        fields["words"] = tuple(fields["words"])
        fields["meant"] = Meant(**fields["meant"])
        findings.append(Finding(**fields))
    return Game(plain["start_fen"], plain["headers"], nodes, mentions, tuple(findings), plain["start"], plain["end"])

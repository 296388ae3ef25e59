"""What is done, kept so that a run can be killed at any moment: a journal of one line an event, forced to the disk.

A talk's line "writing" comes before its outputs are written, with their hashes, and its line "done" after. A run that
died in between finds by the hashes whether the outputs are whole, and does nothing twice that was finished.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from aligner.errors import InputError

_FORMAT = {"journal": "aligner batch", "version": 1}
_FIGURES = ("words", "minutes", "mentions", "doubts", "findings", "took")


@dataclass(frozen=True, slots=True)
class Entry:
    """What the journal knows of a talk.

    Attributes:
        name: of the talk.
        key: hash of all that its result depends on.
        status: "done", "doubtful" or "failed".
        sentence: why it failed or is doubtful; else "".
        score: how the score was come by: "given", "found", "none".
        figures: numbers of the report, by name.
        outputs: SHA-256 of each output that was written, by name.
    """

    name: str
    key: str
    status: str
    sentence: str = ""
    score: str = "none"
    figures: Mapping[str, float] = field(default_factory=dict)
    outputs: Mapping[str, str] = field(default_factory=dict)


class Journal:
    """The journal of one output folder, locked against a second run.

    Args:
        path: of the file; its folder exists.

    Raises:
        InputError: another run holds it, it is no journal, or the system refuses.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.entries: dict[str, Entry] = {}
        self.writing: dict[str, Entry] = {}
        try:
            self._file = open(path, "a+b")  # noqa: SIM115  closed by `close`
        except OSError as error:
            raise InputError(f"the journal of the run cannot be written ({error.strerror}).", str(path)) from None
        try:
            self._lock()
            self._load()
        except BaseException:
            self._file.close()
            raise

    def __enter__(self) -> Journal:
        return self

    def __exit__(self, *raised: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._file.close()

    def begin(self, entry: Entry) -> None:
        """The talk's outputs are about to be written."""
        self._append("writing", entry)

    def settle(self, entry: Entry) -> None:
        """The talk is done, or has failed for good."""
        self._append("settled", entry)
        self.entries[entry.name] = entry
        self.writing.pop(entry.name, None)

    def _lock(self) -> None:
        try:
            import fcntl
        except ImportError:  # a system without such locks
            return
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            what = "another run is writing into this folder; wait for it, or name another folder."
            raise InputError(what, str(self.path.parent.parent)) from None

    def _load(self) -> None:
        self._file.seek(0)
        data = self._file.read()
        whole = data.rfind(b"\n") + 1
        if whole < len(data):
            # the line that a killed run could not finish
            self._file.truncate(whole)
        lines = data[:whole].splitlines()
        if not lines:
            self._write(_FORMAT)
            return
        if _parsed(lines[0]) != _FORMAT:
            raise InputError("this is no journal of a run, or a newer program's; move it away.", str(self.path))
        for line in lines[1:]:
            row = _parsed(line)
            entry = _entry(row) if row is not None else None
            if row is None or entry is None:
                continue
            if row.get("event") == "settled":
                self.entries[entry.name] = entry
                self.writing.pop(entry.name, None)
            else:
                self.writing[entry.name] = entry

    def _append(self, event: str, entry: Entry) -> None:
        row = {"event": event, "name": entry.name, "key": entry.key, "status": entry.status}
        if entry.sentence:
            row["sentence"] = entry.sentence
        self._write({**row, "score": entry.score, **entry.figures, "outputs": dict(entry.outputs)})

    def _write(self, row: Mapping[str, Any]) -> None:
        try:
            self._file.write(json.dumps(row, ensure_ascii=True).encode() + b"\n")
            self._file.flush()
            os.fsync(self._file.fileno())
        except OSError as error:
            raise InputError(f"the journal of the run cannot be written ({error.strerror}).", str(self.path)) from None


def text_hash(text: str) -> str:
    """SHA-256, hexadecimal, of a text as `write_files` writes it."""
    return hashlib.sha256(text.encode("utf-8", errors="replace")).hexdigest()


def file_hash(path: Path) -> str:
    """SHA-256, hexadecimal, of a file; "" where it cannot be read."""
    try:
        with open(path, "rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


def _parsed(line: bytes) -> dict[str, Any] | None:
    try:
        row = json.loads(line)
    except ValueError:
        return None
    return row if isinstance(row, dict) else None


def _entry(row: Mapping[str, Any]) -> Entry | None:
    try:
        return Entry(
            name=str(row["name"]),
            key=str(row["key"]),
            status=str(row["status"]),
            sentence=str(row.get("sentence", "")),
            score=str(row.get("score", "none")),
            figures={name: row[name] for name in _FIGURES if isinstance(row.get(name), int | float)},
            outputs={str(name): str(value) for name, value in dict(row.get("outputs", {})).items()},
        )
    except (KeyError, TypeError, ValueError):
        return None

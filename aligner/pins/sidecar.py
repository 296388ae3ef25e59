"""The sidecar file `TALK.settled.toml`: settled decisions as TOML 1.0, readable, diffable, replaced in one step.

The file may come from anyone: sizes, types and texts are checked before anything is believed.
"""

from __future__ import annotations

import os
import re
import stat
import tomllib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from aligner.captions.timecode import clock
from aligner.errors import InputError
from aligner.pins.pin import BACK, DECISIONS, INFERRED, MOVE, Anchor, Pin, in_order

SUFFIX = ".settled.toml"
VERSION = 1
LARGEST = 8_000_000
"""Bytes; some fifty thousand decisions."""
_LONGEST_TEXT = 2_000
_LONGEST_LINE = 1_000
_LARGEST_NUMBER = 1_000_000_000
_CLOCK = re.compile(r"(?:(\d{1,4}):)?(\d{1,2}):(\d{2})(?:\.(\d{1,3}))?")
_NUMBER = re.compile(r"\d+\.+")
_SAN = re.compile(r"[A-Za-z][A-Za-z0-9=+#-]{1,9}")
_KEYS = {"at", "until", "words", "before", "after", "as", "in", "line", "spoken", "again", "number"}
_HEAD = (
    "# Decisions about the talk {name}, settled by hand; `aligner` reads them with the captions.\n"
    "# Each is tied to its words and the words around them, so it survives new captions of the same talk.\n"
)


def sidecar_of(captions: Path) -> Path:
    """Where the decisions about a talk are kept: beside its captions, `talk.vtt` gives `talk.settled.toml`."""
    return captions.with_name(captions.stem + SUFFIX)


def read_pins(path: Path) -> tuple[Pin, ...]:
    """The decisions in a sidecar file, in order of time; none where there is no such file.

    Raises:
        InputError: the file cannot be read, or is no sidecar file.
    """
    try:
        with open(path, "rb") as file:
            data = file.read(LARGEST + 1)
    except FileNotFoundError:
        return ()
    except OSError as error:
        raise InputError(f"the settled decisions cannot be read ({error.strerror}).", str(path)) from None
    if len(data) > LARGEST:
        megabytes = LARGEST // 1_000_000
        raise InputError(f"this file is larger than {megabytes} MB, so it holds no settled decisions.", path.name)
    try:
        return parse_pins(data.decode("utf-8"), path.name)
    except UnicodeDecodeError as error:
        raise InputError(f"this is no UTF-8 text (byte {error.start}); mend it or move it away.", path.name) from None


def parse_pins(text: str, name: str) -> tuple[Pin, ...]:
    """The decisions in the text of a sidecar file; `name` is what messages call it.

    Raises:
        InputError: it is no TOML, or something in it is not what it should be.
    """
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise InputError(f"this is no TOML ({error}); mend it or move it away.", name) from None
    version = data.get("version", VERSION)
    if type(version) is not int or not 1 <= version <= VERSION:
        raise InputError(f"these decisions have version {version!r:.40}; this program knows version {VERSION}.", name)
    rows = data.get("settled", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise InputError("`settled` must be tables, [[settled]]; mend it or move the file away.", name)
    pins = [_pin(row, f"{name}, decision {place}") for place, row in enumerate(rows, start=1)]
    return in_order(pins)


def pins_text(pins: Sequence[Pin], name: str, start_fen: str = "") -> str:
    """The text of a sidecar file; the same decisions give the same text.

    Args:
        pins: in any order.
        name: of the captions file, for the heading.
        start_fen: the position that lines begin from, for their move numbers; the usual one where empty.
    """
    parts = [_HEAD.format(name=" ".join(_printable(name).split()) or "?"), f"version = {VERSION}\n"]
    for pin in in_order(pins):
        parts.append("\n[[settled]]\n")
        parts += [f"{key} = {value}\n" for key, value in _row(pin, start_fen)]
    return "".join(parts)


Change = Callable[[tuple[Pin, ...]], Sequence[Pin]]
"""From the decisions that there are to those that there shall be."""


def change_pins(captions: Path, change: Change, start_fen: str = "") -> tuple[Pin, ...]:
    """Change the decisions about a talk and write them in one step; returns the new ones.

    After a crash at any moment the file holds either all the old decisions or all the new ones. Programs that settle
    the same talk at once wait for each other (a lock on the captions), so that no decision is lost between them.

    Raises:
        InputError: the file cannot be read or written, or is no sidecar file.
    """
    path = sidecar_of(captions)
    with _alone(captions):
        pins = in_order(change(read_pins(path)))
        try:
            _replace(path, pins_text(pins, captions.name, start_fen))
        except OSError as error:
            what = f"the decision cannot be kept, as this file cannot be written ({error.strerror}); check its folder."
            raise InputError(what, str(path)) from None
    return pins


def tidy(captions: Path) -> None:
    """Remove what a crash in the middle of writing has left."""
    with suppress(OSError), _alone(captions):
        os.unlink(_draft_of(os.path.realpath(sidecar_of(captions))))


def _replace(path: Path, text: str) -> None:
    # nobody else writes meanwhile, so one name is enough for drafts, and a crash can't leave more than one
    target = os.path.realpath(path)
    draft = _draft_of(target)
    with suppress(FileNotFoundError):
        os.unlink(draft)
    with open(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666), "wb") as file:
        file.write(text.encode("utf-8", "replace"))
        file.flush()
        os.fsync(file.fileno())
    with suppress(FileNotFoundError):
        os.chmod(draft, stat.S_IMODE(os.stat(target).st_mode))
    os.replace(draft, target)


def _draft_of(target: str) -> str:
    folder, name = os.path.split(target)
    return os.path.join(folder, f".{name}.draft")


@contextmanager
def _alone(captions: Path) -> Iterator[None]:
    try:
        import fcntl
    except ImportError:  # no such locks on this system
        yield
        return
    try:
        file = open(captions, "rb")  # noqa: SIM115
    except OSError as error:
        raise InputError(f"the captions cannot be read ({error.strerror}); check their name.", str(captions)) from None
    with file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def clock_value(text: str) -> int | None:
    """Milliseconds of a time like 7:12, 1:07:12.500 or 432.5; None where it is none."""
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        if re.fullmatch(r"\d{1,7}(?:\.\d{1,3})?", text.strip()):
            return round(float(text) * 1000)
        return None
    hours, minutes, seconds, fraction = match.groups()
    if int(seconds) > 59 or (hours and int(minutes) > 59):
        return None
    whole = int(hours or 0) * 3600 + int(minutes) * 60 + int(seconds)
    return whole * 1000 + int((fraction or "0").ljust(3, "0"))


def split_line(text: str) -> tuple[str, ...] | None:
    """The moves of a line like "1. d4 d5 2. Nf3" in SAN, without their numbers; None where it is no such line."""
    tokens = _NUMBER.sub(" ", text).split()
    return tuple(tokens) if all(_SAN.fullmatch(token) for token in tokens) else None


def joined_line(line: Sequence[str], start_fen: str = "") -> str:
    """Moves in SAN as a line with numbers, that `split_line` takes apart again."""
    fields = start_fen.split()
    black_first = len(fields) > 1 and fields[1] == "b"
    number = int(fields[5]) if len(fields) > 5 and fields[5].isdigit() else 1
    parts: list[str] = []
    for place, san in enumerate(line, start=int(black_first)):
        if place % 2 == 0:
            parts.append(f"{number + place // 2}.")
        elif not parts:
            parts.append(f"{number}...")
        parts.append(san)
    return " ".join(parts)


def _row(pin: Pin, start_fen: str) -> list[tuple[str, str]]:
    row = [
        ("at", _quoted(clock(pin.anchor.at))),
        ("until", _quoted(clock(pin.anchor.until))),
        ("words", _quoted(pin.anchor.words)),
        ("before", _quoted(pin.anchor.before)),
        ("after", _quoted(pin.anchor.after)),
        ("as", _quoted(pin.decision)),
    ]
    if pin.decision in (MOVE, INFERRED):
        row += [("in", _quoted("game" if pin.in_game else "line")), ("line", _quoted(joined_line(pin.line, start_fen)))]
    if pin.spoken != 1:
        row.append(("spoken", str(pin.spoken)))
    if pin.again is not None:
        row.append(("again", "true" if pin.again else "false"))
    if pin.number:
        row.append(("number", str(pin.number)))
    return row


def _pin(row: dict[str, Any], where: str) -> Pin:
    for key in row:
        if key not in _KEYS:
            raise InputError(f"there is no {key!r:.60} in a decision; mend it or remove the line.", where)
    decision = _text(row, "as", where)
    if decision not in DECISIONS:
        known = ", ".join(f'"{one}"' for one in DECISIONS)
        raise InputError(f"`as` is {decision!r:.60}; it must be one of {known}.", where)
    at = _time(row, "at", where)
    until = _time(row, "until", where) if "until" in row else at
    words = _text(row, "words", where)
    if not words.split() and decision != BACK:
        raise InputError("`words` is empty; give the words that the decision is about.", where)
    found = Anchor(at, max(until, at), words, _text(row, "before", where, ""), _text(row, "after", where, ""))
    spoken, again = row.get("spoken", 1), row.get("again")
    if again is not None and type(again) is not bool:
        raise InputError("`again` must be true or false.", where)
    number = row.get("number", 0)
    if type(number) is not int or not 0 <= number < _LARGEST_NUMBER:
        raise InputError("`number` must be a whole number from 0 on.", where)
    if decision not in (MOVE, INFERRED):
        return Pin(found, decision, number=number)
    line = split_line(_text(row, "line", where, limit=_LONGEST_LINE * 12))
    if not line or len(line) > _LONGEST_LINE:
        raise InputError('`line` is no line of moves from the start position, like "1. e4 e5 2. Nf3".', where)
    if type(spoken) is not int or not 1 <= spoken <= len(line):
        raise InputError(f"`spoken` must be a number from 1 to the {len(line)} moves of the line.", where)
    place = _text(row, "in", where)
    if place not in ("game", "line"):
        raise InputError(f'`in` is {place!r:.60}; it must be "game" or "line".', where)
    return Pin(found, decision, line, spoken, place == "game", again, number)


def _text(row: dict[str, Any], key: str, where: str, default: str | None = None, limit: int = _LONGEST_TEXT) -> str:
    value = row.get(key, default)
    if not isinstance(value, str):
        raise InputError(f"`{key}` {'is missing' if value is None else 'must be a text in quotes'}.", where)
    if len(value) > limit:
        raise InputError(f"`{key}` is longer than {limit:,} characters.", where)
    return _printable(value)


def _time(row: dict[str, Any], key: str, where: str) -> int:
    value = row.get(key)
    found = clock_value(value) if isinstance(value, str) else None
    if isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value < 10_000_000:
        found = round(value * 1000)
    if found is None:
        raise InputError(f'`{key}` is {value!r:.60}; it must be a time like "7:12" or "1:07:12.500".', where)
    return found


def _printable(text: str) -> str:
    # control characters and half surrogate pairs have no place in a file that people read
    return "".join(sign if sign.isprintable() or sign in "\u200c\u200d" else " " for sign in text)


def _quoted(text: str) -> str:
    """A TOML basic string (TOML 1.0.0, section String)."""
    return '"' + _printable(text).replace("\\", "\\\\").replace('"', '\\"') + '"'

"""From a file's bytes to its text: which encoding, and is it text at all."""

from __future__ import annotations

import codecs
import re
from pathlib import Path

from aligner.captions.words import Problem
from aligner.errors import CaptionsError

LARGEST = 256 * 1024 * 1024
"""Bytes above which a file is refused: a hundred hours of captions with word times stay far below."""

# UTF-32 first: its little-endian mark begins with that of UTF-16.
_MARKS = (
    (codecs.BOM_UTF8, "UTF-8"),
    (codecs.BOM_UTF32_LE, "UTF-32-LE"),
    (codecs.BOM_UTF32_BE, "UTF-32-BE"),
    (codecs.BOM_UTF16_LE, "UTF-16-LE"),
    (codecs.BOM_UTF16_BE, "UTF-16-BE"),
)
_SAMPLE = 8192
_LINE_END = re.compile(r"\r\n|\r|\n")


def read_bytes(path: Path, name: str) -> bytes:
    """The bytes of a captions file.

    Raises:
        CaptionsError: it is missing, is a folder, cannot be opened, or is too large to be captions.
    """
    try:
        if path.is_dir():
            raise CaptionsError("this is a folder; name the captions file in it.", name)
        if path.exists() and path.stat().st_size > LARGEST:
            raise CaptionsError("this file is too large to be captions; is it the recording itself?", name)
        return path.read_bytes()
    except FileNotFoundError:
        raise CaptionsError("there is no such file; check the name and the folder.", name) from None
    except PermissionError:
        raise CaptionsError("the file may not be read; check its permissions.", name) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise CaptionsError(f"the file cannot be read ({reason}).", name) from None


def decode(data: bytes, name: str) -> tuple[str, list[Problem]]:
    """The text without byte order mark, and what had to be guessed about its encoding.

    Raises:
        CaptionsError: nothing in it, not text, or an encoding that cannot be told.
    """
    if not data.strip():
        raise CaptionsError("the file is empty.", name)
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            text, problems = _marked(data[len(mark) :], encoding, name)
            break
    else:
        _refuse_binary(data, name)
        text, problems = _unmarked(data, name)
    if not text.strip():
        raise CaptionsError("the file is empty.", name)
    return text, problems


def _marked(data: bytes, encoding: str, name: str) -> tuple[str, list[Problem]]:
    if encoding == "UTF-8":
        return _unmarked(data, name)
    try:
        return data.decode(encoding), []
    except UnicodeDecodeError:
        what = f"the file says it is {encoding[:6]} and is not; save it again as UTF-8."
        raise CaptionsError(what, name) from None


def _refuse_binary(data: bytes, name: str) -> None:
    # The WebVTT parser lets NUL stand in a file that carries the signature.
    if data.startswith(b"WEBVTT"):
        return
    sample = data[:_SAMPLE]
    nulls = sample.count(0)
    if nulls * 3 > len(sample) and (not any(sample[::2]) or nulls * 2 <= len(sample) + 1) and _one_sided(sample):
        raise CaptionsError("this looks like UTF-16 without its byte order mark; save it again as UTF-8.", name)
    if nulls:
        raise CaptionsError("this is not a text file; give the captions, not the recording.", name)


def _one_sided(sample: bytes) -> bool:
    """Whether the NULs stand (nearly) all at even or all at odd places, as in UTF-16 of a Latin script."""
    even, odd = sample[::2].count(0), sample[1::2].count(0)
    return min(even, odd) * 20 <= max(even, odd)


def _unmarked(data: bytes, name: str) -> tuple[str, list[Problem]]:
    try:
        return data.decode("utf-8"), []
    except UnicodeDecodeError as error:
        head = data[: error.start].decode("utf-8")
        line = 1 + sum(1 for _ in _LINE_END.finditer(head))
    mended = data.decode("utf-8", "replace")
    damaged = mended.count("�")
    # More whole characters than damaged ones beyond ASCII: UTF-8 with an accident, not another encoding.
    if sum(1 for character in mended if character > "\x7f") > 2 * damaged:
        return mended, [Problem(line, "Some bytes are not UTF-8; each was read as an unknown character.")]
    try:
        text = data.decode("cp1252")
    except UnicodeDecodeError:
        what = "the file is neither UTF-8 nor Windows-1252 text; save it again as UTF-8."
        raise CaptionsError(what, f"{name}, line {line}") from None
    return text, [Problem(line, "The file is not UTF-8; it was read as Windows-1252 (Latin-1).")]

"""Outputs: checked before the work begins, written in one step each, never over an input."""

from __future__ import annotations

import os
import secrets
import stat
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from aligner.errors import InputError


def check_outputs(outputs: Iterable[Path], inputs: Iterable[Path] = ()) -> None:
    """Refuse outputs that could not be written, or that would destroy something; nothing is written.

    Files are compared as files: links and other spellings of a path count as the same file.

    Raises:
        InputError: an output is an input, a folder or the same file as another output, or its folder is missing.
    """
    sources = list(inputs)
    others: list[Path] = []
    for output in outputs:
        if os.path.isdir(output):
            raise InputError("the output is a folder; name a file in it.", str(output))
        folder = os.path.dirname(os.path.realpath(output))
        if not _is_special(output) and not os.path.isdir(folder):
            raise InputError("there is no such folder to write into; make it first.", os.path.dirname(output) or folder)
        for source in sources:
            if same_file(output, source):
                raise InputError(
                    "this output is one of the inputs, which would be lost; name another file.", str(output)
                )
        for other in others:
            if same_file(output, other):
                raise InputError("two outputs are the same file; give each its own name.", str(output))
        others.append(output)


def same_file(one: Path, other: Path) -> bool:
    """Whether two paths lead to the same file, or would if they existed; False for devices and pipes."""
    if _is_special(one) or _is_special(other):
        return False
    try:
        return os.path.samefile(one, other)
    except OSError:
        return os.path.realpath(one) == os.path.realpath(other)


def write_files(texts: Mapping[Path, str]) -> None:
    """Write each text as UTF-8 to its path; a file that exists is replaced in one atomic step and keeps its mode.

    All texts are on the disk before the first file is replaced, so a full disk costs no old file. A link is
    followed, and what is no file (a device, a pipe) is written to as it is.

    Raises:
        InputError: the system refuses.
    """
    staged: dict[Path, tuple[str, str]] = {}
    try:
        for path, text in texts.items():
            data = text.encode("utf-8", errors="replace")
            with _told(path):
                if _is_special(path):
                    with open(path, "wb") as device:
                        device.write(data)
                else:
                    target = os.path.realpath(path)
                    draft = os.path.join(os.path.dirname(target), f".{secrets.token_hex(8)}.draft")
                    staged[path] = (draft, target)
                    _write_draft(draft, target, data)
        for path, (draft, target) in staged.items():
            with _told(path):
                os.replace(draft, target)
    finally:
        for draft, _ in staged.values():
            with suppress(OSError):
                os.unlink(draft)


def _write_draft(draft: str, target: str, data: bytes) -> None:
    # 0o666 lets the system apply the user's own mask, as for any new file
    descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    with open(descriptor, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(descriptor)
    with suppress(FileNotFoundError):
        os.chmod(draft, stat.S_IMODE(os.stat(target).st_mode))


def _is_special(path: Path) -> bool:
    """Whether the path leads to something that is neither a file nor a folder."""
    try:
        mode = os.stat(path).st_mode
    except OSError:
        return False
    return not stat.S_ISREG(mode) and not stat.S_ISDIR(mode)


@contextmanager
def _told(path: Path) -> Iterator[None]:
    try:
        yield
    except BrokenPipeError:
        raise
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise InputError(
            f"this file cannot be written ({reason}); check its folder, or name another file.", str(path)
        ) from None

"""Where growing captions come from: a file that is written to, or standard input."""

from __future__ import annotations

import os
import threading
from pathlib import Path
from typing import BinaryIO

from aligner.captions.decoding import LARGEST, read_bytes
from aligner.errors import CaptionsError


class GrowingFile:
    """A file that another program writes; it may also be replaced as a whole.

    Args:
        path: of the file.

    Raises:
        CaptionsError: it cannot be read.
    """

    ended = False

    def __init__(self, path: Path) -> None:
        self.path = path
        self._seen: tuple[int, int, int] | None = None
        read_bytes(path, path.name)

    def take(self) -> bytes | None:
        """All its bytes where it changed since the last call, else None."""
        try:
            state = os.stat(self.path)
            now = (state.st_ino, state.st_size, state.st_mtime_ns)
            if now == self._seen:
                return None
            data = read_bytes(self.path, self.path.name)
        except (OSError, CaptionsError):
            # a writer that replaces the file may leave a moment without one
            return None
        self._seen = now
        return data


class GrowingInput:
    """Standard input, read on the side so that nobody waits for it.

    Args:
        file: to read.
    """

    def __init__(self, file: BinaryIO) -> None:
        self._chunks: list[bytes] = []
        self._file = file
        self._size = 0
        self._given = 0
        self.ended = False
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def take(self) -> bytes | None:
        """All bytes so far where there are new ones since the last call, else None."""
        if self._size == self._given:
            return None
        data = b"".join(self._chunks)
        self._given = len(data)
        return data

    def _read(self) -> None:
        try:
            while self._size < LARGEST and (chunk := os.read(self._file.fileno(), 65536)):
                self._chunks.append(chunk)
                self._size += len(chunk)
        except OSError:
            pass
        self.ended = True


def whole_lines(data: bytes) -> bytes:
    """The bytes up to the last line end: a line that is still being written is not read yet."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data[: len(data) // 2 * 2]
    return data[: data.rfind(b"\n") + 1]

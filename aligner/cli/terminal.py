"""What goes to the terminal: text made safe, times as people read them, progress, standard output."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from contextlib import suppress

from aligner.errors import InputError

BROKEN_PIPE_STATUS = 141
"""Exit status where the reader of standard output has gone: 128 + SIGPIPE, as shells report it."""

_WIDTH = len("aligning 100%")


class ReaderGone(Exception):
    """Nobody reads standard output any more; no fault of anyone's."""


def say(text: str) -> None:
    """Print to standard error; silent where nobody listens there any more."""
    try:
        print(text, file=sys.stderr, flush=True)
    except UnicodeEncodeError:
        print(text.encode("ascii", "replace").decode("ascii"), file=sys.stderr, flush=True)
    except (OSError, ValueError):
        pass


def put(text: str) -> None:
    """Write to standard output as UTF-8, whatever the terminal's own encoding.

    Raises:
        ReaderGone: nobody reads it any more.
        InputError: it cannot be written.
    """
    try:
        sys.stdout.flush()
        sys.stdout.buffer.write(text.encode("utf-8", errors="replace"))
        sys.stdout.buffer.flush()
    except BrokenPipeError:
        _close_output()
        raise ReaderGone from None
    except OSError as error:
        _close_output()
        what = f"standard output cannot be written ({error.strerror}); name a file with -o."
        raise InputError(what) from None


def _close_output() -> None:
    # else Python's own last flush would fail again, and say so
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def progress_on_terminal() -> Callable[[float], None] | None:
    """A function that shows how much is done (0 to 1) on standard error, or None where that is no terminal."""
    if not sys.stderr.isatty():
        return None
    shown = -1

    def show(done: float) -> None:
        nonlocal shown
        percent = min(100, max(0, int(done * 100)))
        if percent != shown:
            shown = percent
            line = f"aligning {percent}%" if percent < 100 else ""
            print(f"\r{line:<{_WIDTH}}\r", end="", file=sys.stderr, flush=True)

    return show

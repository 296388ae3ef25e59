"""The project's errors: one base, each class builds its own sentence from its data."""

from __future__ import annotations


class AlignerError(Exception):
    """Base of every error that a user can cause; `str()` is one clear sentence.

    `exit_status` is what the command line ends with: 2 for input that cannot be used, 3 for input that can be
    read but does not belong together (or holds no game).
    """

    exit_status: int = 2


class InputError(AlignerError):
    """A file or an option that cannot be used.

    Args:
        what: the sentence, saying what is wrong and what to do.
        where: file, line, cue or second, put in front of the sentence; empty where there is none.
    """

    def __init__(self, what: str, where: str = "") -> None:
        super().__init__(what, where)
        self.what = what
        self.where = where

    def __str__(self) -> str:
        return f"{self.where}: {self.what}" if self.where else self.what


class CaptionsError(InputError):
    """Captions that cannot be read."""


class ScoreError(InputError):
    """A score (PGN) or a position (FEN) that cannot be used."""


class RecordError(InputError):
    """An alignment record that is damaged or was written by a newer version."""


class MismatchError(InputError):
    """Captions and a score that do not belong together, or captions that hold no game."""

    exit_status = 3

"""A file of many games in which each talk's own score is found, wherever the worker is that looks for it."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from aligner.captions.words import Word
from aligner.catalogue.scores import which_score
from aligner.catalogue.scores_index import ScoresIndex, index_path, open_index
from aligner.pgn.score import Score
from aligner.speech.listen import listen

_CLEAR = 1.15
"""How many times the runner-up's moves the best score must match to be taken without a doubt."""

_opened: dict[str, ScoresIndex] = {}
"""Indexes that this process has open, by the hash of their games."""


@dataclass(frozen=True, slots=True)
class Found:
    """What the file has for a talk.

    Attributes:
        scores: the talk's score; empty where none fits.
        doubt: why it is not sure, a sentence; "" where it is.
    """

    scores: tuple[Score, ...]
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class Database:
    """An index of the games as it is handed to workers.

    Attributes:
        digest: SHA-256 of the file of games, hexadecimal.
        index: path of the index, for workers that see it.
        content: the index itself, for workers that don't; else empty.
        games: how many there are.
        skipped: how many could not be read.
    """

    digest: str
    index: str
    content: bytes
    games: int
    skipped: int

    def find(self, words: Sequence[Word]) -> Found:
        """The score that belongs to a talk."""
        found = which_score(listen(words), self._open())
        best = found.best
        if best is None:
            return Found((), "No score in the database fits this talk; it was aligned without one.")
        score, matched = best.game.score, best.evidence.matched
        for other in found.others:
            if other.game.score.moves != score.moves and matched < _CLEAR * other.evidence.matched:
                return Found(
                    (score,),
                    f"The score was found by its moves, and game {other.game.number} of the database fits nearly "
                    f"as well as game {best.game.number}; check which one it is.",
                )
        return Found((score,))

    def _open(self) -> ScoresIndex:
        index = _opened.get(self.digest)
        if index is None:
            if self.content:
                connection = sqlite3.connect(":memory:", check_same_thread=False)
                connection.deserialize(self.content)
            else:
                connection = sqlite3.connect(f"{Path(self.index).as_uri()}?mode=ro", uri=True, check_same_thread=False)
            index = _opened[self.digest] = ScoresIndex(connection, self.skipped)
        return index


def read_database(
    path: Path, folder: Path, *, travels: bool = False, progress: Callable[[int], None] | None = None
) -> Database:
    """The index of a file of games, made or brought up to date where it must be.

    Args:
        path: of the games.
        folder: where the index is kept.
        travels: whether workers don't see the folder, so that the index is sent to them.
        progress: told the number of games read.

    Raises:
        ScoreError: the file cannot be read or holds no game.
        CatalogueError: the index cannot be written.
    """
    index = open_index(path, folder, progress)
    games, skipped = index.games, index.skipped
    index.close()
    kept = index_path(path, folder).resolve()
    content = b""
    if travels:
        with closing(sqlite3.connect(kept)) as connection:
            content = connection.serialize()
    with open(path, "rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    return Database(digest, str(kept), content, games, skipped)

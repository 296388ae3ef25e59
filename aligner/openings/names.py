"""Openings by name: the positions that bear the names, their codes, and how the names are spoken.

A position is looked up, so that a transposition finds its name too.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import chess


@dataclass(frozen=True, slots=True)
class NamedOpening:
    """A name that stands for moves from the usual start position.

    Attributes:
        name: as printed.
        eco: code of the common classification, A00 to E99.
        moves: SAN; the position after them bears the name.
        phrases: how the name is spoken where it is understood to stand for the moves; none where it never is.
    """

    name: str
    eco: str
    moves: tuple[str, ...]
    phrases: tuple[str, ...]

    def position(self) -> chess.Board:
        """The position that bears the name."""
        board = chess.Board()
        for san in self.moves:
            board.push_san(san)
        return board


@cache
def named_openings(language: str = "en") -> tuple[NamedOpening, ...]:
    """All names of a language, in the order of the file.

    Raises:
        FileNotFoundError: no such language.
    """
    text = (files("aligner.openings") / "data" / language / "names.toml").read_text(encoding="utf-8")
    return tuple(
        NamedOpening(row["name"], row["eco"], tuple(row["moves"].split()), tuple(row.get("phrases", ())))
        for row in tomllib.loads(text)["opening"]
    )


def opening_at(board: chess.Board) -> NamedOpening | None:
    """The opening whose name this very position bears, or None."""
    return _by_position().get(_key(board))


@cache
def _by_position() -> Mapping[tuple[str, bool, int], NamedOpening]:
    return {_key(one.position()): one for one in named_openings()}


def _key(board: chess.Board) -> tuple[str, bool, int]:
    return board.board_fen(), board.turn, board.castling_rights

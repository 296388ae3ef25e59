"""Openings by name: the positions that bear the names, their codes, and how the names are spoken.

A position is looked up, so that a transposition finds its name too.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

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
    table = _table(language)
    respelt = tuple(table["respelt"].items())
    return tuple(
        NamedOpening(row["name"], row["eco"], tuple(row["moves"].split()), _spelt(row.get("phrases", ()), respelt))
        for row in table["opening"]
    )


def _spelt(phrases: Sequence[str], respelt: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """The phrases, and how else they are written."""
    others = (phrase.replace(old, new) for old, new in respelt for phrase in phrases)
    return tuple(dict.fromkeys((*phrases, *others)))


@dataclass(frozen=True, slots=True)
class NamesBySound:
    """What names of openings sound like.

    Attributes:
        sounds: as spelt by its sound, a name's moves (SAN with blanks between).
        alone: the same of those that are known without a noun.
        nouns: words that follow a name.
        levels: how spellings that sound the same are levelled further, in order, as in `re.sub`.
        first_letters: that a word which begins one of `alone` may begin with.
    """

    sounds: Mapping[str, str]
    alone: Mapping[str, str]
    nouns: frozenset[str]
    levels: tuple[tuple[re.Pattern[str], str], ...]
    first_letters: frozenset[str]


@cache
def names_by_sound(language: str = "en") -> NamesBySound:
    """The names of a language that are told by their sound.

    Raises:
        FileNotFoundError: no such language.
    """
    table = _table(language)
    alone, behind = (
        {sound: row["moves"] for row in table["opening"] for sound in row.get(key, ())}
        for key in ("heard_alone", "heard")
    )
    levels = tuple((re.compile(pattern), level) for pattern, level in table["levels"])
    return NamesBySound(behind | alone, alone, frozenset(table["nouns"]), levels, frozenset(table["first_letters"]))


@cache
def _table(language: str) -> Mapping[str, Any]:
    return tomllib.loads((files("aligner.openings") / "data" / language / "names.toml").read_text(encoding="utf-8"))


def opening_at(board: chess.Board) -> NamedOpening | None:
    """The opening whose name this very position bears, or None."""
    return _by_position().get(_key(board))


@cache
def _by_position() -> Mapping[tuple[str, bool, int], NamedOpening]:
    return {_key(one.position()): one for one in named_openings()}


def _key(board: chess.Board) -> tuple[str, bool, int]:
    return board.board_fen(), board.turn, board.castling_rights

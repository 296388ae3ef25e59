"""Partial positions: "white knight d5, no light-squared bishops, black pawn on the c-file", as bitboards."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import chess

from aligner.catalogue.fulltext import AnyOf
from aligner.catalogue.positions import absent_term, on_squares, standing_term
from aligner.errors import InputError

_NAMES = {name: kind for kind, name in enumerate(chess.PIECE_NAMES) if name} | {"horse": chess.KNIGHT}
_LETTERS = {letter: kind for kind, letter in enumerate(chess.PIECE_SYMBOLS) if letter}
_FILLERS = {"a", "an", "the", "on", "at", "in", "with", "there", "is", "are", "any", "square", "squares", "squared"}
_SYMBOL = re.compile(r"([KQRBNPkqrbnp])([a-h][1-8])")
_SQUARE = re.compile(r"[a-h][1-8]")
_FILE = re.compile(r"([a-h])(?:-?file)?")
_RANK = re.compile(r"([1-8])(?:st|nd|rd|th)?")
_EXAMPLE = 'write for example "white knight d5, no light-squared bishops, black pawn c5, 2 white rooks on the d-file"'
_MOST = 32


@dataclass(frozen=True, slots=True)
class Condition:
    """That pieces of a kind stand, or do not stand, on some squares.

    Attributes:
        colours: True for White, False for Black; one of them or both.
        piece_type: chess.PAWN to chess.KING.
        squares: bitboard of the squares that count.
        least: how many there are at least, both colours together; 0 for none at all.
        exact: whether there may be no more of them; always so where `least` is 0.
    """

    colours: tuple[bool, ...]
    piece_type: int
    squares: int
    least: int = 1
    exact: bool = False

    def holds(self, placement: bytes) -> bool:
        """Whether a position has it, by its placement (`positions.Position`)."""
        count = sum(on_squares(placement, colour, self.piece_type, self.squares) for colour in self.colours)
        return count == self.least if self.exact or not self.least else count >= self.least

    def terms(self) -> tuple[AnyOf, ...]:
        """Terms that every position that has it must have; for speed alone, `holds` decides."""
        if self.least:
            squares = list(chess.scan_forward(self.squares))
            if len(squares) > _MOST:
                return ()
            kind = self.piece_type
            return (tuple(standing_term(colour, kind, square) for colour in self.colours for square in squares),)
        if self.piece_type == chess.KING:
            return ()
        shades = {chess.BB_ALL: "ld", chess.BB_LIGHT_SQUARES: "l", chess.BB_DARK_SQUARES: "d"}.get(self.squares, "")
        letter = ".pnbrqk"[self.piece_type]
        kinds = shades if letter == "b" else letter if self.squares == chess.BB_ALL else ""
        return tuple((absent_term(colour, kind),) for colour in self.colours for kind in kinds)


def parse_pattern(text: str) -> tuple[Condition, ...]:
    """The conditions in a text, one between two commas.

    Each is words ("white knight d5", "no light-squared bishops", "two rooks on the d-file", "black pawn on the 4th
    rank") or symbols as in FEN, upper case for White ("Nd5 pc5").

    Raises:
        InputError: a part says nothing of a position.
    """
    conditions: list[Condition] = []
    for part in re.split(r"[,;]|\band\b", text):
        if part.strip():
            conditions += _part(part)
    if not conditions:
        raise InputError(f"nothing is said of the position; {_EXAMPLE}.", "--partial")
    if len(conditions) > _MOST:
        raise InputError(f"the position has more than {_MOST} conditions; ask for fewer.", "--partial")
    return tuple(conditions)


def _part(part: str) -> list[Condition]:
    symbols = [_SYMBOL.fullmatch(word) for word in part.split()]
    if symbols and all(symbols):
        return [
            Condition((match[1].isupper(),), _LETTERS[match[1].lower()], chess.BB_SQUARES[chess.parse_square(match[2])])
            for match in symbols
            if match
        ]
    piece = None
    colours: tuple[bool, ...] = (True, False)
    where: list[int] = []
    shade = chess.BB_ALL
    least, exact = 1, False
    for word in re.split(r"[\s-]+", part.strip().lower()):
        plural = word.removesuffix("s")
        if word in ("no", "without", "neither", "0"):
            least = 0
        elif word in ("exactly", "just", "only"):
            exact = True
        elif word in _NUMBERS and piece is None:
            least = _NUMBERS[word]
        elif plural in ("white", "black", "white'", "black'"):
            colours = (plural[:5] == "white",)
        elif word in ("light", "dark"):
            shade = chess.BB_LIGHT_SQUARES if word == "light" else chess.BB_DARK_SQUARES
        elif plural in _NAMES and piece is None:
            piece = _NAMES[plural]
        elif _SQUARE.fullmatch(word):
            where.append(chess.BB_SQUARES[chess.parse_square(word)])
        elif word in ("file", "rank", "ranks", "files") or (word in _FILLERS and not (word == "a" and piece)):
            continue
        elif match := _FILE.fullmatch(word):
            where.append(chess.BB_FILES[ord(match[1]) - ord("a")])
        elif match := _RANK.fullmatch(word):
            where.append(chess.BB_RANKS[int(match[1]) - 1])
        else:
            raise InputError(f"{word!r} says nothing of a position; {_EXAMPLE}.", "--partial")
    if piece is None:
        raise InputError(f"{' '.join(part.split())!r} names no piece; {_EXAMPLE}.", "--partial")
    if least == 1 and len(where) > 1 and all(squares.bit_count() == 1 for squares in where):
        return [Condition(colours, piece, squares & shade) for squares in where]  # "white pawns d4 e4": both
    squares = 0
    for place in where or [chess.BB_ALL]:
        squares |= place
    return [Condition(colours, piece, squares & shade, least, exact)]


_NUMBERS = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "2": 2, "3": 3}


def holds(conditions: Sequence[Condition], placement: bytes) -> bool:
    """Whether a position has all of them."""
    return all(condition.holds(placement) for condition in conditions)


def contradictory(conditions: Sequence[Condition]) -> bool:
    """Whether one of them wants a piece where another wants none, so that no position has both."""
    return any(
        one.least > 0
        and other.least == 0
        and one.piece_type == other.piece_type
        and set(one.colours) <= set(other.colours)
        and not one.squares & ~other.squares
        for one in conditions
        for other in conditions
    )

"""Whether what is stated of a position as a whole holds there: counting men."""

from __future__ import annotations

from collections.abc import Iterable

import chess

from aligner.search.captures import VALUES
from aligner.search.matching import LETTERS
from aligner.speech.description import Terms
from aligner.speech.statements import Statement

_COUNTED = (chess.PAWN, chess.KNIGHT, chess.BISHOP, chess.ROOK, chess.QUEEN)


def stated_terms(board: chess.Board, stated: Iterable[Statement]) -> Terms:
    """What there is to price where statements are said of a position: of each its kind, and whether it is true."""
    return tuple((f"{'stated' if holds(board, one) else 'stated_not'}.{one.kind}", 1.0) for one in stated)


def holds(board: chess.Board, stated: Statement) -> bool:
    """Whether a statement is true of a position."""
    if stated.kind == "ahead":
        return ahead_by(board, stated.value, stated.count, stated.side)
    if stated.kind == "level":
        return level(board)
    if stated.kind == "turn":
        return board.turn == (stated.value == "white")
    if stated.kind == "open":
        return not board.pawns & chess.BB_FILES[int(stated.value)]
    named = 0
    for letter in stated.value:
        named |= board.pieces_mask(LETTERS[letter], chess.WHITE) | board.pieces_mask(LETTERS[letter], chess.BLACK)
    if stated.kind == "gone":
        return not named
    return board.occupied == board.kings | board.pawns | named


def differences(board: chess.Board) -> dict[int, int]:
    """White's men less Black's, by piece type."""
    return {kind: len(board.pieces(kind, chess.WHITE)) - len(board.pieces(kind, chess.BLACK)) for kind in _COUNTED}


def ahead_by(board: chess.Board, unit: str, count: int, side: bool | None = None) -> bool:
    """Whether one side may be said to have so many units more.

    Args:
        board: the position.
        unit: "pawn", "minor", "exchange", "rook" or "queen".
        count: of units, at least 1.
        side: which side, True for White; None for either.
    """
    more = differences(board)
    if side is None:
        return _ahead_by(more, unit, count) or _ahead_by({kind: -n for kind, n in more.items()}, unit, count)
    return _ahead_by({kind: n if side else -n for kind, n in more.items()}, unit, count)


def _ahead_by(more: dict[int, int], unit: str, count: int) -> bool:
    """Whether whoever has so many men more of each kind may be said to have so many units more."""
    points = sum(VALUES[kind] * count_of for kind, count_of in more.items())
    minors = more[chess.KNIGHT] + more[chess.BISHOP]
    if unit == "pawn":
        return more[chess.PAWN] == count or points == count
    if unit == "minor":
        return minors == count or 3 * count - 1 <= points <= 3 * count + 1
    if unit == "exchange":
        return (more[chess.ROOK] > 0 and minors < 0) or 1 <= points <= 3
    if unit == "rook":
        return more[chess.ROOK] == count or 5 * count - 1 <= points <= 5 * count + 1
    return more[chess.QUEEN] == count or 8 <= points <= 10


def level(board: chess.Board) -> bool:
    """Whether the material may be called level: no point of difference."""
    return sum(VALUES[kind] * count for kind, count in differences(board).items()) == 0

"""What "two pawns up" asks of a position: counting men.

Pawn 1, minor piece 3, rook 5, queen 9: common practice of the trade.
"""

from __future__ import annotations

import chess

WORTH = {chess.PAWN: 1, chess.KNIGHT: 3, chess.BISHOP: 3, chess.ROOK: 5, chess.QUEEN: 9}


def differences(board: chess.Board) -> dict[int, int]:
    """White's men less Black's, by piece type."""
    return {kind: len(board.pieces(kind, chess.WHITE)) - len(board.pieces(kind, chess.BLACK)) for kind in WORTH}


def ahead_by(board: chess.Board, unit: str, count: int) -> bool:
    """Whether one side may be said to have so many units more.

    Args:
        board: the position.
        unit: "pawn", "minor", "exchange", "rook" or "queen".
        count: of units, at least 1.
    """
    more = differences(board)
    points = abs(sum(WORTH[kind] * count_of for kind, count_of in more.items()))
    minors = more[chess.KNIGHT] + more[chess.BISHOP]
    if unit == "pawn":
        return abs(more[chess.PAWN]) == count or points == count
    if unit == "minor":
        return abs(minors) == count or 3 * count - 1 <= points <= 3 * count + 1
    if unit == "exchange":
        return more[chess.ROOK] * minors < 0 or 1 <= points <= 3
    if unit == "rook":
        return abs(more[chess.ROOK]) == count or 5 * count - 1 <= points <= 5 * count + 1
    return abs(more[chess.QUEEN]) == count or 8 <= points <= 10


def level(board: chess.Board) -> bool:
    """Whether the material may be called level: no point of difference."""
    return sum(WORTH[kind] * count for kind, count in differences(board).items()) == 0

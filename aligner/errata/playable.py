"""What the rules let be played, as told: asked by several of the checks."""

from __future__ import annotations

import chess

from aligner.search.lines import standing
from aligner.search.matching import compare
from aligner.speech.description import Description


def passed(board: chess.Board) -> chess.Board | None:
    """The position with the other side to move; None in check, where the rules do not let it be."""
    if board.is_check():
        return None
    other = board.copy(stack=False)
    other.push(chess.Move.null())
    return other


def can_be_played(board: chess.Board, said: Description) -> bool:
    """Whether some legal move is just what was said."""
    at = standing(board)
    fits = (compare(at, move, said) for move in board.legal_moves)
    return any(fit is not None and not fit.slips for fit in fits)

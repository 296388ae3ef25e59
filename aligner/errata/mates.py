"""Is it mate in N? By trying every move up to mate in two, beyond that by any UCI engine the user names."""

from __future__ import annotations

import chess

DEEPEST_BY_TRIAL = 2
"""Moves: three would take minutes."""
ENGINE_SECONDS = 5.0
"""That an engine may think about one claim."""


def mates_within(board: chess.Board, moves: int) -> bool:
    """Whether the side to move can force mate in at most so many of its own moves; legality by python-chess."""
    if moves <= 0:
        return False
    board = board.copy(stack=False)
    legal = sorted(board.legal_moves, key=lambda move: not board.gives_check(move))
    for move in legal:
        if moves == 1 and not board.gives_check(move):
            return False  # checks come first, and mate is a check
        board.push(move)
        won = board.is_checkmate() or (moves > 1 and _all_lose(board, moves - 1))
        board.pop()
        if won:
            return True
    return False


def _all_lose(board: chess.Board, moves: int) -> bool:
    replies = list(board.legal_moves)
    for reply in replies:
        board.push(reply)
        mated = mates_within(board, moves)
        board.pop()
        if not mated:
            return False
    return bool(replies)

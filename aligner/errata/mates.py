"""Is it mate in N? By trying every move up to mate in two, beyond that by any UCI engine the user names."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import chess

from aligner.errors import InputError

if TYPE_CHECKING:
    import chess.engine

DEEPEST_BY_TRIAL = 2
"""Moves: three would take minutes."""
ENGINE_SECONDS = 5.0


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


class Engine:
    """A UCI engine that the user named; started when first asked, ended by `close`."""

    def __init__(self, path: Path, seconds: float = ENGINE_SECONDS) -> None:
        self.path = path
        self.seconds = seconds
        self._engine: chess.engine.SimpleEngine | None = None

    def mates_within(self, board: chess.Board, moves: int) -> bool | None:
        """Whether the side to move mates in at most so many moves; None where the engine found no mate at all.

        Raises:
            InputError: the program cannot be started or does not speak UCI.
        """
        import chess.engine  # loads asyncio, which takes longer than the rest of this room

        try:
            if self._engine is None:
                self._engine = chess.engine.SimpleEngine.popen_uci(str(self.path))
            limit = chess.engine.Limit(time=self.seconds, mate=moves)
            score = self._engine.analyse(board, limit).get("score")
        except (OSError, chess.engine.EngineError, TimeoutError) as error:
            what = f"this engine cannot be used ({str(error) or type(error).__name__}); name a program that speaks UCI."
            raise InputError(what, str(self.path)) from None
        mate = score.relative.mate() if score is not None else None
        return None if mate is None else 0 < mate <= moves

    def close(self) -> None:
        """End the engine, if it was started."""
        if self._engine is not None:
            self._engine.close()
            self._engine = None

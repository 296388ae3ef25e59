"""A UCI engine that the user names: started when first asked, bounded in time, ended by `close`."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from threading import Event, Timer
from typing import TYPE_CHECKING, TypeVar

import chess

from aligner.errors import InputError

if TYPE_CHECKING:
    import chess.engine

Answer = TypeVar("Answer")

ANSWERS_WITHIN = 10.0
"""Seconds that an engine has to start, and to answer after the time it may think."""
LEAVES_WITHIN = 2.0
"""Seconds that it has to end by itself, before it is ended."""
SECONDS_A_PLY, NODES_A_PLY = 0.5, 200_000
"""How long it may think about one ply: by nodes, so that the same talk gives the same game, and never longer."""
_MOST_LOST = 10.0
"""Pawns' worth from which on losing more makes no move less likely."""
_MATE = 10_000
"""Centipawns that stand for mate."""


class Engine:
    """One engine of a user's. May be asked again after `close`, which starts it anew.

    Args:
        path: of a program that speaks UCI (Universal Chess Interface).
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._engine: chess.engine.SimpleEngine | None = None
        self._losses: dict[tuple[str, tuple[chess.Move, ...]], Mapping[chess.Move, float]] = {}

    def __enter__(self) -> Engine:
        """Start it, where it is not running.

        Raises:
            InputError: the program cannot be started or does not speak UCI.
        """
        self._asked(lambda engine: None)
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def mates_within(self, board: chess.Board, moves: int, seconds: float) -> bool | None:
        """Whether the side to move mates in at most so many moves; None where the engine found no mate at all.

        Raises:
            InputError: the program cannot be started or does not speak UCI.
        """
        from chess.engine import Limit  # loads asyncio, which takes longer than the rest

        limit = Limit(time=seconds, mate=moves)
        score = self._asked(lambda engine: engine.analyse(board, limit).get("score"), seconds)
        mate = score.relative.mate() if score is not None else None
        return None if mate is None else 0 < mate <= moves

    def losses(self, board: chess.Board, moves: Sequence[chess.Move]) -> Mapping[chess.Move, float]:
        """How many pawns' worth each of some legal moves loses against the best of them; what it was asked it keeps.

        Of an engine that tells of one move only, all others lose as much as may be.

        Raises:
            InputError: the program cannot be started, does not speak UCI or stopped answering.
        """
        from chess.engine import Limit

        key = (board.fen(), tuple(moves))
        if key in self._losses:
            return self._losses[key]
        limit = Limit(time=SECONDS_A_PLY, nodes=NODES_A_PLY)

        def ask(engine: chess.engine.SimpleEngine) -> list[chess.engine.InfoDict]:
            several = len(moves) if "MultiPV" in engine.options else 1
            return engine.analyse(board, limit, multipv=several, root_moves=moves)

        worth: dict[chess.Move, int] = {}
        for told in self._asked(ask, SECONDS_A_PLY):
            line, score = told.get("pv"), told.get("score")
            if line and score is not None:
                worth[line[0]] = score.relative.score(mate_score=_MATE)
        best = max(worth.values(), default=0)
        losses = {move: min((best - worth[move]) / 100, _MOST_LOST) if move in worth else _MOST_LOST for move in moves}
        self._losses[key] = losses if worth else dict.fromkeys(moves, 0.0)
        return self._losses[key]

    def close(self) -> None:
        """End the engine, if it was started: by its own command, else by force."""
        engine, self._engine = self._engine, None
        if engine is None:
            return
        import chess.engine

        with suppress(OSError, chess.engine.EngineError), _killed_after(LEAVES_WITHIN, engine):
            engine.quit()
        engine.close()

    def _asked(self, ask: Callable[[chess.engine.SimpleEngine], Answer], seconds: float = 0.0) -> Answer:
        """What the engine answers; `seconds` is how long it may think."""
        import chess.engine

        late = Event()
        try:
            if self._engine is None:
                self._engine = chess.engine.SimpleEngine.popen_uci(str(self.path), timeout=ANSWERS_WITHIN)
                self._engine.timeout = None  # python-chess gives up a late answer and then never notices the end
            with _killed_after(ANSWERS_WITHIN + seconds, self._engine) as late:
                return ask(self._engine)
        except (OSError, chess.engine.EngineError, TimeoutError) as error:
            self.close()
            why = "it does not answer" if late.is_set() else str(error) or "it does not answer"
            what = f"this engine cannot be used ({why}); name a program that speaks UCI."
            raise InputError(what, str(self.path)) from None


@contextmanager
def _killed_after(seconds: float, engine: chess.engine.SimpleEngine) -> Iterator[Event]:
    """Ends the program where what is done meanwhile takes longer; then the event is set."""
    late = Event()

    def kill() -> None:
        with suppress(ProcessLookupError):
            engine.transport.kill()

    def end() -> None:
        late.set()
        with suppress(RuntimeError):  # the program and its loop have ended by themselves
            engine.protocol.loop.call_soon_threadsafe(kill)

    timer = Timer(seconds, end)
    timer.daemon = True
    timer.start()
    try:
        yield late
    finally:
        timer.cancel()


def engine_at(path: Path | None) -> Engine | None:
    """The engine that a user names, not started yet; None for none.

    Raises:
        InputError: there is no such file.
    """
    if path is not None and not path.is_file():
        raise InputError("there is no such program; name a file that speaks UCI.", str(path))
    return None if path is None else Engine(path)

"""What is said of a ply as chess, against positions set up by hand (material values are common practice)."""

from __future__ import annotations

from math import log

import chess
import pytest

from aligner.search.lines import Lines
from aligner.search.plies import aside_terms, ignored


def told(lines: Lines, move: str) -> dict[str, float]:
    return dict(aside_terms(lines.after(lines.root, chess.Move.from_uci(move)), ignored(lines.root.board)))


# Positions set up by hand; what a piece is worth is common practice: pawn 1, knight and bishop 3, rook 5, queen 9.
@pytest.mark.parametrize(("fen", "move", "name", "amount"), [
    ("4k3/8/2p5/3p4/8/8/8/3QK3 w - - 0 1", "d1d5", "aside.loss", log(9)),  # a queen for a pawn that is guarded
    ("4k3/8/8/3r4/8/8/8/3QK3 w - - 0 1", "d1d5", "aside.gain", log(6)),  # a rook for nothing
    ("4k3/8/2p5/8/8/2N5/8/4K3 w - - 0 1", "c3d5", "aside.hangs", log(4)),  # a knight that a pawn takes
    ("4k3/8/8/8/3p4/2N5/8/4K3 w - - 0 1", "c3e4", "aside.escapes", log(4)),  # a knight that a pawn attacks
    ("3rk3/8/8/8/8/8/8/3RK3 w - - 0 1", "e1f2", "aside.ignores", None),
])  # fmt: skip
def test_what_speaks_for_or_against_a_move(fen: str, move: str, name: str, amount: float | None) -> None:
    lines = Lines(chess.Board(fen), ())
    found = told(lines, move)
    if amount is None:  # the rook on d8 is guarded by its king: an even trade leaves nothing lying
        assert name not in found
    else:
        assert found[name] == pytest.approx(amount)


def test_a_free_queen_that_is_left_standing_counts_against_a_quiet_move() -> None:
    lines = Lines(chess.Board("4k3/8/8/3q4/8/2N5/8/4K3 w - - 0 1"), ())
    assert told(lines, "e1f1")["aside.ignores"] == pytest.approx(log(10))
    assert "aside.ignores" not in told(lines, "c3d5")

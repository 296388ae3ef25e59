"""Openings by name. The names and moves are values from memory (see the data file); here their moves are checked."""

from __future__ import annotations

import chess
import pytest

from aligner.chapters.openings import opening_name, opening_table


@pytest.mark.parametrize(("name", "moves"), opening_table().items())
def test_moves_are_legal_and_lead_to_the_name(name: str, moves: str) -> None:
    board = chess.Board()
    for san in moves.split():
        board.push_san(san)  # raises where the move is illegal
    assert opening_name(board) == name


def test_transpositions_find_the_name() -> None:
    board = chess.Board()
    for san in "Nf3 d5 d4 Nf6 c4 e6 Nc3".split():
        board.push_san(san)
    # common practice: the Queen's Gambit Declined is reached by many orders of moves
    other = chess.Board()
    for san in "d4 d5 c4 e6 Nc3 Nf6 Nf3".split():
        other.push_san(san)
    assert board.board_fen() == other.board_fen()
    assert opening_name(board) == opening_name(other)
    bird = chess.Board()
    for san in "c4 Nf6 d4 e6 Nf3 b6".split():
        bird.push_san(san)
    assert opening_name(bird) == "Queen's Indian Defence"


def test_the_english_four_knights_is_not_the_open_game() -> None:
    board = chess.Board()
    for san in "c4 e5 Nc3 Nf6 Nf3 Nc6".split():
        board.push_san(san)
    assert opening_name(board) == "English Opening, Four Knights Variation"
    board.push_san("h4")
    assert opening_name(board) is None

"""What a move is said to attack or to guard, heard and held against the rules (python-chess)."""

from __future__ import annotations

import random

import chess
import pytest

from aligner.captions.words import Word
from aligner.search.lines import Lines
from aligner.search.manners import has_aim
from aligner.speech.aims import Aim
from aligner.speech.listen import listen


def aim_of(text: str) -> Aim | None:
    """Of the first phrase."""
    speech = listen([Word(word, 400 * i, 400 * i + 350, 0) for i, word in enumerate(text.split())])
    return speech.stretches[0].spoken[0].aim


# Common practice: what commentators say of a move right after it.
@pytest.mark.parametrize(("text", "aim"), [
    ("b5, hitting the bishop", Aim("hit", "B", None)),
    ("queen f7 which attacks my poor rook", Aim("hit", "R", None)),
    ("bishop b3, eyeing f7", Aim("hit", "", chess.F7)),
    ("h3. Kicking the bishop", Aim("hit", "B", None)),
    ("rook e1 defending the e pawn", Aim("cover", "P", None)),
    ("knight f3, it covers e5", Aim("cover", "", chess.E5)),
    ("knight d5, and she hits back", None),
    ("knight d5. I like it. Attacking the queen", None),
    ("knight d5, bishop g5 attacking the queen", None),
    ("knight d5 and then of course he attacks the queen", None),
])  # fmt: skip
def test_what_a_move_is_said_to_do(text: str, aim: Aim | None) -> None:
    assert aim_of(text) == aim


def test_the_board_decides_in_random_positions() -> None:
    draw, checked = random.Random(7), 0
    for _ in range(12):
        lines = Lines(chess.Board(), ())
        node = lines.root
        for _ in range(draw.randint(4, 40)):
            legal = list(node.board.legal_moves)
            if not legal:
                break
            node = lines.after(node, draw.choice(legal))
        board = node.board
        for move in board.legal_moves:
            after = board.copy()
            after.push(move)
            for square in chess.SQUARES:
                guarded = square in after.attacks(move.to_square)
                assert has_aim(node, move, Aim("hit", "", square)) == guarded
            for letter in "PNBRQ":
                piece = chess.Piece.from_symbol(letter).piece_type
                newly = any(
                    move.to_square in after.attackers(board.turn, square)
                    or (after.attackers(board.turn, square) and not board.attackers(board.turn, square))
                    for square in after.pieces(piece, not board.turn)
                )
                assert has_aim(node, move, Aim("hit", letter, None)) == newly
                own = any(move.to_square in after.attackers(board.turn, s) for s in after.pieces(piece, board.turn))
                assert has_aim(node, move, Aim("cover", letter, None)) == own
                checked += 1
    assert checked > 500

"""Which plies may make a move possible: never fewer than python-chess finds by playing every one of them."""

from __future__ import annotations

import random

import chess

from aligner.reconstruction.enabling import enabling
from aligner.search.lines import LineNode, standing
from aligner.search.matching import exact_fits
from aligner.speech.description import Description

SEED = 20261127
GAMES, PLIES = 30, 60
PIECES = ("", "P", "N", "B", "R", "Q", "K")


def positions() -> list[LineNode]:
    """Positions of games of random legal moves."""
    chance, found = random.Random(SEED), list[LineNode]()
    for _ in range(GAMES):
        board = chess.Board()
        for ply in range(PLIES):
            moves = list(board.legal_moves)
            if not moves:
                break
            board.push(chance.choice(moves))
            if ply % 6 == 5 and any(board.legal_moves):
                found.append(standing(board.copy(stack=False)))
    return found


def described(piece: str, square: chess.Square, capture: bool) -> Description:
    return Description(
        "piece_square" if piece else "square", piece, target=square, target_for_black=square, capture=capture
    )


def after_a_pass(node: LineNode, move: chess.Move) -> LineNode | None:
    """The position after a move and a pass of the other side, where the rules allow one."""
    board = node.board.copy(stack=False)
    board.push(move)
    if board.is_check():
        return None
    board.push(chess.Move.null())
    return standing(board)


def test_no_ply_is_ruled_out_that_makes_a_move_possible() -> None:
    chance = random.Random(SEED)
    enabled = ruled_out = 0
    for node in positions():
        for _ in range(6):
            said = described(chance.choice(PIECES), chance.randrange(64), chance.random() < 0.3)
            if exact_fits(node, said):
                continue
            plies = enabling(node, said)
            for move in node.board.legal_moves:
                later = after_a_pass(node, move)
                possible = later is not None and bool(exact_fits(later, said))
                passes = bool(plies) and plies.may(node.board, move)
                assert passes or not possible, f"{node.board.fen()}: {move} makes {said} possible"
                enabled += possible
                ruled_out += not passes
    assert enabled > 500, "there was something to find"
    assert ruled_out > 10 * enabled, "and most was ruled out"

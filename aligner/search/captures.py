"""What captures on a square bring, all of them worked out to their end (static exchange evaluation)."""

from __future__ import annotations

from typing import NamedTuple

import chess

VALUES = (0.0, 1.0, 3.0, 3.0, 5.0, 9.0, 20.0)
"""Material values by type of piece, common practice; the king's only says that everything is worth less."""


class Capture(NamedTuple):
    """The capture that brings most.

    Attributes:
        gain: pawns' worth; 0 where none brings anything.
        square: where it is.
    """

    gain: float
    square: chess.Square


NOTHING = Capture(0.0, -1)
"""No capture that brings anything."""


def best_captures(board: chess.Board) -> tuple[Capture, Capture]:
    """The captures by which black and white, were it their move, gain most.

    A quick look at many positions: pins and checks are not looked at, nor what stands behind a piece where it is the
    only one that takes or guards.
    """
    black, white = _attacked(board, chess.BLACK), _attacked(board, chess.WHITE)
    return _best(board, chess.BLACK, black, white), _best(board, chess.WHITE, white, black)


def _best(board: chess.Board, side: chess.Color, attacked: chess.Bitboard, guarded: chess.Bitboard) -> Capture:
    best = NOTHING
    for square in chess.scan_forward(board.occupied_co[not side] & ~board.kings & attacked):
        gain = VALUES[board.piece_type_at(square) or chess.PAWN]
        if gain <= best.gain:
            continue
        if guarded & chess.BB_SQUARES[square]:
            takers = board.attackers_mask(side, square)
            taker = _cheapest(board, takers)
            if chess.BB_SQUARES[taker] == takers:
                gain -= VALUES[board.piece_type_at(taker) or chess.PAWN]
            else:
                gain = exchange(board, square, taker, side)
        if gain > best.gain:
            best = Capture(gain, square)
    return best


def _attacked(board: chess.Board, side: chess.Color) -> chess.Bitboard:
    """The squares that a side's pieces attack, its own pieces' among them."""
    own = board.occupied_co[side]
    pawns = board.pawns & own
    if side:
        attacked = pawns << 7 & ~chess.BB_FILE_H | pawns << 9 & ~chess.BB_FILE_A
    else:
        attacked = pawns >> 7 & ~chess.BB_FILE_A | pawns >> 9 & ~chess.BB_FILE_H
    for square in chess.scan_forward(own & ~board.pawns):
        attacked |= board.attacks_mask(square)
    return attacked


def exchange(board: chess.Board, square: chess.Square, taker: chess.Square, side: chess.Color) -> float:
    """Pawns' worth that a side gains, or loses if negative, by a capture, with the best play on that square after it.

    Both sides take back with the cheapest piece and stop when that is better (see
    https://www.chessprogramming.org/Static_Exchange_Evaluation).

    Args:
        board: the position before the capture.
        square: where the captured piece stands.
        taker: where the piece stands that captures first.
        side: the side that captures first.
    """
    gains = [VALUES[board.piece_type_at(square) or chess.PAWN]]
    occupied = board.occupied
    while True:
        stands = VALUES[board.piece_type_at(taker) or chess.PAWN]
        occupied &= ~chess.BB_SQUARES[taker]
        side = not side
        takers = board.attackers_mask(side, square, occupied) & occupied
        if not takers:
            break
        taker = _cheapest(board, takers)
        if board.kings & chess.BB_SQUARES[taker]:
            left = occupied & ~chess.BB_SQUARES[taker]
            if board.attackers_mask(not side, square, left) & left:
                break  # a king does not take what is guarded
        gains.append(stands - gains[-1])
    while len(gains) > 1:
        last = gains.pop()
        gains[-1] = min(gains[-1], -last)
    return gains[0]


def _cheapest(board: chess.Board, pieces: chess.Bitboard) -> chess.Square:
    """Where the least of some pieces stands (a bitboard, not empty)."""
    for kind in (board.pawns, board.knights, board.bishops, board.rooks, board.queens):
        if pieces & kind:
            return chess.lsb(pieces & kind)
    return chess.lsb(pieces)

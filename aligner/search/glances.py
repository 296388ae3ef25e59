"""What a move gives and leaves lying at a glance: captures looked at by one step, which takes little time."""

from __future__ import annotations

from math import log

import chess

from aligner.search.captures import VALUES
from aligner.search.lines import LineNode
from aligner.speech.description import Terms

_MATERIAL = frozenset({"ply.gain", "ply.loss", "ply.hangs", "ply.escapes"})


def glanced(node: LineNode, move: chess.Move) -> Terms:
    """What a legal move takes, puts in danger and saves; amounts are pawns."""
    board = node.board
    us = board.turn
    piece = board.piece_type_at(move.from_square) or chess.PAWN
    mover = VALUES[piece]
    guards = board.attackers_mask(not us, move.to_square)
    terms: list[tuple[str, float]] = []
    if board.is_capture(move):
        victim = VALUES[board.piece_type_at(move.to_square) or chess.PAWN]
        gain = victim - (mover if guards else 0.0)
        terms.append(("ply.gain" if gain >= 0 else "ply.loss", min(abs(gain), 9.0)))
    elif (
        guards
        and piece != chess.PAWN
        and (
            _cheapest(board, guards) < mover
            or not board.attackers_mask(us, move.to_square) & ~chess.BB_SQUARES[move.from_square]
        )
    ):
        terms.append(("ply.hangs", min(mover, 9.0)))
    attackers = board.attackers_mask(not us, move.from_square)
    if (
        attackers
        and piece != chess.PAWN
        and (_cheapest(board, attackers) < mover or not board.attackers_mask(us, move.from_square))
    ):
        terms.append(("ply.escapes", min(mover, 9.0)))
    return tuple(terms)


def levelled(terms: Terms) -> Terms:
    """The same with logarithms of 1 + pawns for pawns: in a sideline a queen is no nine times as telling as a pawn."""
    return tuple((name, log(1.0 + amount) if name in _MATERIAL else amount) for name, amount in terms)


def ignored(node: LineNode) -> float:
    """Pawns' worth of the best capture at a node that looks free or cheap; a move that is none leaves it lying."""
    known = node.lying
    if known is None:
        known = node.lying = _lying(node.board)
    return known


def _lying(board: chess.Board) -> float:
    us = board.turn
    best = 0.0
    theirs = board.occupied_co[not us] & ~board.pawns & ~board.kings
    for square in chess.scan_forward(theirs):
        takers = board.attackers_mask(us, square)
        if not takers:
            continue
        worth = VALUES[board.piece_type_at(square) or chess.PAWN]
        if worth <= best:
            continue
        if board.attackers_mask(not us, square):
            worth -= _cheapest(board, takers)
        best = max(best, worth)
    return best


def _cheapest(board: chess.Board, pieces: int) -> float:
    """The value of the least of some pieces (a bitboard, not empty)."""
    if pieces & board.pawns:
        return VALUES[chess.PAWN]
    if pieces & (board.knights | board.bishops):
        return VALUES[chess.KNIGHT]
    if pieces & board.rooks:
        return VALUES[chess.ROOK]
    return VALUES[chess.QUEEN if pieces & board.queens else chess.KING]

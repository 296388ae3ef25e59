"""Which plies can make a move possible that is not: a quick test, before any of them is played.

A piece comes to a square from where it reaches it, or another one makes way. Pins and checks are not looked at: where
they may be what stands in the way, every ply passes.
"""

from __future__ import annotations

from typing import NamedTuple

import chess

from aligner.search.lines import LineNode, pawns_to
from aligner.search.matching import LETTERS, looks_at
from aligner.speech.description import Description


class Enabling(NamedTuple):
    """Plies of the side to move that may make a move of theirs possible.

    Attributes:
        every: whether any may.
        leaving: squares (a bitboard) from which some piece may go.
        landing: by type of piece, squares to which it may go.
    """

    every: bool
    leaving: chess.Bitboard = 0
    landing: tuple[chess.Bitboard, ...] = (0,) * 7

    def __bool__(self) -> bool:
        return self.every or bool(self.leaving or any(self.landing))

    def may(self, board: chess.Board, move: chess.Move) -> bool:
        """Whether a legal move may."""
        if self.every or move.promotion or self.leaving & chess.BB_SQUARES[move.from_square]:
            return True
        piece = board.piece_type_at(move.from_square) or chess.PAWN
        if self.landing[piece] & chess.BB_SQUARES[move.to_square]:
            return True
        return piece == chess.KING and board.is_castling(move)


_EVERY = Enabling(True)
_NONE = Enabling(False)


def enabling(node: LineNode, said: Description) -> Enabling:
    """What may make a described move possible at a node where it is not, when the other side passes."""
    board = node.board
    us = board.turn
    if said.side is not None and said.side != us:
        return _NONE
    target = said.target if us else said.target_for_black
    if target is None or said.castle or said.manner or said.piece == "K" or board.is_check():
        return _EVERY
    goal = chess.BB_SQUARES[target]
    piece = LETTERS[said.piece] if said.piece else 0
    if said.capture and not board.occupied_co[not us] & goal:
        return _NONE
    if board.occupied_co[us] & goal:
        return Enabling(False, goal)
    if node.reach[piece] & goal:
        return _EVERY
    leaving = 0
    landing = [0] * 7
    for kind in (piece,) if piece else chess.PIECE_TYPES:
        origins = landing[kind] = pawns_to(us, target) if kind == chess.PAWN else looks_at(kind, target)
        for at in chess.scan_forward(origins & board.pieces_mask(kind, us)):
            leaving |= chess.between(at, target)
    return Enabling(False, leaving, tuple(landing))

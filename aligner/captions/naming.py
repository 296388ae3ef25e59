"""What a move is called, part by part, as the trade names it."""

from __future__ import annotations

from dataclasses import dataclass

import chess


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a move is called, part by part.

    Attributes:
        san: in SAN.
        piece: letter of the moving piece.
        captured: letter of the captured piece; "" where none is.
        target: name of the square it goes to.
        origin: file it comes from.
        source: name of the square it comes from.
        check: whether it gives check.
        castles: whether it castles.
        mate: whether it mates.
    """

    san: str
    piece: str
    captured: str
    target: str
    origin: str
    source: str
    check: bool
    castles: bool
    mate: bool


def meaning(board: chess.Board, move: chess.Move) -> Meaning:
    """What a legal move is called."""
    piece = board.piece_at(move.from_square)
    victim = board.piece_at(move.to_square)
    san = board.san(move)
    captured = victim.symbol().upper() if victim else "P" if board.is_en_passant(move) else ""
    return Meaning(
        san=san,
        piece=piece.symbol().upper() if piece else "",
        captured="" if board.is_castling(move) else captured,
        target=chess.square_name(move.to_square),
        origin=chess.FILE_NAMES[chess.square_file(move.from_square)],
        source=chess.square_name(move.from_square),
        check=san[-1] in "+#",
        castles=board.is_castling(move),
        mate=san[-1] == "#",
    )

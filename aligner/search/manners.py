"""How a move was said to go, beyond its piece and its square, and what it was said to attack or to guard."""

from __future__ import annotations

import chess

from aligner.search.lines import LineNode
from aligner.speech.aims import Aim
from aligner.speech.description import Description

_LAST_MOVES = 8
"""Moves of a side that are looked back at for where a piece came from."""


def in_manner(node: LineNode, move: chess.Move, said: Description) -> bool:
    """Whether a legal move goes as it was said to; always where nothing of the kind was said."""
    if said.steps and chess.square_distance(move.from_square, move.to_square) != said.steps:
        return False
    if said.to_rank is not None:
        rank = chess.square_rank(move.to_square)
        if said.to_rank != (rank if node.board.turn else 7 - rank):
            return False
    if said.manner in ("hits", "pins"):
        return _hits(node, move, said)
    return not said.manner or _MANNERS[said.manner](node, move)


def stands_out(board: chess.Board, square: chess.Square, stood: str) -> bool:
    """Whether the piece on a square stands where it was said: "front" and "rear" of its kind, or in a "corner"."""
    if stood == "corner":
        return bool(chess.BB_SQUARES[square] & chess.BB_CORNERS)
    kind = board.piece_type_at(square) or chess.PAWN
    ranks = [chess.square_rank(other) for other in chess.scan_forward(board.pieces_mask(kind, board.turn))]
    foremost, hindmost = (max(ranks), min(ranks)) if board.turn else (min(ranks), max(ranks))
    return chess.square_rank(square) == (foremost if stood == "front" else hindmost)


def has_aim(node: LineNode, move: chess.Move, aim: Aim) -> bool:
    """Whether a legal move attacks or guards what it was said to; of men also what it uncovers an attack on."""
    after = node.board.copy(stack=False)
    us = after.turn
    after.push(move)
    reach = after.attacks_mask(move.to_square)
    if aim.square is not None:
        return bool(reach & chess.BB_SQUARES[aim.square])
    piece = chess.PIECE_SYMBOLS.index(aim.piece.lower())
    if aim.does == "cover":
        return bool(reach & after.pieces_mask(piece, us))
    theirs = after.pieces_mask(piece, not us)
    return bool(reach & theirs) or any(
        after.is_attacked_by(us, square) and not node.board.is_attacked_by(us, square)
        for square in chess.scan_forward(theirs)
    )


def _in_passing(node: LineNode, move: chess.Move) -> bool:
    return node.board.is_en_passant(move)


def _mirrored(node: LineNode, move: chess.Move) -> bool:
    last = node.move
    return (
        last is not None
        and move.from_square == chess.square_mirror(last.from_square)
        and move.to_square == chess.square_mirror(last.to_square)
    )


def _past(node: LineNode, move: chess.Move) -> bool:
    """A pawn that goes on beside an enemy pawn that it could have taken."""
    board = node.board
    return (
        board.piece_type_at(move.from_square) == chess.PAWN
        and not board.is_capture(move)
        and bool(board.attacks_mask(move.from_square) & board.pawns & board.occupied_co[not board.turn])
    )


def _out(node: LineNode, move: chess.Move) -> bool:
    """From the mover's back rank, to another one."""
    back = 0 if node.board.turn else 7
    return chess.square_rank(move.from_square) == back != chess.square_rank(move.to_square)


def _doubles(node: LineNode, move: chess.Move) -> bool:
    """A rook that comes to stand on one file with another, nothing but air between them."""
    board = node.board
    if board.piece_type_at(move.from_square) != chess.ROOK:
        return False
    fellows = board.pieces_mask(chess.ROOK, board.turn) & ~chess.BB_SQUARES[move.from_square]
    file = chess.BB_FILES[chess.square_file(move.to_square)]
    already = chess.square_file(move.from_square) == chess.square_file(move.to_square)
    between = board.occupied & ~chess.BB_SQUARES[move.from_square]
    return not already and any(
        not between & chess.between(square, move.to_square) for square in chess.scan_forward(fellows & file)
    )


def _open(node: LineNode, move: chess.Move) -> bool:
    """To a file without pawns of the mover's own."""
    board = node.board
    file = chess.BB_FILES[chess.square_file(move.to_square)]
    moved = chess.square_file(move.from_square) != chess.square_file(move.to_square)
    return moved and not board.pawns & board.occupied_co[board.turn] & file


def _corner(_: LineNode, move: chess.Move) -> bool:
    return bool(chess.BB_SQUARES[move.to_square] & chess.BB_CORNERS)


def _centre(_: LineNode, move: chess.Move) -> bool:
    """Nearer to the middle of the board."""
    return _from_middle(move.to_square) < _from_middle(move.from_square)


def _from_middle(square: int) -> float:
    return max(abs(chess.square_file(square) - 3.5), abs(chess.square_rank(square) - 3.5))


def _returns(node: LineNode, move: chess.Move) -> bool:
    """Back, out of an attack, or where the piece came from."""
    board = node.board
    rise = chess.square_rank(move.to_square) - chess.square_rank(move.from_square)
    if (rise < 0) == board.turn and rise != 0 and board.is_attacked_by(not board.turn, move.from_square):
        return True
    before = node.parent
    for _ in range(_LAST_MOVES):
        if before is None or before.parent is None or before.move is None:
            return False
        own = before.move  # of the side to move
        if own.to_square == move.from_square:
            return own.from_square == move.to_square
        before = before.parent.parent
    return False


def _blocks(node: LineNode, move: chess.Move) -> bool:
    """Between the king and what checks it."""
    board = node.board
    return board.is_check() and not board.is_capture(move) and board.piece_type_at(move.from_square) != chess.KING


def _evades(node: LineNode, move: chess.Move) -> bool:
    """The king out of check, and takes nothing."""
    board = node.board
    return board.is_check() and move.from_square == board.king(board.turn) and not board.is_capture(move)


def _guards(node: LineNode, move: chess.Move) -> bool:
    """So that it protects a man of its own side that is attacked."""
    board = node.board
    us = board.turn
    if board.is_capture(move):
        return False
    after = board.copy(stack=False)
    after.push(move)
    guarded = after.attacks_mask(move.to_square) & after.occupied_co[us] & ~after.kings
    newly = guarded & ~board.attacks_mask(move.from_square)
    return any(board.is_attacked_by(not us, square) for square in chess.scan_forward(newly))


def _offers(node: LineNode, move: chess.Move) -> bool:
    """So that the piece could be exchanged for one of its kind."""
    board = node.board
    piece = board.piece_type_at(move.from_square)
    if piece is None or board.is_capture(move):
        return False
    return bool(_reached(board, move) & board.pieces_mask(piece, not board.turn))


def _fellow(node: LineNode, move: chess.Move) -> bool:
    """A piece of the kind that its side moved last, another one."""
    before = node.parent.parent if node.parent else None
    own = node.parent.move if node.parent else None
    if before is None or own is None or own.to_square == move.from_square:
        return False
    return node.board.piece_type_at(move.from_square) == before.board.piece_type_at(own.from_square)


def _hits(node: LineNode, move: chess.Move, said: Description) -> bool:
    """Whether a legal move attacks the man that it is said to attack, and pins it where that is said."""
    board = node.board
    them = not board.turn
    men = board.occupied_co[them] & ~board.kings
    if said.hits:
        men = board.pieces_mask(chess.PIECE_SYMBOLS.index(said.hits.lower()), them)
    reached = _reached(board, move) & men & ~chess.BB_SQUARES[move.to_square]
    if said.manner != "pins" or not reached:
        return bool(reached)
    return any(_pinned(board, move, square) for square in chess.scan_forward(reached & ~board.kings))


def _reached(board: chess.Board, move: chess.Move) -> chess.Bitboard:
    """Squares that the piece attacks from where it goes."""
    piece = move.promotion or board.piece_type_at(move.from_square)
    at = move.to_square
    if piece == chess.PAWN:
        return chess.BB_PAWN_ATTACKS[board.turn][at]
    if piece == chess.KNIGHT:
        return chess.BB_KNIGHT_ATTACKS[at]
    if piece == chess.KING:
        return chess.BB_KING_ATTACKS[at]
    occupied = board.occupied & ~chess.BB_SQUARES[move.from_square]
    return _slides(piece, at, occupied)


def _slides(piece: chess.PieceType | None, at: chess.Square, occupied: chess.Bitboard) -> chess.Bitboard:
    reach = 0
    if piece != chess.ROOK:
        reach |= chess.BB_DIAG_ATTACKS[at][chess.BB_DIAG_MASKS[at] & occupied]
    if piece != chess.BISHOP:
        reach |= chess.BB_RANK_ATTACKS[at][chess.BB_RANK_MASKS[at] & occupied]
        reach |= chess.BB_FILE_ATTACKS[at][chess.BB_FILE_MASKS[at] & occupied]
    return reach


def _pinned(board: chess.Board, move: chess.Move, square: chess.Square) -> bool:
    """Whether the move pins a man to its king or to a piece worth more than the one that pins."""
    piece = board.piece_type_at(move.from_square)
    if piece not in (chess.BISHOP, chess.ROOK, chess.QUEEN):
        return False
    occupied = board.occupied & ~chess.BB_SQUARES[move.from_square]
    through = _slides(piece, move.to_square, occupied & ~chess.BB_SQUARES[square])
    beyond = through & ~_slides(piece, move.to_square, occupied) & chess.ray(move.to_square, square)
    worth = board.kings | (board.queens if piece != chess.QUEEN else 0) | (board.rooks if piece == chess.BISHOP else 0)
    return bool(beyond & worth & board.occupied_co[not board.turn])


_MANNERS = {
    "guards": _guards,
    "corner": _corner,
    "centre": _centre,
    "returns": _returns,
    "offers": _offers,
    "fellow": _fellow,
    "blocks": _blocks,
    "evades": _evades,
    "passing": _in_passing,
    "mirrored": _mirrored,
    "past": _past,
    "out": _out,
    "doubles": _doubles,
    "open": _open,
}

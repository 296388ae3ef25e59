"""What a position is and what a move does, in the trade's words: phases, kinds of endgame, sacrifices, exchanges.

Pieces count 1, 3, 3, 5 and 9, as beginners are taught (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence

import chess

VALUES = {chess.PAWN: 1, chess.KNIGHT: 3, chess.BISHOP: 3, chess.ROOK: 5, chess.QUEEN: 9}
_NAMES = {chess.KNIGHT: "knight", chess.BISHOP: "bishop", chess.ROOK: "rook", chess.QUEEN: "queen"}
_ENDGAME_FORCE = 13
"""Value of a side's pieces without pawns up to which a position is an endgame (common practice)."""
_SACRIFICE = 2
"""Points that must be missing for a sacrifice: the exchange counts, a pawn does not."""
_STAYS_GIVEN = 5
"""Plies over which what was given must not have come back."""
_OPENING_ENDS = 24
"""Plies after which no position counts as opening."""
_HOME = {
    chess.WHITE: (chess.B1, chess.G1, chess.C1, chess.F1),
    chess.BLACK: (chess.B8, chess.G8, chess.C8, chess.F8),
}


def material(board: chess.Board, colour: chess.Color) -> int:
    """Value of a side's pieces and pawns."""
    return sum(value * board.pieces_mask(kind, colour).bit_count() for kind, value in VALUES.items())


def force(board: chess.Board, colour: chess.Color) -> int:
    """Value of a side's pieces without its pawns."""
    return material(board, colour) - board.pieces_mask(chess.PAWN, colour).bit_count()


def is_endgame(board: chess.Board) -> bool:
    """Whether few enough pieces are left on both sides."""
    return max(force(board, chess.WHITE), force(board, chess.BLACK)) <= _ENDGAME_FORCE


def is_middlegame(board: chess.Board, ply: int) -> bool:
    """Whether the opening is over: both kings settled and at most one minor piece a side still at home."""
    if ply >= _OPENING_ENDS:
        return True
    for colour, homes in _HOME.items():
        minor = board.knights | board.bishops
        waiting = sum(bool(chess.BB_SQUARES[square] & minor & board.occupied_co[colour]) for square in homes)
        if waiting > 1 or board.has_castling_rights(colour):
            return False
    return True


def endgame_name(board: chess.Board) -> str:
    """The endgame by its pieces: "Rook endgame", "Bishop against knight", "Opposite-coloured bishops"."""
    sides = [_pieces(board, colour) for colour in (chess.WHITE, chess.BLACK)]
    white, black = sides
    if not white and not black:
        return "Pawn endgame"
    if white == black and len(white) == 1:
        if white[0] == chess.BISHOP and _opposite_bishops(board):
            return "Endgame with opposite-coloured bishops"
        return f"{_NAMES[white[0]].capitalize()} endgame"
    if set(white) == set(black) == {chess.ROOK}:
        return "Rook endgame"
    if max(len(white), len(black)) > 2:
        return "The endgame"
    # the stronger side is named first, whichever colour it has
    strong, weak = sorted(sides, key=lambda kinds: (sum(VALUES[kind] for kind in kinds), kinds), reverse=True)
    return f"{_listed(strong)} against {_listed(weak)}".capitalize()


def _pieces(board: chess.Board, colour: chess.Color) -> list[int]:
    kinds = (chess.QUEEN, chess.ROOK, chess.BISHOP, chess.KNIGHT)
    return [kind for kind in kinds for _ in range(board.pieces_mask(kind, colour).bit_count())]


def _listed(kinds: Sequence[int]) -> str:
    if not kinds:
        return "pawns"
    if len(kinds) == 2 and kinds[0] == kinds[1]:
        return f"two {_NAMES[kinds[0]]}s"
    return " and ".join(_NAMES[kind] for kind in kinds)


def _opposite_bishops(board: chess.Board) -> bool:
    bishops = [next(iter(board.pieces(chess.BISHOP, colour))) for colour in (chess.WHITE, chess.BLACK)]
    return len({bool(chess.BB_SQUARES[square] & chess.BB_LIGHT_SQUARES) for square in bishops}) == 2


def sacrifice(boards: Sequence[chess.Board], moves: Sequence[chess.Move], at: int) -> str | None:
    """What move `at` of a line gives up, "bishop", "exchange" ..., where it is a sacrifice that stays given.

    The move puts a piece where it is taken at once (or leaves one there), and plies later the side that made it still
    has less than before.

    Args:
        boards: the position before the first move, and after each.
        moves: of the line.
        at: index of the move.
    """
    if at + 1 >= len(moves):
        return None
    side = boards[at].turn
    taken = boards[at + 1].piece_at(moves[at + 1].to_square)
    if taken is None or taken.color != side or taken.piece_type == chess.PAWN:
        return None

    def balance(place: int) -> int:
        return material(boards[place], side) - material(boards[place], not side)

    before = balance(at)
    if at:
        # a piece taken just before, and now taken back, is an exchange
        before = max(before, min(before, balance(at - 1)))
        if boards[at - 1].piece_at(moves[at - 1].to_square) and moves[at].to_square == moves[at - 1].to_square:
            return None
    later = range(at + 2, min(at + 2 + _STAYS_GIVEN, len(boards)))
    won = boards[at].piece_type_at(moves[at].to_square)
    exchange = taken.piece_type == chess.ROOK and won in (chess.KNIGHT, chess.BISHOP)
    if before - balance(at + 2) < _SACRIFICE:
        return None
    # an exchange given for a pawn is one still
    least = _SACRIFICE - exchange
    if any(before - balance(place) < least for place in later if boards[place].turn != side):
        return None
    return "exchange" if exchange else _NAMES[taken.piece_type]


def queens_leave(before: chess.Board, after: chess.Board) -> bool:
    """Whether a move takes the last queen off the board."""
    return bool(before.queens) and not after.queens


def castled_apart(board: chess.Board, move: chess.Move) -> bool:
    """Whether a move is castling to the other wing than the one where the opponent's king stands castled."""
    if not board.is_castling(move):
        return False
    other = board.king(not board.turn)
    home = 7 if board.turn else 0
    if other is None or chess.square_rank(other) != home or board.has_castling_rights(not board.turn):
        return False
    wing = chess.square_file(other)
    return wing in (1, 2) if board.is_kingside_castling(move) else wing in (6, 7)

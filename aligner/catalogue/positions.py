"""Positions as the catalogue keeps them: packed, with a key that is the same for the same position, and terms to find.

Two positions are the same as FIDE's Laws of Chess see it for repeated positions (article 9.2.3): the same player moves,
pieces of the same kind and colour stand on the same squares, and the possible moves are the same, so castling rights
count, and en passant counts only where a pawn can really be taken so.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from hashlib import blake2b

import chess

_BUCKETS = 36**3
"""Positions are found by one of so many terms, then compared; three letters or digits name one."""

_DIGITS = "0123456789abcdef"
_SIGNS = ".PNBRQK..pnbrqk"
_LOOKED_AT = 8
"""Squares that are looked at one by one; for more of them bitboards are faster."""
_ABSENT = ("p", "n", "l", "d", "r", "q")
"""Kinds of pieces whose absence has a term: pawn, knight, light- and dark-squared bishop, rook, queen."""


@dataclass(frozen=True, slots=True)
class Position:
    """One position.

    Attributes:
        placement: the occupied squares as eight bytes, little-endian, then half a byte a piece from
            a1 to h8, high half first: its type, 1 (pawn) to 6 (king), and 8 more for Black.
        state: bit 0 White to move, bits 1 to 4 castling rights K Q k q, bits 5 to 8 the file (1 to 8) on which a
            pawn can be taken en passant, or 0.
    """

    placement: bytes
    state: int

    @property
    def key(self) -> int:
        """A number of 64 bits: the same for the same position, and hardly ever for another."""
        return position_key(self.placement, self.state)

    def board(self) -> chess.Board:
        """The position as a board; move counters are 0 and 1."""
        board = chess.Board(None)
        for square, piece in pieces(self.placement):
            board.set_piece_at(square, piece)
        board.turn = bool(self.state & 1)
        for bit, letter in enumerate("KQkq", start=1):
            if self.state >> bit & 1:
                board.castling_rights |= _rook(board, letter)
        file = self.state >> 5
        if file:
            board.ep_square = chess.square(file - 1, 5 if board.turn else 2)
        return board

    def fen(self) -> str:
        """FEN (PGN standard, 16.1), with move counters 0 and 1."""
        signs = ["1"] * 64
        for square, code in _codes(self.placement):
            signs[square] = _SIGNS[code]
        placement = "/".join("".join(signs[rank : rank + 8]) for rank in range(56, -8, -8))
        for empty in range(8, 1, -1):
            placement = placement.replace("1" * empty, str(empty))
        white = bool(self.state & 1)
        rights = "".join(letter for bit, letter in enumerate("KQkq", start=1) if self.state >> bit & 1)
        file = self.state >> 5
        passing = f"{'abcdefgh'[file - 1]}{6 if white else 3}" if file else "-"
        return f"{placement} {'w' if white else 'b'} {rights or '-'} {passing} 0 1"


def position_key(placement: bytes, state: int) -> int:
    """`Position.key` of its two parts."""
    digest = blake2b(placement + state.to_bytes(2, "little"), digest_size=8).digest()
    return int.from_bytes(digest, "little")


def _rook(board: chess.Board, letter: str) -> int:
    """The rook with which a side castles on a wing: the outermost one on its king's side of the board."""
    white = letter.isupper()
    rank = chess.BB_RANK_1 if white else chess.BB_RANK_8
    king = board.king(chess.WHITE if white else chess.BLACK)
    rooks = list(chess.SquareSet(board.rooks & board.occupied_co[white] & rank))
    wing = [rook for rook in rooks if king is not None and (rook > king) == (letter.upper() == "K")]
    if not wing:
        return 0
    return chess.BB_SQUARES[max(wing) if letter.upper() == "K" else min(wing)]


def position_of(board: chess.Board) -> Position:
    """The position on a board."""
    return Position(*placement_and_state(board))


def placement_and_state(board: chess.Board) -> tuple[bytes, int]:
    """The two parts of `position_of`."""
    occupied, black = board.occupied, board.occupied_co[chess.BLACK]
    # piece types 1 to 6 in three bit planes, a fourth for Black
    ones = board.pawns | board.bishops | board.queens
    twos = board.knights | board.bishops | board.kings
    fours = board.rooks | board.queens | board.kings
    squares = _spread(ones) + 2 * _spread(twos) + 4 * _spread(fours) + 8 * _spread(black)
    codes = f"{squares:x}"[::-1].replace("0", "")
    state = int(board.turn)
    rights = board.clean_castling_rights()
    if rights:
        state |= _CORNERS.get(rights) or _rights(board)
    passing = board.ep_square
    if passing is not None:
        beside = chess.BB_PAWN_ATTACKS[not board.turn][passing] & board.pawns & board.occupied_co[board.turn]
        if beside and board.has_legal_en_passant():  # the first is much faster to tell, and mostly decides
            state |= (chess.square_file(passing) + 1) << 5
    return occupied.to_bytes(8, "little") + bytes.fromhex(codes if len(codes) % 2 == 0 else codes + "0"), state


def _rights(board: chess.Board) -> int:
    return (
        board.has_kingside_castling_rights(chess.WHITE) << 1
        | board.has_queenside_castling_rights(chess.WHITE) << 2
        | board.has_kingside_castling_rights(chess.BLACK) << 3
        | board.has_queenside_castling_rights(chess.BLACK) << 4
    )


_CORNERS = {
    sum(chess.BB_SQUARES[square] for bit, square in enumerate(corners) if chosen >> bit & 1): chosen << 1
    for corners in ((chess.H1, chess.A1, chess.H8, chess.A8),)
    for chosen in range(16)
}
"""Castling rights as `chess.Board` has them, a rook's square a bit, by those of `Position.state`: rooks in corners."""


def _spread(plane: int) -> int:
    """Every bit as half a byte."""
    return int(bin(plane)[2:], 16)


def _codes(placement: bytes) -> list[tuple[int, int]]:
    """Square and half-byte of every piece, from a1 to h8."""
    occupied = int.from_bytes(placement[:8], "little")
    return list(zip(chess.scan_forward(occupied), map(_DIGITS.index, placement[8:].hex()), strict=False))


def pieces(placement: bytes) -> list[tuple[int, chess.Piece]]:
    """Square and piece for every piece, from a1 to h8."""
    return [(square, chess.Piece(code & 7, code < 8)) for square, code in _codes(placement)]


Bitboards = tuple[tuple[int, ...], tuple[int, ...]]
"""For White and for Black, the squares of pawns, knights, bishops, rooks, queens and kings, a bit a square."""


def bitboards(placement: bytes) -> Bitboards:
    """The bitboards of a placement."""
    boards = [[0] * 6, [0] * 6]
    for square, code in _codes(placement):
        boards[code >> 3][(code & 7) - 1] |= 1 << square
    return tuple(boards[0]), tuple(boards[1])


def on_squares(placement: bytes, white: bool, piece_type: int, squares: int) -> int:
    """How many pieces of a kind a side has on some squares (a bitboard)."""
    occupied = int.from_bytes(placement[:8], "little")
    code = piece_type if white else piece_type + 8
    codes = placement[8:]
    count = 0
    wanted = occupied & squares
    if wanted.bit_count() > _LOOKED_AT:
        boards = bitboards(placement)
        return (boards[not white][piece_type - 1] & squares).bit_count()
    while wanted:
        square = wanted & -wanted
        place = (occupied & (square - 1)).bit_count()
        pair = codes[place >> 1]
        count += (pair & 15 if place & 1 else pair >> 4) == code
        wanted ^= square
    return count


# What a move is asked for by: the piece and where it goes, or the wing to which the king castles.
CASTLE_SHORT, CASTLE_LONG = 6 * 64, 6 * 64 + 1

# Terms are small numbers: a piece on a square, a kind of piece that a side no longer has, the move that was made, the
# kind of what is said, and one of many that a position falls to by its key.
_FIRST_ABSENT = 12 * 64
_FIRST_MOVE = _FIRST_ABSENT + 12
_FIRST_KIND = _FIRST_MOVE + CASTLE_LONG + 1
FIRST_POSITION = 36 * 36


def standing_term(white: bool, piece_type: int, square: int) -> int:
    """The term of a piece (chess.PAWN to chess.KING) that stands on a square."""
    return ((piece_type - 1) + (0 if white else 6)) * 64 + square


def absent_term(white: bool, kind: str) -> int:
    """The term of a kind of piece, one of "p", "n", "l", "d", "r", "q", that a side does not have."""
    return _FIRST_ABSENT + _ABSENT.index(kind) + (0 if white else len(_ABSENT))


def _presence(code: int, square: int) -> int:
    kinds = {1: 0, 2: 1, 3: 2 if chess.BB_SQUARES[square] & chess.BB_LIGHT_SQUARES else 3, 4: 4, 5: 5}
    kind = kinds.get(code & 7)
    return 0 if kind is None else 1 << (kind + (6 if code & 8 else 0))


_STANDING = {
    _DIGITS[code]: [(standing_term(code < 8, code & 7, square), _presence(code, square)) for square in chess.SQUARES]
    for code, sign in enumerate(_SIGNS)
    if sign != "."
}
_FILES = [tuple(chess.scan_forward(occupied)) for occupied in range(256)]
"""Of the bits of a rank."""


def move_term(code: int) -> int:
    """The term of a move by its `move_code`."""
    return _FIRST_MOVE + code


def kind_term(kind: int) -> int:
    """The term of a kind of what is said at a node, a small number."""
    return _FIRST_KIND + kind


def position_term(key: int) -> int:
    """The term of a position by its key; some other positions have the same."""
    return FIRST_POSITION + key % _BUCKETS


def ranks(placement: bytes) -> Iterator[tuple[int, int, str]]:
    """Every rank that is not empty: its first square, its occupied files as bits, its half-bytes as hexadecimal."""
    codes = placement[8:].hex()
    at = 0
    for number, occupied in enumerate(placement[:8]):
        if occupied:
            past = at + occupied.bit_count()
            yield 8 * number, occupied, codes[at:past]
            at = past


def rank_terms(first: int, occupied: int, codes: str) -> tuple[list[int], int]:
    """Terms of the pieces of a rank as `ranks` gives it, and a bit for each kind of piece that stands there."""
    found, present = [], 0
    for file, digit in zip(_FILES[occupied], codes, strict=False):
        term, kind = _STANDING[digit][first + file]
        found.append(term)
        present |= kind
    return found, present


@lru_cache(maxsize=1 << 12)
def absent_terms(present: int) -> tuple[int, ...]:
    """Terms of the kinds of pieces that are missing, from the bits of those that are there."""
    return tuple(_FIRST_ABSENT + number for number in range(12) if not present >> number & 1)


def terms(placement: bytes) -> list[int]:
    """All terms of a placement: 768 of standing pieces, 12 of absent kinds."""
    found: list[int] = []
    present = 0
    for rank in ranks(placement):
        own, kinds = rank_terms(*rank)
        found += own
        present |= kinds
    found += absent_terms(present)
    return found


def move_code(board: chess.Board, move: chess.Move) -> int:
    """Piece and target of a legal move as one number, the same for both sides."""
    piece = board.piece_type_at(move.from_square) or chess.PAWN
    if piece == chess.KING and board.is_castling(move):
        return CASTLE_SHORT if chess.square_file(move.to_square) > chess.square_file(move.from_square) else CASTLE_LONG
    return (piece - 1) * 64 + move.to_square

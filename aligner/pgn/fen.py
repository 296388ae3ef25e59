"""Positions given as text: Forsyth-Edwards Notation (PGN standard, 16.1), checked."""

from __future__ import annotations

import re

import chess

from aligner.errors import ScoreError

# In the order in which they are told: what is wrong with the pieces explains what follows from it.
_FAULTS = (
    (chess.STATUS_EMPTY, "the board is empty"),
    (chess.STATUS_NO_WHITE_KING, "White has no king"),
    (chess.STATUS_NO_BLACK_KING, "Black has no king"),
    (chess.STATUS_TOO_MANY_KINGS, "a side has more than one king"),
    (chess.STATUS_TOO_MANY_WHITE_PAWNS, "White has more than eight pawns"),
    (chess.STATUS_TOO_MANY_BLACK_PAWNS, "Black has more than eight pawns"),
    (chess.STATUS_PAWNS_ON_BACKRANK, "a pawn stands on the first or the eighth rank"),
    (chess.STATUS_TOO_MANY_WHITE_PIECES, "White has more than sixteen pieces"),
    (chess.STATUS_TOO_MANY_BLACK_PIECES, "Black has more than sixteen pieces"),
    (chess.STATUS_BAD_CASTLING_RIGHTS, "the castling rights do not fit where the kings and rooks stand"),
    (chess.STATUS_INVALID_EP_SQUARE, "the en passant square does not fit the pawns and the side to move"),
    (chess.STATUS_OPPOSITE_CHECK, "the side that has just moved stands in check"),
    (chess.STATUS_TOO_MANY_CHECKERS, "more pieces give check than one move allows"),
    (chess.STATUS_IMPOSSIBLE_CHECK, "no last move can have given this check"),
)
_EXAMPLE = f"a FEN looks like '{chess.STARTING_FEN}'"


def parse_fen(text: str) -> str:
    """The position in its usual spelling, with all six fields.

    Four fields are taken too, as in EPD (PGN standard, 16.2); the counters are then 0 and 1.

    Raises:
        ScoreError: it is no FEN, or a position that no game can reach.
    """
    fields = text.split()
    if len(fields) not in (4, 6):
        has = f"{_shown(text)} has {len(fields)}" if fields else "this one is empty"
        raise ScoreError(f"a FEN has six fields, and {has}; {_EXAMPLE}.")
    if fields[1] not in ("w", "b"):
        raise ScoreError(f"the second field of the FEN tells who moves, 'w' or 'b', and is {_shown(fields[1])}.")
    for counter in fields[4:]:
        if not re.fullmatch(r"[0-9]{1,5}", counter):
            raise ScoreError(f"the last two fields of the FEN count moves, and one of them is {_shown(counter)}.")
    try:
        board = chess.Board(" ".join(fields))
    except ValueError as error:
        raise ScoreError(f"{_shown(text)} is no FEN ({_reason(error)}); {_EXAMPLE}.") from None
    status = board.status()
    for fault, sentence in _FAULTS:
        if status & fault:
            raise ScoreError(f"the position {_shown(text)} cannot arise in a game: {sentence}.")
    return board.fen(en_passant="fen")


def _shown(text: str) -> str:
    line = repr(" ".join(text.split()))
    return line if len(line) <= 110 else line[:107] + "..."


def _reason(error: ValueError) -> str:
    # The part before the colon is the reason; the value behind it is in our sentence already.
    return str(error).split(":", 1)[0]

"""Positions: the key against python-chess and FIDE's rule on repeated positions, terms and bitboards against boards."""

from __future__ import annotations

import chess
from hypothesis import given, settings
from hypothesis import strategies as st

from aligner.catalogue.positions import (
    absent_term,
    bitboards,
    move_code,
    pieces,
    position_of,
    standing_term,
    terms,
)

STARTS = (
    chess.STARTING_FEN,
    "r3k2r/pPpp1ppp/8/8/3Pp3/8/PPP2PpP/R3K2R b KQkq d3 0 1",
    "8/8/1k6/8/2pP4/1K6/8/8 b - d3 0 40",
    "4k3/PPP5/8/8/8/8/ppp5/4K3 w - - 0 97",
)


@st.composite
def boards(draw: st.DrawFn) -> chess.Board:
    board = chess.Board(draw(st.sampled_from(STARTS)))
    for _ in range(draw(st.integers(0, 60))):
        moves = list(board.legal_moves)
        if not moves:
            break
        board.push(draw(st.sampled_from(moves)))
    return board


@given(boards())
@settings(max_examples=150, deadline=None)
def test_a_position_comes_back_as_python_chess_writes_it(board: chess.Board) -> None:
    position = position_of(board)
    # EPD with en passant only where a pawn can be taken so: what python-chess compares for repetitions
    assert position.board().epd(en_passant="legal") == board.epd(en_passant="legal")
    assert position.fen() == board.epd(en_passant="legal") + " 0 1"
    assert dict(pieces(position.placement)) == board.piece_map()


@given(boards(), boards())
@settings(max_examples=150, deadline=None)
def test_keys_are_equal_just_where_python_chess_sees_the_same_position(one: chess.Board, other: chess.Board) -> None:
    same = one.epd(en_passant="legal") == other.epd(en_passant="legal")
    assert (position_of(one).key == position_of(other).key) == same


@given(boards())
@settings(max_examples=60, deadline=None)
def test_repetitions_are_counted_as_python_chess_counts_them(board: chess.Board) -> None:
    replay, keys = board.root(), []
    for move in board.move_stack:
        keys.append(position_of(replay).key)
        replay.push(move)
    keys.append(position_of(replay).key)
    for times in (2, 3):
        assert (keys.count(keys[-1]) >= times) == board.is_repetition(times)


@given(boards())
@settings(max_examples=100, deadline=None)
def test_terms_and_bitboards_say_what_stands_and_what_is_missing(board: chess.Board) -> None:
    placement = position_of(board).placement
    assert bitboards(placement) == tuple(
        tuple(board.pieces_mask(kind, colour) for kind in chess.PIECE_TYPES) for colour in (True, False)
    )
    expected = {standing_term(piece.color, piece.piece_type, square) for square, piece in board.piece_map().items()}
    for colour in (True, False):
        masks = {
            "p": board.pieces_mask(chess.PAWN, colour),
            "n": board.pieces_mask(chess.KNIGHT, colour),
            "l": board.pieces_mask(chess.BISHOP, colour) & chess.BB_LIGHT_SQUARES,
            "d": board.pieces_mask(chess.BISHOP, colour) & chess.BB_DARK_SQUARES,
            "r": board.pieces_mask(chess.ROOK, colour),
            "q": board.pieces_mask(chess.QUEEN, colour),
        }
        expected |= {absent_term(colour, kind) for kind, mask in masks.items() if not mask}
    assert set(terms(placement)) == expected
    assert len(terms(placement)) == len(expected)


def test_en_passant_counts_only_where_a_pawn_can_be_taken() -> None:
    # FIDE Laws of Chess 9.2.3 (wording from memory): positions differ where a pawn that could have been captured en
    # passant can no longer be. After 1. e4 nobody can take on e3, so the order of 1. e4 and 1. e3, 2. e4 is no matter.
    taken = chess.Board("4k3/8/8/8/3pP3/8/8/4K3 b - e3 0 1")
    later = chess.Board("4k3/8/8/8/3pP3/8/8/4K3 b - - 0 1")
    nobody = chess.Board("4k3/8/8/8/4P3/8/8/4K3 b - e3 0 1")
    assert position_of(taken).key != position_of(later).key
    assert position_of(nobody).key == position_of(chess.Board("4k3/8/8/8/4P3/8/8/4K3 b - - 0 1")).key
    # the capture would leave the king in check along the rank, so it is none
    pinned = chess.Board("8/8/8/8/k2pP2R/8/8/4K3 b - e3 0 1")
    assert position_of(pinned).key == position_of(chess.Board("8/8/8/8/k2pP2R/8/8/4K3 b - - 0 1")).key


def test_castling_rights_and_the_side_to_move_count() -> None:
    fens = [f"r3k2r/8/8/8/8/8/8/R3K2R {turn} {rights} - 0 1" for turn in "wb" for rights in ("KQkq", "KQk", "Kq", "-")]
    assert len({position_of(chess.Board(fen)).key for fen in fens}) == len(fens)


def test_castling_rights_of_rooks_that_began_elsewhere_count_too() -> None:
    """X-FEN names them by wing, as python-chess writes and reads it (`castling_xfen`)."""
    for fen in ("1r2k1r1/8/8/8/8/8/8/1R2K1R1 w KQkq - 0 1", "rk4r1/8/8/8/8/8/8/RK4R1 b KQq - 0 1"):
        board = chess.Board(fen, chess960=True)
        expected = {letter for letter in "KQkq" if letter in board.castling_xfen()}
        state = position_of(board).state
        assert {letter for bit, letter in enumerate("KQkq", start=1) if state >> bit & 1} == expected != set()


def test_a_move_is_asked_for_by_piece_and_target_or_by_wing() -> None:
    white = chess.Board("r3k2r/8/8/8/8/8/8/R3K2R w KQkq - 0 1")
    black = chess.Board("r3k2r/8/8/8/8/8/8/R3K2R b KQkq - 0 1")
    short = move_code(white, white.parse_san("O-O"))
    assert short == move_code(black, black.parse_san("O-O")) != move_code(white, white.parse_san("O-O-O"))
    assert move_code(white, white.parse_san("Ra5")) == move_code(black, black.parse_san("Ra5"))

"""Which legal moves fit what was said, exactly or all but one detail, with the terms that price the fit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache
from math import isinf, log
from typing import NamedTuple

import chess

from aligner.search.lines import LineNode, Ply
from aligner.search.manners import in_manner, stands_out
from aligner.speech.description import Description, Terms
from aligner.speech.sounds import confusion

LETTERS = {"P": chess.PAWN, "N": chess.KNIGHT, "B": chess.BISHOP, "R": chess.ROOK, "Q": chess.QUEEN, "K": chess.KING}
"""Types of pieces by their letters."""
_NAMES = {
    chess.PAWN: "pawn",
    chess.KNIGHT: "knight",
    chess.BISHOP: "bishop",
    chess.ROOK: "rook",
    chess.QUEEN: "queen",
    chess.KING: "king",
}
ANY_FIT = (
    "ambiguous", "capture_unsaid", "castling_unsaid", "check_unsaid", "king_unsaid", "no_recapture",
    "pawn_capture_unsaid", "pawn_unsaid", "promotion_unsaid", "recapture_unsaid", "square_names_piece",
    "underpromotion_unsaid", "way_false", "way_straight", "wing_false", "other_false",
)  # fmt: skip
"""Terms that any exact fit may have."""
_ALONG_LINES = [chess.BB_RANK_ATTACKS[at][0] | chess.BB_FILE_ATTACKS[at][0] for at in chess.SQUARES]
_SLANTING = [chess.BB_DIAG_ATTACKS[at][0] for at in chess.SQUARES]
_LOOKS_AT = {
    chess.KING: chess.BB_KING_ATTACKS,
    chess.KNIGHT: chess.BB_KNIGHT_ATTACKS,
    chess.BISHOP: _SLANTING,
    chess.ROOK: _ALONG_LINES,
    chess.QUEEN: [straight | slanting for straight, slanting in zip(_ALONG_LINES, _SLANTING, strict=True)],
}
"""By type of piece the squares from which it reaches each square on an empty board."""
_WING_FALSE = ("wing_false", 1.0)
_OTHER_FALSE = ("other_false", 1.0)
_CHECKING = ("check", "piece_checks")
"""How the forms begin that say no more of a move than that it gives check."""
_OFTEN = 6
"""Phrases asked about at a node from which on it pays to know all squares in reach."""
_MOST_FITS = 10
"""A description that fits more moves than this says nothing."""


class Fit(NamedTuple):
    """A legal move and how it fits; a tuple, because so many are made.

    Attributes:
        move: legal in the node's position.
        terms: what the fit takes for granted.
        slips: kinds of what was said wrongly; empty for an exact fit.
    """

    move: chess.Move
    terms: Terms
    slips: tuple[str, ...] = ()


PricedFit = tuple[chess.Move, Fit, float]
"""A move, how it fits, and the cost of the fit in nats."""


def looks_at(piece: chess.PieceType, square: chess.Square) -> chess.Bitboard:
    """Squares from which a piece that is no pawn reaches a square on an empty board; castling is not in it."""
    return _LOOKS_AT[piece][square]


def stands_there(board: chess.Board, stands: tuple[str, int, bool | None]) -> bool:
    """Whether the piece that a phrase speaks of stands where it says: its letter, its square, its side if told."""
    letter, at, side = stands
    piece = board.piece_at(at)
    return piece is not None and piece.symbol().upper() == letter and (side is None or piece.color == side)


def exact_fits(node: LineNode, said: Description) -> list[Fit]:
    """The legal moves that nothing said contradicts."""
    if said.piece and not said.castle and not _looks_there(node.board, said):
        return []  # most are told apart by this alone
    if len(node.fits) > _OFTEN and not _in_reach(node, said):
        return []
    if said.target is None and not (
        said.piece or said.capture or said.castle or said.promotion or said.check or said.mate or said.manner
    ):
        return []
    fits = []
    for ply in _candidates(node, said):
        fit = _compare(node, ply, said)
        if fit is not None and not fit.slips:
            fits.append(fit)
    if said.wing and len(fits) > 1:
        fits = [fit for fit in fits if _WING_FALSE not in fit.terms] or fits
    if said.other and len(fits) > 1:
        fits = [fit for fit in fits if _OTHER_FALSE not in fit.terms] or fits
    if not fits or len(fits) > _MOST_FITS:
        return []
    if len(fits) > 1:
        share = ("ambiguous", log(len(fits)))
        fits = [Fit(fit.move, (*fit.terms, share)) for fit in fits]
    return fits


def _looks_there(board: chess.Board, said: Description) -> bool:
    """Whether a piece of the kind that was said would reach the square that was said on an empty board."""
    white = board.turn
    target, piece = said.target if white else said.target_for_black, LETTERS[said.piece]
    if target is None or piece == chess.PAWN or piece == chess.KING:
        return True
    return bool(_LOOKS_AT[piece][target] & board.pieces_mask(piece, white))


def _in_reach(node: LineNode, said: Description) -> bool:
    """A quick test that most descriptions fail in most positions."""
    if said.castle:
        return bool(node.board.castling_rights)
    target = said.target if node.board.turn else said.target_for_black
    if target is None:
        return True
    if said.piece == "K":
        return bool((node.reach[chess.KING] >> target) & 1 or node.board.castling_rights)
    return bool((node.reach[LETTERS[said.piece] if said.piece else 0] >> target) & 1)


def terms_of_fits(said: Description) -> Iterator[str]:
    """Names of all terms that an exact fit may take for granted besides `ANY_FIT`."""
    if said.capture or said.form.startswith(("takes", "retakes")):
        yield "recapture"
        yield from (f"taken_by.{piece}" for piece in _NAMES.values())
    if said.castle:
        yield from ("wing_unsaid", "long_unsaid")
    if said.check or said.mate:
        yield from ("check_said", "check_false")


def slips_of_fits(said: Description) -> Iterator[str]:
    """Kinds of all that may be said wrongly of a move."""
    details = {
        "side": said.side is not None,
        "castling": said.castle,
        "piece": said.piece,
        "origin": (said.from_file is not None or said.from_rank is not None) and not _stood_on(said),
        "colour": said.shade,
        "capture": said.capture,
        "captured": said.captured,
        "promotion": said.promotion,
        "check": said.check or said.mate,
    }
    yield from (kind for kind, told in details.items() if told)
    if said.target is not None or said.to_file is not None:
        yield from ("square", "mirrored", "file", "rank")


def _stood_on(said: Description) -> bool:
    """Whether words name a whole square beside the piece.

    Where it is not the mover's, as in "h1 queen g4", it is said of another piece, or of the move before.
    """
    return said.from_file is not None and said.from_rank is not None and said.form != "symbols"


def near_fits(node: LineNode, said: Description) -> list[Fit]:
    """The legal moves that all but one detail of what was said describes."""
    if said.target is None and not said.castle:
        return []
    board = node.board
    fits = []
    for move in _neighbours(board, said):
        fit = compare(node, move, said)
        if fit is not None and len(fit.slips) == 1:
            fits.append(fit)
    return fits


def compare(node: LineNode, move: chess.Move, said: Description) -> Fit | None:
    """How what was said fits one legal move; None where more than two details differ."""
    return _compare(node, node.ply_of(move), said)


def _compare(node: LineNode, ply: Ply, said: Description) -> Fit | None:
    move, piece, castling, victim = ply
    board = node.board
    white = board.turn
    if (said.manner or said.steps or said.to_rank is not None) and not in_manner(node, move, said):
        return None
    terms: list[tuple[str, float]] = []
    slips: list[str] = []
    if said.side is not None and said.side != white:
        slips.append("side")
    if said.castle:
        if not castling:
            return None
        short = chess.square_file(move.to_square) > 4
        if said.castle != "any" and (said.castle == "short") != short:
            slips.append("castling")
        if said.castle == "any":
            terms.append(("wing_unsaid", 1.0))
            if not short and len(list(board.generate_castling_moves())) > 1:
                terms.append(("long_unsaid", 1.0))
        return _with_check(node, move, said, terms, slips)
    if castling:
        if said.piece != "K" and said.manner != "mirrored":
            return None
        if not said.manner:
            terms.append(("castling_unsaid", 1.0))
    if said.piece:
        if LETTERS[said.piece] != piece:
            slips.append("piece")
            terms.append(
                (f"piece_for.{'pawn' if piece == chess.PAWN else 'pawn_said' if said.piece == 'P' else 'piece'}", 1.0)
            )
    elif piece != chess.PAWN:
        if said.form in ("square", "push_square"):
            terms.append(("square_names_piece", 1.0))
        elif said.form in ("takes", "retakes") and piece == chess.KING:
            terms.append(("king_unsaid", 1.0))
    elif said.form == "go_square":
        terms.append(("pawn_unsaid", 1.0))
    file_left = said.from_file is None or said.from_file == chess.square_file(move.from_square)
    rank_left = said.from_rank is None or said.from_rank == chess.square_rank(move.from_square)
    if not (file_left and rank_left):
        if _stood_on(said):
            return None
        slips.append("origin")
    if said.stood and not stands_out(board, move.from_square, said.stood):
        return None
    if said.shade and piece == chess.BISHOP:
        light = bool(chess.BB_SQUARES[move.from_square] & chess.BB_LIGHT_SQUARES)
        if light != (said.shade == "light"):
            slips.append("colour")
    if said.wing and (chess.square_file(node.origin(move.from_square)) < 4) != (said.wing == "queen"):
        terms.append(_WING_FALSE)
    if said.other and move.from_square == node.stands_last(piece):
        terms.append(_OTHER_FALSE)
    target = said.target if white else said.target_for_black
    if target is not None and target != move.to_square:
        kind, amount = _square_slip(target, move.to_square)
        slips.append(kind)
        terms.append((f"slip_{kind}", amount))
    if said.to_file is not None and said.to_file != chess.square_file(move.to_square):
        slips.append("file")
        terms.append(("slip_file", float(abs(said.to_file - chess.square_file(move.to_square)))))
    if said.capture and not victim:
        slips.append("capture")
    if victim:
        if not said.capture:
            terms.append(("pawn_capture_unsaid" if piece == chess.PAWN else "capture_unsaid", 1.0))
        if said.captured and LETTERS[said.captured] != victim:
            slips.append("captured")
        if node.captured and node.move is not None and node.move.to_square == move.to_square:
            terms.append(("recapture" if said.capture else "recapture_unsaid", 1.0))
        elif said.form.startswith("retakes"):
            terms.append(("no_recapture", 1.0))
    if move.promotion:
        if not said.promotion:
            terms.append(("promotion_unsaid", 1.0))
            if move.promotion != chess.QUEEN:
                terms.append(("underpromotion_unsaid", 1.0))
        elif said.promotion != "?" and LETTERS[said.promotion] != move.promotion:
            slips.append("promotion")
    elif said.promotion:
        slips.append("promotion")
    if victim and not said.piece and said.form.startswith(("takes", "retakes")):
        terms.append((f"taken_by.{_NAMES[piece]}", 1.0))
    if said.way and not _goes(board, move, said.way):
        terms.append(("way_false", 1.0))
    elif said.way in ("back", "up") and chess.square_file(move.from_square) == chess.square_file(move.to_square):
        terms.append(("way_straight", 1.0))
    if len(slips) > 2 and len(set(slips)) > 2:
        return None
    return _with_check(node, move, said, terms, slips)


def _with_check(
    node: LineNode, move: chess.Move, said: Description, terms: list[tuple[str, float]], slips: list[str]
) -> Fit:
    told = said.check or said.mate
    check = (told or node.score_ply >= 0) and node.checks(move)  # looked up only where it tells something: it is slow
    if check and not told:
        terms.append(("check_unsaid", 1.0))
    elif not check and told:
        terms.append(("check_false", 1.0))
        if said.form.startswith(_CHECKING):
            slips.append("check")
    elif check:
        terms.append(("check_said", 1.0))
    if not slips:
        return Fit(move, tuple(terms))
    unique = tuple(dict.fromkeys(slips))
    terms += [(f"slip.{kind}", 1.0) for kind in unique]
    if len(unique) > 1:
        terms.append(("slip_twice", 1.0))
    return Fit(move, tuple(terms), unique)


@lru_cache(maxsize=4096)
def _square_slip(said: int, meant: int) -> tuple[str, float]:
    """Kind and size of a wrong square. Sizes: steps beyond the first, or the phoneme distance where that is less."""
    files = abs(chess.square_file(said) - chess.square_file(meant))
    ranks = abs(chess.square_rank(said) - chess.square_rank(meant))
    if files and ranks:
        return "square", float(files + ranks - 2)
    if files > 1 and chess.square_file(said) == 7 - chess.square_file(meant):
        return "mirrored", 0.0
    if files:
        sound = confusion("file", chess.FILE_NAMES[chess.square_file(said)], chess.FILE_NAMES[chess.square_file(meant)])
        return "file", min(float(files - 1), sound if not isinf(sound) else 9.0)
    sound = confusion("rank", chess.RANK_NAMES[chess.square_rank(said)], chess.RANK_NAMES[chess.square_rank(meant)])
    if chess.square_rank(said) == 7 - chess.square_rank(meant):
        return "rank", min(float(ranks - 1), 1.0)
    return "rank", min(float(ranks - 1), sound if not isinf(sound) else 9.0)


def _goes(board: chess.Board, move: chess.Move, way: str) -> bool:
    rise = chess.square_rank(move.to_square) - chess.square_rank(move.from_square)
    if not board.turn:
        rise = -rise
    return rise < 0 if way == "back" else rise > 0 if way == "up" else True


def _candidates(node: LineNode, said: Description) -> list[Ply]:
    """Legal moves that could fit exactly, cheaply found."""
    board = node.board
    white = board.turn
    if said.side is not None and said.side != white:
        return []
    if said.castle:
        return [node.ply_of(move) for move in board.generate_castling_moves()]
    target = said.target if white else said.target_for_black
    piece = LETTERS[said.piece] if said.piece else 0
    if target is None and not said.capture:
        movers = board.pieces_mask(piece, white) if piece else board.occupied_co[white]
        if said.promotion:
            movers &= board.pawns & (chess.BB_RANK_7 if white else chess.BB_RANK_2)
        if not movers:
            return []
        onto = chess.BB_ALL if said.to_file is None else chess.BB_FILES[said.to_file]
        moves = board.generate_legal_moves(movers, onto)
        if (said.check or said.mate) and said.form.startswith(_CHECKING):
            checks = [node.ply_of(move) for move in moves if node.checks(move)]
            return [ply for ply in checks if not said.mate or _mates(board, ply.move)]
        return [node.ply_of(move) for move in moves]
    captured = LETTERS[said.captured] if said.captured else 0
    return [
        ply
        for ply in (node.captures if target is None else node.plies_to(target))
        if (not piece or ply.piece == piece)
        and (not said.capture or ply.victim)
        and (not captured or ply.victim == captured or not ply.victim)
        and (said.from_file is None or said.from_file == ply.move.from_square & 7)
        and (said.from_rank is None or said.from_rank == ply.move.from_square >> 3)
    ]


def _mates(board: chess.Board, move: chess.Move) -> bool:
    after = board.copy(stack=False)
    after.push(move)
    return after.is_checkmate()


def _neighbours(board: chess.Board, said: Description) -> Iterable[chess.Move]:
    """Legal moves of the same piece, and legal moves to the same square."""
    white = board.turn
    if said.castle:
        return list(board.generate_castling_moves())
    moves: dict[chess.Move, None] = {}
    if said.piece:
        for move in board.generate_legal_moves(board.pieces_mask(LETTERS[said.piece], white), chess.BB_ALL):
            moves[move] = None
    elif said.form == "square":
        for move in board.generate_legal_moves(board.pieces_mask(chess.PAWN, white), chess.BB_ALL):
            moves[move] = None
    target = said.target if white else said.target_for_black
    if target is not None and said.piece:
        for move in board.generate_legal_moves(board.occupied_co[white], chess.BB_SQUARES[target]):
            moves[move] = None
    return moves

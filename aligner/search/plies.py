"""How likely a ply is that nobody spoke, by cheap knowledge of the game: a softmax over the legal moves."""

from __future__ import annotations

from collections.abc import Mapping
from math import exp, log

import chess

from aligner.openings.book import OUT, opening_book
from aligner.search.captures import VALUES, Capture, best_captures, exchange
from aligner.search.lines import LineNode
from aligner.speech.description import Terms

_CENTRE = chess.BB_C4 | chess.BB_D4 | chess.BB_E4 | chess.BB_C5 | chess.BB_D5 | chess.BB_E5

_MIRRORED = chess.A8
"""What the number of a square differs in from that of the square on the other side of the board."""
_MATERIAL = frozenset({"ply.gain", "ply.loss", "ply.hangs", "ply.escapes"})
_NEAR = 2
"""Steps of a king between the squares that two moves lead to, at most, for these to be near each other."""
_PIECES = frozenset(f"ply.{name}" for name in chess.PIECE_NAMES if name)


def ply_terms(node: LineNode, move: chess.Move) -> Terms:
    """What there is to say about a legal move without looking ahead; amounts are pawns where they are material."""
    board = node.board
    us = board.turn
    piece = board.piece_type_at(move.from_square) or chess.PAWN
    mover = VALUES[piece]
    target = chess.BB_SQUARES[move.to_square]
    guards = board.attackers_mask(not us, move.to_square)
    guarded = bool(guards)
    terms: list[tuple[str, float]] = [(f"ply.{chess.piece_name(piece)}", 1.0)]
    gain = 0.0
    if board.is_capture(move):
        victim = VALUES[board.piece_type_at(move.to_square) or chess.PAWN]
        gain = victim - (mover if guarded else 0.0)
        terms.append(("ply.capture", 1.0))
        terms.append(("ply.gain" if gain >= 0 else "ply.loss", min(abs(gain), 9.0)))
        if node.captured and node.move is not None and node.move.to_square == move.to_square:
            terms.append(("ply.recapture", 1.0))
    elif (
        guarded
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
    if piece == chess.KING and board.is_castling(move):
        terms.append(("ply.castles", 1.0))
    back = chess.BB_RANK_1 if us else chess.BB_RANK_8
    if piece in (chess.KNIGHT, chess.BISHOP) and chess.BB_SQUARES[move.from_square] & back and not target & back:
        terms.append(("ply.develops", 1.0))
    if piece == chess.PAWN and target & _CENTRE:
        terms.append(("ply.centre", 1.0))
    if move.promotion:
        terms.append(("ply.promotes", 1.0 if move.promotion == chess.QUEEN else -1.0))
    last = node.move
    if (
        last is not None
        and move.to_square == last.to_square ^ _MIRRORED
        and move.from_square == last.from_square ^ _MIRRORED
    ):
        terms.append(("ply.mirrors", 1.0))
    if node.book != OUT:
        terms += _theory(node.book, move)
    return tuple(terms)


def worth(node: LineNode) -> Terms:
    """The same of the move that leads to a node; worked out once."""
    known = node.worth
    if known is None:
        before, move = node.parent, node.move
        assert before is not None and move is not None
        known = node.worth = ply_terms(before, move)
    return known


def _theory(place: int, move: chess.Move) -> Terms:
    """Whether a move is one of opening theory, and how rare a one (nats); nothing where theory ends before it.

    Args:
        place: number of the position in the opening book.
    """
    moves = opening_book().moves(place)
    if not moves:
        return ()
    known = moves.get(move.uci())
    return (("ply.no_theory", 1.0),) if known is None else (("ply.theory", 1.0), ("ply.theory_rare", known.nats))


def aside_terms(node: LineNode, lying: float) -> Terms:
    """What speaks for or against a sideline's move, as chess: nobody shows moves for long that give pieces away.

    Amounts are logarithms of 1 + pawns where they are material.

    Args:
        node: the position after the move.
        lying: pawns' worth of what the move may leave lying, see `ignored`.
    """
    terms = [
        (f"aside{name[3:]}", log(1.0 + amount) if name in _MATERIAL else amount)
        for name, amount in worth(node)
        if name not in _PIECES
    ]
    if lying > 0.0 and not node.captured:
        terms.append(("aside.ignores", log(1.0 + lying)))
    return tuple(terms)


def outcome_terms(node: LineNode) -> Terms:
    """What a sideline's move wins, loses or threatens, captures worked out to their end.

    It takes longer than `aside_terms`, so it is for talks of which the game is known. Amounts as there.

    Args:
        node: the position after the move.
    """
    before, move = node.parent, node.move
    assert before is not None and move is not None
    board = before.board
    us = board.turn
    theirs, ours, had = _captures(node)[not us], _captures(node)[us].gain, _captures(before)[us].gain
    terms: list[tuple[str, float]] = []
    if board.is_capture(move) and not board.is_en_passant(move):
        gain = exchange(board, move.to_square, move.from_square, us)
        kind = "wins" if gain > 0.0 else "loses" if gain < 0.0 else "trades"
        terms.append((f"aside.{kind}", log(1.0 + abs(gain)) if gain else 1.0))
    if theirs.gain > 0.0:
        terms.append(("aside.leaves", log(1.0 + theirs.gain)))
    if ours > had:
        terms.append(("aside.threatens", log(1.0 + ours - had)))
    last = before.move
    if last and chess.square_distance(move.to_square, last.to_square) <= _NEAR:
        terms.append(("aside.near", 1.0))
    return tuple(terms)


def _captures(node: LineNode) -> tuple[Capture, Capture]:
    """The best captures at a node, black's and white's, were it their move; worked out once."""
    known = node.best_captures
    if known is None:
        known = node.best_captures = best_captures(node.board)
    return known


def ignored(board: chess.Board) -> float:
    """Pawns' worth of the best capture that looks free or cheap: what a move that is no such capture leaves lying."""
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


def ply_costs(node: LineNode, prices: Mapping[str, float]) -> list[tuple[chess.Move, float]]:
    """The legal moves with their costs (negative log probabilities, nats), likeliest first."""
    scored = []
    for move in node.board.legal_moves:
        scored.append((move, -sum(prices.get(name, 0.0) * amount for name, amount in ply_terms(node, move))))
    if not scored:
        return []
    top = max(score for _, score in scored)
    total = top + log(sum(exp(score - top) for _, score in scored))
    return sorted(((move, total - score) for move, score in scored), key=lambda pair: (pair[1], pair[0].uci()))

"""What a move wins, loses, leaves to be taken and threatens, all captures worked out to their end."""

from __future__ import annotations

from math import log

import chess

from aligner.search.captures import Capture, best_captures, exchange
from aligner.search.lines import LineNode
from aligner.speech.description import Terms

_NEAR = 2
"""Steps of a king between the squares that two moves lead to, at most, for these to be near each other."""


def outcome(node: LineNode, move: chess.Move) -> Terms:
    """What comes of a legal move; amounts are logarithms of 1 + pawns where they are material."""
    board = node.board.copy(stack=False)
    board.push(move)
    return _terms(node, move, board, best_captures(board))


def outcome_at(after: LineNode) -> Terms:
    """The same of the move that leads to a node."""
    return _terms(*after.led_here(), after.board, _captures(after))


def _terms(node: LineNode, move: chess.Move, after: chess.Board, best: tuple[Capture, Capture]) -> Terms:
    """The same, with the position after the move and the best captures there, black's and white's."""
    board = node.board
    us = board.turn
    had, threatened = _captures(node)[us].gain, _captures(node)[not us]
    theirs, ours = best[not us], best[us].gain
    terms: list[tuple[str, float]] = []
    if not board.is_capture(move):
        if had > 0.0:
            terms.append(("ply.ignores", log(1.0 + had)))
    elif not board.is_en_passant(move):
        gain = exchange(board, move.to_square, move.from_square, us)
        kind = "wins" if gain > 0.0 else "loses" if gain < 0.0 else "trades"
        terms.append((f"ply.{kind}", log(1.0 + abs(gain)) if gain else 1.0))
    if theirs.gain > 0.0:
        terms.append(("ply.leaves", log(1.0 + theirs.gain)))
        if theirs.square == move.to_square:
            terms.append(("ply.hangs", log(1.0 + theirs.gain)))
    if ours > had:
        terms.append(("ply.threatens", log(1.0 + ours - had)))
    if threatened.square == move.from_square:
        terms.append(("ply.escapes", log(1.0 + threatened.gain)))
    if after.is_check():
        terms.append(("ply.check", 1.0))
    last = node.move
    if last and chess.square_distance(move.to_square, last.to_square) <= _NEAR:
        terms.append(("ply.near", 1.0))
    return tuple(terms)


def _captures(node: LineNode) -> tuple[Capture, Capture]:
    """The best captures at a node, black's and white's, were it their move; worked out once."""
    known = node.best_captures
    if known is None:
        known = node.best_captures = best_captures(node.board)
    return known

"""A start position that is described aloud: "White has the king on f3 and a rook on f1, Black ...; white to move"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import chess

from aligner.speech.listen import Speech

_WITHIN = 400
"""Tokens from the beginning of a talk in which its position is set up."""
_APART = 20
"""Tokens that may lie between two pieces of one description, and between it and whose move it is."""
_FEWEST = 3
"""Pieces of a description, the two kings among them."""
_MOST = 0.75
"""Share of a position's pieces that its description names, and of the named that stand there; people forget one."""

Placed = tuple[int, chess.Square, chess.Piece]
"""The token that names the square, the square, and the piece on it."""


def described_position(speech: Speech, turns: Sequence[tuple[int, bool]]) -> chess.Board | None:
    """The position that a talk sets up at its beginning; None where none is described completely.

    Complete is a description with both kings and whose move it is, that contradicts neither itself nor the rules (as
    python-chess checks positions); nobody can castle.

    Args:
        speech: what was heard.
        turns: (token, side): where it is said whose move it is, True for White.
    """
    for run in _runs(_placed(speech)):
        first, last = run[0][0], run[-1][0]
        near = [(token, side) for token, side in turns if first - _APART <= token <= last + _APART]
        for token, side in near:
            told = [placed for placed in run if placed[0] < token] if token > first else run
            board = _position(told, side)
            if board is not None:
                return board
    return None


def without_setup(speech: Speech, start: chess.Board) -> Speech:
    """What is heard without the words that set the start position up at the beginning: no move is spoken there.

    Args:
        speech: what was heard.
        start: the position that the game starts from, however it is known.
    """
    pieces = start.piece_map().items()
    for run in _runs(_placed(speech)):
        standing = {square: token for token, square, piece in reversed(run) if (square, piece) in pieces}
        first, last = min(standing.values(), default=0), max(standing.values(), default=0)
        named = {square for token, square, _ in run if first <= token <= last}
        if len(standing) >= _MOST * max(len(pieces), len(named)):
            kept = [
                replace(one, spoken=tuple(s for s in one.spoken if s.phrase.end <= first or s.phrase.start > last))
                for one in speech.stretches
            ]
            return speech.with_stretches(kept)
    return speech


def _placed(speech: Speech) -> list[Placed]:
    """Squares named near the beginning, each with the side and the piece named last before it."""
    squares: dict[int, chess.Square] = {}
    for stretch in speech.stretches:
        for spoken in stretch.spoken:
            said = spoken.phrase.moves[0]
            if said.form == "square" and said.target is not None and not spoken.phrase.terms:
                squares[stretch.start] = said.target
    sides = {entry.start: entry.value == "white" for entry in speech.entries if entry.kind == "side"}
    pieces: dict[int, chess.PieceType] = {}
    for entry in speech.entries:
        if entry.kind == "piece" and entry.value in "PNBRQK":
            pieces[entry.start] = chess.Piece.from_symbol(entry.value).piece_type
    found: list[Placed] = []
    side: bool | None = None
    piece: chess.PieceType | None = None
    for token in range(min(_WITHIN, len(speech.tokens))):
        if token in sides:
            side, piece = sides[token], pieces.get(token)
        if token in pieces:
            piece = pieces[token]
        if token in squares and side is not None and piece is not None:
            found.append((token, squares[token], chess.Piece(piece, side)))
            if piece == chess.KING:
                piece = None
    return found


def _runs(placed: Sequence[Placed]) -> list[list[Placed]]:
    runs: list[list[Placed]] = []
    for one in placed:
        if runs and one[0] - runs[-1][-1][0] <= _APART:
            runs[-1].append(one)
        else:
            runs.append([one])
    return runs


def _position(placed: Sequence[Placed], turn: bool) -> chess.Board | None:
    board = chess.Board.empty()
    for _, square, piece in placed:
        if board.piece_at(square) not in (None, piece):
            return None
        board.set_piece_at(square, piece)
    board.turn = turn
    return board if len(board.piece_map()) >= _FEWEST and board.is_valid() else None

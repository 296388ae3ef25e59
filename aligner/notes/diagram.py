"""Diagrams: a position as SVG, as words for those who cannot see it, and as characters for plain text."""

from __future__ import annotations

import re
from functools import cache

import chess
import chess.svg

_SQUARE = 45
"""Size of a square in the drawing's own units: that of the pieces of chess.svg."""
_MARGIN = 26
_ORDER = (chess.KING, chess.QUEEN, chess.ROOK, chess.BISHOP, chess.KNIGHT, chess.PAWN)


@cache
def piece_shapes() -> str:
    """The twelve pieces (chess.svg) as definitions that every diagram of a page draws from."""
    shapes = "".join(chess.svg.PIECES[symbol] for symbol in "KQRBNPkqrbnp")
    return f'<svg width="0" height="0" class="shapes" aria-hidden="true"><defs>{_prefixed(shapes)}</defs></svg>'


def _prefixed(shapes: str) -> str:
    """Ids that are ours, and attributes in place of inline styles, which the page's policy forbids."""
    shapes = re.sub(r'id="(white|black)-', r'id="shape-\1-', shapes)
    return re.sub(r' style="([^"]*)"', lambda style: _attributes(style[1]), shapes)


def _attributes(style: str) -> str:
    pairs = (rule.partition(":") for rule in style.split(";") if ":" in rule)
    return "".join(f' {name.strip()}="{value.strip()}"' for name, _, value in pairs)


def diagram_svg(fen: str, label: str, identity: str) -> str:
    """A position as an SVG element that draws from `piece_shapes` on the same page.

    Args:
        fen: of the position.
        label: short title, as markup would have it escaped; the pieces follow in the description.
        identity: unique on the page.
    """
    board = chess.Board(fen)
    size = 8 * _SQUARE + _MARGIN
    parts = [
        f'<svg class="board" viewBox="-{_MARGIN} -2 {size + 2} {size + 2}" role="img" '
        f'aria-labelledby="{identity}-title {identity}-pieces">'
        f'<title id="{identity}-title">{label}</title><desc id="{identity}-pieces">{spoken_position(board)}</desc>'
        f'<rect class="light" x="0" y="0" width="{8 * _SQUARE}" height="{8 * _SQUARE}"/><path class="dark" d="'
    ]
    dark = ((x * _SQUARE, y * _SQUARE) for y in range(8) for x in range(8) if (x + y) % 2)
    parts += [f"M{x} {y}h{_SQUARE}v{_SQUARE}h-{_SQUARE}z" for x, y in dark]
    parts.append('"/>')
    for square, piece in sorted(board.piece_map().items()):
        x, y = chess.square_file(square) * _SQUARE, (7 - chess.square_rank(square)) * _SQUARE
        colour = "white" if piece.color else "black"
        name = chess.piece_name(piece.piece_type)
        parts.append(f'<use href="#shape-{colour}-{name}" x="{x}" y="{y}"/>')
    parts.append(f'<rect class="edge" x="0" y="0" width="{8 * _SQUARE}" height="{8 * _SQUARE}"/>')
    parts.append('<g class="coordinates">')
    for at in range(8):
        middle = at * _SQUARE + _SQUARE // 2
        parts.append(f'<text x="-{_MARGIN // 2}" y="{middle + 5}">{8 - at}</text>')
        parts.append(f'<text x="{middle}" y="{8 * _SQUARE + 18}">{"abcdefgh"[at]}</text>')
    parts.append("</g></svg>")
    return "".join(parts)


def spoken_position(board: chess.Board) -> str:
    """The pieces in the order in which problems are set down: "White: Kg1, Rd1, pawns f2, g2. Black: ..."."""
    sides = []
    for colour, name in ((chess.WHITE, "White"), (chess.BLACK, "Black")):
        pieces = []
        for kind in _ORDER:
            squares = [chess.square_name(square) for square in board.pieces(kind, colour)]
            if kind == chess.PAWN and squares:
                pieces.append(f"{'pawn' if len(squares) == 1 else 'pawns'} {', '.join(sorted(squares))}")
            else:
                pieces.extend(chess.piece_symbol(kind).upper() + square for square in sorted(squares))
        sides.append(f"{name}: {', '.join(pieces)}.")
    return f"{' '.join(sides)} {'White' if board.turn else 'Black'} to move."


def diagram_text(fen: str) -> str:
    """A position in characters: White's pieces in capitals, Black's in small letters, a dot for an empty square."""
    rows = str(chess.Board(fen)).splitlines()
    return "\n".join([*(f"{8 - at}  {row}" for at, row in enumerate(rows)), "", "   a b c d e f g h"])

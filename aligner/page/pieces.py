"""The pieces' drawings, from python-chess, and where they stand on a diagram."""

from __future__ import annotations

import re
from collections.abc import Iterator

import chess
import chess.svg

SIDE = 45
"""Side of a square in the units of a diagram: that of python-chess's drawings."""

_STYLE = re.compile(r' style="([^"]*)"')


def piece_symbols() -> str:
    """The twelve drawings as SVG `symbol` elements, "piece-N" for a white knight and so on.

    A page with a strict policy allows no style attributes, so they become attributes of presentation.
    """
    return "".join(
        f'<symbol id="piece-{name}" viewBox="0 0 {SIDE} {SIDE}">{_presented(_without_ids(drawing))}</symbol>'
        for name, drawing in sorted(chess.svg.PIECES.items())
    )


def _without_ids(drawing: str) -> str:
    return re.sub(r' (?:id|class)="[^"]*"', "", drawing)


def _presented(drawing: str) -> str:
    def attributes(style: re.Match[str]) -> str:
        rules = (rule.split(":", 1) for rule in style.group(1).split(";") if ":" in rule)
        return "".join(f' {name.strip()}="{value.strip()}"' for name, value in rules)

    return _STYLE.sub(attributes, drawing)


def standing(fen: str) -> Iterator[tuple[str, int, int]]:
    """The pieces of a position: letter, and file and rank counted from the top left corner, White below."""
    for square, piece in chess.Board(fen).piece_map().items():
        yield piece.symbol(), chess.square_file(square), 7 - chess.square_rank(square)

"""Where along a line the opening has its name."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import chess

from aligner.openings.names import opening_at
from aligner.record.model import Node

_DEEPEST = 24
"""Plies after which no position has a name in the table."""


def opening_name(board: chess.Board) -> str | None:
    """The name of the opening that this very position stands for, or None."""
    found = opening_at(board)
    return None if found is None else found.name


def deepest_opening(line: Iterable[Node], boards: Mapping[int, chess.Board]) -> tuple[Node, str] | None:
    """The last named position in a line from the usual start position, and its name; None where there is none.

    Args:
        line: moves from the start.
        boards: positions by node id.
    """
    found: tuple[Node, str] | None = None
    for node in line:
        if node.ply > _DEEPEST:
            break
        name = opening_name(boards[node.id])
        if name is not None:
            found = (node, name)
    return found

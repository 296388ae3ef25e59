"""What moves are called on the desk."""

from __future__ import annotations

from collections.abc import Sequence

from aligner.search.lines import LineNode
from aligner.tree.wording import numbered

NO_MOVE_NAME = "no move"


def name_of(nodes: Sequence[LineNode], head: LineNode | None = None) -> str:
    """The moves with their numbers, "12.Nf3 12...Nf6"; "no move" where there are none.

    Args:
        nodes: the moves.
        head: the furthest position of the game; then a line also tells where it leaves the game.
    """
    if not nodes:
        return NO_MOVE_NAME
    name = " ".join(numbered(node) for node in nodes)
    if head is None or nodes[-1].score_ply >= 0 or head.follows(nodes[-1]):
        return name
    return f"{name} (a line after {numbered(leaves(nodes[-1], head))})"


def leaves(node: LineNode, head: LineNode) -> LineNode:
    """The last position of the game on the way to a node."""
    if node.fork.score_ply > 0:
        return node.fork
    one, other = node, head
    while one is not other:
        if one.ply >= other.ply:
            assert one.parent is not None
            one = one.parent
        else:
            assert other.parent is not None
            other = other.parent
    return one

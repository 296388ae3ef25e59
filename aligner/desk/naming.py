"""What moves are called on the desk."""

from __future__ import annotations

from collections.abc import Sequence

from aligner.search.lines import LineNode
from aligner.tree.wording import numbered

NO_MOVE_NAME = "no move"


def name_of(nodes: Sequence[LineNode]) -> str:
    """The moves with their numbers, "12.Nf3 12...Nf6"; "no move" where there are none."""
    return " ".join(numbered(node) for node in nodes) or NO_MOVE_NAME

"""Opening names and codes: from the game's own headers, else from the last of its positions that has a name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache

from aligner.catalogue.positions import position_of
from aligner.openings.names import named_openings


@lru_cache(maxsize=1)
def by_position() -> Mapping[int, tuple[str, str]]:
    """Code and name by the key of the position in which an opening's moves end, by whatever order of moves."""
    return {position_of(one.position()).key: (one.eco, one.name) for one in named_openings()}


def opening_of(headers: Mapping[str, str], keys: Sequence[int]) -> tuple[str, str]:
    """Code (A00 to E99) and name of a game's opening; "" where unknown.

    Args:
        headers: the game's tag pairs; ECO, Opening and Variation (PGN standard, 9.4) count before the moves.
        keys: of the positions of the game's own line, in order.
    """
    known = by_position()
    eco, name = "", ""
    for key in keys:
        if key in known:
            eco, name = known[key]
    said = " ".join(headers.get("ECO", "").split())
    if len(said) >= 3 and said[0].upper() in "ABCDE" and said[1:3].isdigit():
        eco = said[:3].upper()
    given = [headers.get(tag, "").strip() for tag in ("Opening", "Variation")]
    named = ", ".join(part for part in given if part.strip("?- "))
    return eco, named or name

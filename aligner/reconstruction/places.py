"""Where on the lines told so far a phrase fits, the latest place first."""

from __future__ import annotations

from typing import NamedTuple

import chess

from aligner.search.fits import Fits
from aligner.search.lines import LineNode
from aligner.search.matching import PricedFit
from aligner.speech.listen import Spoken


class Past(NamedTuple):
    """A position of a line at which a phrase fits.

    Attributes:
        node: the position.
        played: the move that the line took there.
        least: what the phrase's cheapest fit there costs, in nats.
        earlier: the next such position before it.
    """

    node: LineNode
    played: chess.Move
    least: float
    earlier: Past | None


class Places:
    """Places at which phrases of one talk fit; lines that share positions look at them once.

    Args:
        fits: of the talk's phrases.
    """

    def __init__(self, fits: Fits) -> None:
        self._fits = fits
        self._pasts: dict[tuple[int, int], Past | None] = {}
        self._cheapest_first: dict[tuple[int, int], list[PricedFit]] = {}

    def forget(self) -> None:
        """Drop what was worked out for phrases so far."""
        self._pasts.clear()
        self._cheapest_first.clear()

    def cheapest(self, node: LineNode, spoken: Spoken) -> list[PricedFit]:
        """How the phrase fits at a node, the cheapest first."""
        key = (node.number, self._fits.wording(spoken))
        found = self._cheapest_first.get(key)
        if found is None:
            fits = self._fits.fits(node, spoken)
            found = self._cheapest_first[key] = sorted(fits, key=_nats) if len(fits) > 1 else fits
        return found

    def past(self, node: LineNode, spoken: Spoken) -> Past | None:
        """The latest position before a node at which the phrase fits."""
        wording = self._fits.wording(spoken)
        way: list[LineNode] = []
        at: LineNode | None = node
        past: Past | None = None
        while at is not None and at.parent is not None:
            key = (at.number, wording)
            if key in self._pasts:
                past = self._pasts[key]
                break
            way.append(at)
            at = at.parent
        for each in reversed(way):
            assert each.parent is not None and each.move is not None
            fits = self.cheapest(each.parent, spoken)
            if fits:
                past = Past(each.parent, each.move, fits[0][2], past)
            self._pasts[each.number, wording] = past
        return past


def _nats(fit: PricedFit) -> float:
    return fit[2]

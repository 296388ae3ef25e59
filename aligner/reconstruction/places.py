"""Where on the lines told so far a phrase fits, the latest place first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import chess

from aligner.search.fits import Fits
from aligner.search.lines import LineNode
from aligner.search.matching import Fit, PricedFit
from aligner.speech.description import Terms
from aligner.speech.listen import Spoken


class Past(NamedTuple):
    """A position of a line at which a phrase fits.

    Attributes:
        node: the position.
        played: the move that the line took there.
        least: what the phrase's cheapest fit there costs, in nats.
        told: how the phrase fits the move that the line took; None where it does not.
        earlier: the next such position before it.
    """

    node: LineNode
    played: chess.Move
    least: float
    told: PricedFit | None
    earlier: Past | None


class Aside(NamedTuple):
    """A move that fits a phrase, as a sideline's.

    Attributes:
        nats: what its fit and its worth as chess cost.
        fit: how it fits.
        after: the position that it leads to.
        worth: what it is worth as chess.
    """

    nats: float
    fit: Fit
    after: LineNode
    worth: Terms


class Places:
    """Places at which phrases of one talk fit; lines that share positions look at them once.

    Args:
        fits: of the talk's phrases.
    """

    def __init__(self, fits: Fits) -> None:
        self._fits = fits
        self._pasts: dict[int, dict[int, Past | None]] = {}
        self._lately: dict[tuple[int, int], dict[int, Past | None]] = {}
        self._asides: dict[int, dict[int, Sequence[Aside]]] = {}

    def forget(self) -> None:
        """Drop what was worked out for phrases so far."""
        self._pasts.clear()
        self._lately.clear()
        self._asides.clear()

    def asides(self, node: LineNode, spoken: Spoken) -> Sequence[Aside]:
        """The moves at a node that fit the phrase's first description, as a sideline's, the cheapest first."""
        wording = self._fits.wording(spoken)
        known = self._asides.get(wording)
        if known is None:
            known = self._asides[wording] = {}
        found = known.get(node.number)
        if found is None:
            found = known[node.number] = self._priced(node, spoken)
        return found

    def _priced(self, node: LineNode, spoken: Spoken) -> Sequence[Aside]:
        fits = self._fits.fits(node, spoken)
        if not fits:
            return ()
        found = []
        for move, fit, nats in fits:
            after = self._fits.lines.after(node, move)
            worth, price = self._fits.aside(after)
            found.append(Aside(nats + price, fit, after, worth))
        if len(found) > 1:
            found.sort(key=_nats)
        return found

    def past(self, node: LineNode, spoken: Spoken) -> Past | None:
        """The latest position before a node at which the phrase fits."""
        wording = self._fits.wording(spoken)
        known = self._pasts.get(wording)
        if known is None:
            known = self._pasts[wording] = {0: None}  # before the root is nothing
        way: list[LineNode] = []
        at = node
        while at.number not in known:
            way.append(at)
            assert at.parent is not None
            at = at.parent
        past = known[at.number]
        for each in reversed(way):
            past = known[each.number] = self._with(each, spoken, past)
        return past

    def lately(self, node: LineNode, spoken: Spoken, plies: int) -> Past | None:
        """The same, looked for no more than so many plies back: a wording that says little fits nearly everywhere."""
        if plies == 0 or node.parent is None:
            return None
        key = self._fits.wording(spoken), plies
        known = self._lately.get(key)
        if known is None:
            known = self._lately[key] = {}
        if node.number not in known:
            known[node.number] = self._with(node, spoken, self.lately(node.parent, spoken, plies - 1))
        return known[node.number]

    def _with(self, node: LineNode, spoken: Spoken, earlier: Past | None) -> Past | None:
        """The latest position before a node where the phrase fits, when it is known before its parent."""
        before, move = node.parent, node.move
        assert before is not None and move is not None
        fits = self._fits.fits(before, spoken)
        if not fits:
            return earlier
        told = None
        for fit in fits:
            if fit[0].to_square == move.to_square and fit[0] == move:
                told = fit
                break
        return Past(before, move, fits[0][2], told, earlier)


def _nats(aside: Aside) -> float:
    return aside.nats

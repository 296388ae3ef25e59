"""Steps with what they cost: the fit of a phrase's first move, the moves after it, and how plausible a move is."""

from __future__ import annotations

from aligner.prices.prices import Prices
from aligner.reconstruction.hypothesis import PRICED_AS, Step, Telling, Turn
from aligner.search.fits import Fits
from aligner.search.lines import LineNode
from aligner.search.matching import Fit
from aligner.speech.description import Terms
from aligner.speech.listen import Spoken

GAIN = 1.0
"""Nats that a move of the game may gain by being plausible, as far as is looked."""
PricedTerms = tuple[Terms, float]
"""Terms with what they cost together, in nats."""
NOTHING: PricedTerms = ((), 0.0)
"""No terms."""


class PricedSteps:
    """Makes the steps of one talk.

    Args:
        fits: of the talk's phrases.
        prices: of the terms.
    """

    def __init__(self, fits: Fits, prices: Prices) -> None:
        self.fits = fits
        self.prices = prices
        self._plausibility: dict[int, PricedTerms] = {}

    def forget(self) -> None:
        """Drop what was worked out so far."""
        self._plausibility.clear()

    def step(
        self, kind: str, group: str, spoken: Spoken, fit: Fit, nats: float, head: LineNode, side: LineNode | None,
        added: tuple[Telling, ...] = (), base: LineNode | None = None, more: Terms = (), turned: tuple[Turn, ...] = (),
    ) -> Step:  # fmt: skip
        """The step of a kind; `nats` is what the fit and `more` cost."""
        total = nats + self.fits.tariff(spoken).bases[PRICED_AS.get(kind, kind)]
        for turn in turned:
            total += turn.nats
        terms = (*fit.terms, *more)
        if fit.slips:
            total += self.prices.table.get(f"slip_in.{group}", 0.0)
            terms = (*terms, (f"slip_in.{group}", 1.0))
        return Step(kind, spoken, head, side, added, base, terms, total, turned)

    def chains(
        self, first: LineNode, spoken: Spoken, kind: str, more: Terms = (), most: int = 1
    ) -> list[tuple[tuple[Telling, ...], PricedTerms]]:
        """Ways to play the phrase's moves from its first on, one after another; none where they do not fit.

        Args:
            kind: what it is taken for (see `Telling`).
            more: what its first move takes for granted besides.
            most: ways that are told apart, the likeliest ones.
        """
        if len(spoken.phrase.moves) == 1:
            return [((Telling(first, spoken, spoken.phrase.moves[0], kind, more),), NOTHING)]
        found = []
        for nodes, terms in self.fits.chains(first, spoken, most):
            told = zip(nodes, spoken.phrase.moves, strict=True)
            tellings = tuple(Telling(node, spoken, said, kind, more) for node, said in told)
            found.append((tellings, (terms, self.prices.cost(terms))))
        return found

    def plausible(self, node: LineNode) -> PricedTerms:
        """How likely the game's move to a node is by cheap knowledge, and what it leaves lying that could be taken."""
        found = self._plausibility.get(node.number)
        if found is None:
            terms = self.fits.valuation.told(node)
            found = self._plausibility[node.number] = terms, self.prices.cost(terms)
        return found

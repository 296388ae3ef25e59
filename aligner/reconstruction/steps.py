"""What a phrase may be while the game is looked for: above all, the moves with which the game may go on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

import chess

from aligner.prices.prices import Prices
from aligner.reconstruction.amending import Amender
from aligner.reconstruction.breadth import AMENDS, GAPS, SLIPS
from aligner.reconstruction.gaps import Gaps, is_plain
from aligner.reconstruction.hypothesis import Hypothesis, Step, Telling
from aligner.reconstruction.priced import GAIN, PricedSteps, PricedTerms
from aligner.reconstruction.sidelines import Sidelines
from aligner.search.fits import Fits
from aligner.search.lines import LineNode
from aligner.search.matching import Fit, PricedFit, stands_there
from aligner.search.material import stated_terms
from aligner.speech.description import Terms
from aligner.speech.listen import Spoken
from aligner.speech.statements import Statement

_LEAST_OPENING = 2
"""Moves of an opening whose name alone may tell them; "English" and "French" are words before they are a move."""

_WAYS = 3
"""Ways to play a phrase of several moves that are told apart."""


class Steps:
    """Everything a phrase may be for a hypothesis; what does not depend on its cost is worked out once.

    Args:
        fits: of the talk's phrases.
        prices: of the terms.
        amender: for second thoughts about plies that were passed over; None for none.
        unsaid: positions after plies of which it is settled that nobody spoke them.
        course: where the game is known, by the number of a node the one after its next ply.
    """

    def __init__(
        self,
        fits: Fits,
        prices: Prices,
        amender: Amender | None = None,
        unsaid: Sequence[LineNode] = (),
        course: Mapping[int, LineNode] | None = None,
    ) -> None:
        self.fits = fits
        self.prices = prices
        self.priced = PricedSteps(fits, prices)
        self.sidelines = Sidelines(self.priced)
        self.gaps = Gaps(fits, unsaid, course)
        self.amender = amender
        self._settled = [*unsaid, *(course or {}).values()]
        self._game: dict[tuple[int, int, bool], list[Step]] = {}
        self._amended: dict[tuple[int, int, bool], list[Step]] = {}
        self._gap: dict[tuple[int, int, bool, bool], list[Step]] = {}
        table = prices.table
        self._least_gap = 0.0 if unsaid else min(table.get(name, 0.0) for name in ("gap_obvious", "gap", "gap_theory"))
        self._least_wide_gap = table.get("gap", 0.0) + table.get("gap_plies", 0.0) + table.get("gap_open", 0.0)
        self._slip_in_game = table.get("slip_in.game", 0.0)
        self._stated: dict[tuple[int, int, int], PricedTerms] = {}
        self._misnamed: dict[tuple[int, int, bool], list[Step]] = {}

    def forget(self, ends: Iterable[LineNode]) -> None:
        """Drop what was worked out for phrases so far, and for positions that lead to none of these."""
        self.fits.forget_all_but([*ends, *self._settled])
        if self.amender is not None:
            self.amender.forget()
        for known in (self._game, self._amended, self._gap, self._misnamed, self._stated):
            known.clear()
        self.sidelines.forget()
        self.priced.forget()

    @property
    def waste(self) -> float:
        """Nats of breaking off a longer phrase whose rest nothing else can use."""
        return self.prices.table.get("wasted", 0.0)

    def wasting(self, step: Step) -> Step:
        """The step, breaking off a longer phrase."""
        return step._replace(more=(*step.more, ("wasted", 1.0)), cost=step.cost + self.waste)

    def stating(self, step: Step, stated: Sequence[Statement]) -> Step:
        """The step, with what is stated before the next stretch held against the position that it leads to."""
        node = step.head if step.side is None else step.side
        key = node.number, stated[0].start, len(stated)
        found = self._stated.get(key)
        if found is None:
            terms = stated_terms(node.board, stated)
            found = self._stated[key] = terms, self.prices.cost(terms)
        terms, nats = found
        return step._replace(more=(*step.more, *terms), cost=step.cost + nats)

    def gained(self, stated: Sequence[Statement]) -> float:
        """Nats that a step may gain at most by what is stated."""
        prices = (
            self.prices.table.get(f"{name}.{one.kind}", 0.0) for one in stated for name in ("stated", "stated_not")
        )
        return -sum(min(price, 0.0) for price in prices)

    def none(self, hypothesis: Hypothesis, spoken: Spoken) -> Step:
        """The phrase speaks of no move."""
        terms: Terms = ()
        if spoken.phrase.stands is not None:
            there = stands_there(hypothesis.cursor.board, spoken.phrase.stands)
            terms = (("none.stands" if there else "none.stands_not", 1.0),)
        cost = self.fits.tariff(spoken).bases["none"] + self.prices.cost(terms)
        return Step("none", spoken, hypothesis.head, hypothesis.side, (), None, terms, cost)

    def passing(self, hypothesis: Hypothesis, spoken: Spoken) -> Step:
        """The phrase is passed by for one inside it."""
        terms: Terms = (("pass", 1.0), (f"pass|form.{spoken.phrase.moves[0].form}", 1.0))
        return Step("none", None, hypothesis.head, hypothesis.side, (), None, terms, self.prices.cost(terms))

    def moves(
        self, hypothesis: Hypothesis, spoken: Spoken, budget: float, beside: float, effort: int
    ) -> Iterator[Iterable[Step]]:
        """Steps that take the phrase for moves, in rows; in each, none within the budget comes after one beyond it.

        Args:
            budget: in nats.
            beside: the same for steps that leave the game as it is.
            effort: one of `PLAIN`, `SLIPS`, `GAPS` and `AMENDS`.
        """
        head, side = hypothesis.head, hypothesis.side
        returning = side is not None
        yield self._game_steps(head, spoken, returning)
        yield self.sidelines.steps(hypothesis, spoken, budget, beside)
        kind = "return" if returning else "game"
        tariff = self.fits.tariff(spoken)
        room = budget - tariff.bases[kind]
        if spoken.phrase.fixed or room < self._least_gap:
            return
        if (
            effort >= SLIPS
            and len(spoken.phrase.moves) == 1
            and not tariff.vague
            and tariff.least + tariff.slip + self._slip_in_game <= room + GAIN
        ):
            yield self._slips(head, spoken, returning)
        doubtful = is_plain(spoken) and not self.fits.fits(head, spoken)
        yield self._gap_steps(head, spoken, returning, doubtful and effort >= GAPS and room >= self._least_wide_gap)
        if self.amender is not None and doubtful and effort >= AMENDS and room >= 0.0:
            yield self._amendments(self.amender, hypothesis, spoken)

    def _game_steps(self, head: LineNode, spoken: Spoken, returning: bool) -> list[Step]:
        key = (head.number, spoken.number, returning)
        found = self._game.get(key)
        if found is None:
            found = self._game[key] = sorted(self._find_game(head, spoken, returning), key=_cost)
        return found

    def _find_game(self, head: LineNode, spoken: Spoken, returning: bool) -> list[Step]:
        if spoken.phrase.fixed:
            return self._named(head, spoken, returning)
        return self._played(head, (), (), self.fits.fits(head, spoken), spoken, returning)

    def _slips(self, head: LineNode, spoken: Spoken, returning: bool) -> list[Step]:
        """The game goes on with a move that was misnamed."""
        key = (head.number, spoken.number, returning)
        found = self._misnamed.get(key)
        if found is None:
            fits = self.fits.near(head, spoken)
            found = self._misnamed[key] = sorted(self._played(head, (), (), fits, spoken, returning), key=_cost)
        return found

    def _gap_steps(self, head: LineNode, spoken: Spoken, returning: bool, far: bool) -> list[Step]:
        key = (head.number, spoken.number, returning, far)
        found = self._gap.get(key)
        if found is None:
            found = []
            for passed, terms, fits in self.gaps.before(head, spoken, far):
                found += self._played(head, passed, terms, fits, spoken, returning)
            found.sort(key=_cost)
            self._gap[key] = found
        return found

    def _played(
        self, head: LineNode, passed: Sequence[LineNode], more: Terms, fits: Sequence[PricedFit], spoken: Spoken,
        returning: bool,
    ) -> list[Step]:  # fmt: skip
        """The game goes on from the head, after plies that nobody spoke."""
        kind = "return" if returning else "game"
        before = passed[-1] if passed else head
        unspoken = tuple(map(Telling, passed))
        passing = self.prices.cost(more)
        found = []
        for move, fit, cost in fits:
            first = self.fits.lines.after(before, move)
            for told, (terms, nats) in self.priced.chains(first, spoken, kind, most=_WAYS):
                nats += cost + passing
                for telling in told:
                    plausible, worth = self.priced.plausible(telling.node)
                    terms, nats = (*terms, *plausible), nats + worth
                end, added = told[-1].node, (*unspoken, *told)
                found.append(self.priced.step(kind, kind, spoken, fit, nats, end, None, added, head, (*more, *terms)))
        return found

    def _named(self, head: LineNode, spoken: Spoken, returning: bool) -> list[Step]:
        """An opening's name: all its moves that the game has not reached yet."""
        moves = spoken.phrase.fixed
        rest = () if returning or len(moves) < _LEAST_OPENING else self.fits.openings.rest(head, moves)
        if not rest:
            return []
        fit = Fit(chess.Move.null(), (("opening", 1.0), ("opening_plies", float(len(rest)))))
        added = tuple(Telling(node, spoken) for node in rest)
        return [self.priced.step("game", "game", spoken, fit, self.prices.cost(fit.terms), rest[-1], None, added, head)]

    def _amendments(self, amender: Amender, hypothesis: Hypothesis, spoken: Spoken) -> list[Step]:
        key = (hypothesis.head.number, spoken.number, hypothesis.side is not None)
        found = self._amended.get(key)
        if found is None:
            kind = "return" if hypothesis.side is not None else "game"
            found = []
            for change in amender.changes(hypothesis, spoken):
                for move, fit, cost in change.fits:
                    first = self.fits.lines.after(change.end, move)
                    for told, (terms, nats) in self.priced.chains(first, spoken, kind):
                        terms, nats = (*change.terms, *terms), cost + self.prices.cost(change.terms) + nats
                        end, added = told[-1].node, (*change.added, *told)
                        step = self.priced.step(kind, kind, spoken, fit, nats, end, None, added, change.base, terms)
                        found.append(step)
            found.sort(key=_cost)
            self._amended[key] = found
        return found


def _cost(step: Step) -> float:
    return step.cost

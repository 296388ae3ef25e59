"""The search for the game in a talk without a score: a beam over how far the game has come at each moment.

Sidelines are told in it only as far as they explain words; what they are is found afterwards, with the game known.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable
from math import inf

from aligner.collection import collection_paused
from aligner.reconstruction.breadth import QUICK, Breadth, pruned
from aligner.reconstruction.hypothesis import Hypothesis, Key, Ply, Step
from aligner.reconstruction.steps import AMENDS, GAPS, PLAIN, SLIPS, Steps
from aligner.search.lines import LineNode
from aligner.speech.listen import Speech

_FORGETS = 24
"""Stretches after which what is known of positions to which no hypothesis has come is dropped, to bound the memory."""
EFFORTS = ((AMENDS, 2), (GAPS, 12), (SLIPS, 8))
"""How far is thought, for so many of the hypotheses at a stretch, the best first."""

Frontier = dict[Key, Hypothesis]
Allows = Callable[[int, Hypothesis, Step | None, LineNode], bool]
"""Whether a step is allowed: stretch it leads to, hypothesis, step (None for no move), new head."""


class GameSearch:
    """Searches one talk, or a window of it.

    Args:
        speech: what was heard.
        steps: what a phrase may be.
        breadth: how many hypotheses are kept.
        allows: constraint on steps; None allows all.
    """

    def __init__(self, speech: Speech, steps: Steps, breadth: Breadth = QUICK, allows: Allows | None = None) -> None:
        self.speech = speech
        self.steps = steps
        self.breadth = breadth
        self.allows = allows
        self._best: dict[int, float] = {}
        self._crowded: dict[int, float] = {}
        self._starts = [stretch.start for stretch in speech.stretches]

    def run(
        self, first: int, last: int, begin: Iterable[Hypothesis], progress: Callable[[float], None] | None = None
    ) -> list[Hypothesis]:
        """Decide the stretches from `first` up to `last`; returns the hypotheses at the end, best first."""
        with collection_paused():
            self._best.clear()
            self._crowded.clear()
            frontiers: dict[int, Frontier] = {first: {each.key: each for each in begin}}
            for at in range(first, last):
                frontier = frontiers.pop(at, None)
                if frontier is None:
                    continue
                for rank, (hypothesis, before) in enumerate(pruned(frontier.values(), self.breadth)):
                    self._extend(at, last, hypothesis, self._effort(rank, before), frontiers)
                if at % _FORGETS == 0:
                    self._forget(frontiers.values())
                if progress is not None and at % 64 == 0:
                    progress((at - first) / max(last - first, 1))
            return [one for one, _ in pruned(frontiers.get(last, {}).values(), self.breadth)]

    def _effort(self, rank: int, before: int) -> int:
        """How far is thought for a hypothesis of a rank among all, with so many of its own course before it."""
        effort = next((effort for effort, most in EFFORTS if rank < most), PLAIN)
        if before >= self.breadth.leaders:
            return effort
        return max(effort, SLIPS if before else GAPS)

    def _forget(self, frontiers: Iterable[Frontier]) -> None:
        ones = [one for frontier in frontiers for one in frontier.values()]
        ends = [*(one.head for one in ones), *(one.side for one in ones if one.side is not None)]
        self.steps.fits.lines.forget_all_but(ends)
        self.steps.forget()

    def _extend(self, at: int, last: int, one: Hypothesis, effort: int, frontiers: dict[int, Frontier]) -> None:
        stretch = self.speech.stretches[at]
        longest = stretch.spoken[0]
        steps, allows = self.steps, self.allows
        after = self._next(longest.phrase.end, at, last)
        head = one.head
        if allows is None or allows(after, one, None, head):
            self._reach(after, one, steps.none(one, longest), frontiers)
        if at + 1 < after and (allows is None or allows(at + 1, one, None, head)):
            self._reach(at + 1, one, steps.passing(one, longest), frontiers)
        for spoken in stretch.spoken:
            target = self._next(spoken.phrase.end, at, last)
            wasted = spoken.phrase.end < longest.phrase.end and (
                target >= last or self._starts[target] >= longest.phrase.end
            )
            waste = steps.waste if wasted else 0.0
            dearest = min(self._best.get(target, inf) + self.breadth.reach, self._crowded.get(target, inf))
            budget = dearest - one.cost - waste
            for row in steps.moves(one, spoken, budget, effort):
                for step in row:
                    if step.cost > budget:
                        break
                    if allows is None or allows(target, one, step, step.head):
                        self._reach(target, one, steps.wasting(step) if wasted else step, frontiers)

    def _next(self, end: int, at: int, last: int) -> int:
        return min(max(bisect_left(self._starts, end), at + 1), last)

    def _reach(self, target: int, before: Hypothesis, step: Step, frontiers: dict[int, Frontier]) -> None:
        cost = before.cost + step.cost
        if cost < self._best.get(target, inf):
            self._best[target] = cost
        frontier = frontiers.setdefault(target, {})
        key = (step.head.number, -1 if step.side is None else step.side.number)
        there = frontier.get(key)
        if there is None:
            there = frontier[key] = Hypothesis(step.head, step.side, None, inf)
            crowd, more = divmod(len(frontier), self.breadth.width)
            if not more and crowd >= self.breadth.crowd:
                costs = sorted([other.cost for other in frontier.values()])
                self._crowded[target] = costs[self.breadth.crowd * self.breadth.width - 1]
        if cost < there.cost:
            there.cost = cost
            there.plies, there.line = plies_after(before, step)
            there.arcs.insert(0, (before, step))
        else:
            there.arcs.append((before, step))


def plies_after(before: Hypothesis, step: Step) -> tuple[Ply | None, Ply | None]:
    """The plies of the game, and of the sideline told, after a step."""
    if step.side is None:
        return (_with(before.plies, step) if step.added else before.plies), None
    return before.plies, (_with(before.line, step) if step.added else before.line)


def _with(plies: Ply | None, step: Step) -> Ply:
    """Plies with those that a step adds instead of what came after the position that it adds them to."""
    while plies is not None and plies.node is not step.base:
        plies = plies.before
    for telling in step.added:
        plies = Ply(plies, telling)
    assert plies is not None
    return plies

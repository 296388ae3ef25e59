"""The search for the game in a talk without a score: a beam over how far the game has come at each moment.

Sidelines are told in it only as far as they explain words; what they are is found afterwards, with the game known.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from math import inf

from aligner.collection import collection_paused
from aligner.reconstruction.breadth import DEEP, PLAIN, Breadth, pruned
from aligner.reconstruction.hypothesis import Hypothesis, Key, Ply, Step
from aligner.reconstruction.steps import Steps
from aligner.search.lines import LineNode
from aligner.search.lowest import Lowest
from aligner.speech.listen import Speech, Spoken
from aligner.speech.statements import Statement

_FORGETS = 24
"""Stretches after which what is known of positions to which no hypothesis has come is dropped, to bound the memory."""
_CROWD = 2
"""Once so many times the hypotheses that are kept have come to a stretch, nothing dearer than these comes there."""
_BESIDE = 2.0
"""Nats behind the last that is kept with the same head as far as which steps are looked for that leave the game as it
is. No hypothesis is lost by that, only ways to it that are dear; with none at all, confidences would be off."""

Allows = Callable[[int, Hypothesis, Step | None, LineNode], bool]
"""Whether a step is allowed: stretch it leads to, hypothesis, step (None for no move), new head."""


class Frontier:
    """The hypotheses at a stretch that is still ahead.

    Args:
        breadth: how many of them will be kept.

    Attributes:
        hypotheses: by their keys.
    """

    __slots__ = ("_best", "_breadth", "_crowded", "_lowest", "hypotheses")

    def __init__(self, breadth: Breadth) -> None:
        self.hypotheses: dict[Key, Hypothesis] = {}
        self._breadth = breadth
        self._best = inf
        self._crowded = inf
        self._lowest = defaultdict[int, Lowest](partial(Lowest, breadth.of_one_head))  # by the head

    @property
    def dearest(self) -> float:
        """The cost in nats above which no further hypothesis is kept."""
        return min(self._best + self._breadth.depth, self._crowded)

    def dearest_beside(self, head: LineNode) -> float:
        """The same for one that leaves the game as it is."""
        return self._lowest[head.number].limit() + _BESIDE

    def reach(self, before: Hypothesis, step: Step) -> None:
        """Add what a step leads to."""
        cost = before.cost + step.cost
        self._best = min(self._best, cost)
        head, side = step.head, step.side
        key = (head.number, -1 if side is None else side.number)
        there = self.hypotheses.get(key)
        if there is None:
            there = self.hypotheses[key] = Hypothesis(head, side, None, cost)
            self._lowest[head.number].count(cost)
            self._see_crowd()
        elif cost < there.cost:
            self._lowest[head.number].count(cost, there.cost)
            there.cost = cost
        else:
            there.arcs.append((before, step))
            return
        there.arcs.insert(0, (before, step))

    def _see_crowd(self) -> None:
        """Once so many have come, nothing dearer than most of them comes any more."""
        width = self._breadth.width
        crowd, more = divmod(len(self.hypotheses), width)
        if not more and crowd >= _CROWD:
            costs = sorted([other.cost for other in self.hypotheses.values()])
            self._crowded = costs[_CROWD * width - 1]


class GameSearch:
    """Searches one talk, or a window of it.

    Args:
        speech: what was heard.
        steps: what a phrase may be.
        breadth: how many hypotheses are kept.
        allows: constraint on steps; None allows all.
    """

    def __init__(self, speech: Speech, steps: Steps, breadth: Breadth = DEEP, allows: Allows | None = None) -> None:
        self.speech = speech
        self.steps = steps
        self.breadth = breadth
        self.allows = allows
        self._starts = [stretch.start for stretch in speech.stretches]
        self._stated_at = [stated.start for stated in speech.statements]

    def run(
        self, first: int, last: int, begin: Iterable[Hypothesis], progress: Callable[[float], None] | None = None
    ) -> list[Hypothesis]:
        """Decide the stretches from `first` up to `last`; returns the hypotheses at the end, best first."""
        with collection_paused():
            frontiers = defaultdict[int, Frontier](partial(Frontier, self.breadth))
            frontiers[first].hypotheses.update((each.key, each) for each in begin)
            for at in range(first, last):
                frontier = frontiers.pop(at, None)
                if frontier is None:
                    continue
                self._extend(at, last, self._kept(frontier), frontiers)
                if at % _FORGETS == 0:
                    self._forget(frontiers.values())
                if progress is not None and at % 64 == 0:
                    progress((at - first) / max(last - first, 1))
            return self._kept(frontiers[last])

    def _kept(self, frontier: Frontier) -> list[Hypothesis]:
        """The hypotheses that are gone on with, best first."""
        kept = pruned([(one.cost, one) for one in frontier.hypotheses.values()], self.breadth)
        for one in kept:
            if one.arcs:
                one.plies, one.line = plies_after(*one.arcs[0])
        if self.breadth.within:
            _follow(kept, self.breadth.within)
        return kept

    def _forget(self, frontiers: Iterable[Frontier]) -> None:
        ones = [one for frontier in frontiers for one in frontier.hypotheses.values()]
        ends = [*(one.head for one in ones), *(one.side for one in ones if one.side is not None)]
        self.steps.forget(ends)

    def _extend(self, at: int, last: int, kept: Sequence[Hypothesis], frontiers: Mapping[int, Frontier]) -> None:
        """Take all steps from the hypotheses at a stretch; moves come last, when the rest is there to beat."""
        stretch = self.speech.stretches[at]
        longest = stretch.spoken[0]
        steps, allows = self.steps, self.allows
        after = self._next(longest.phrase.end, at, last)
        ways = [(after, steps.none)] if at + 1 == after else [(after, steps.none), (at + 1, steps.passing)]
        for target, step in ways:
            frontier, stated = frontiers[target], self._stated(at, target)
            for one in kept:
                if allows is None or allows(target, one, None, one.head):
                    taken = step(one, longest)
                    frontier.reach(one, steps.stating(taken, stated) if stated else taken)
        told = []
        for spoken in stretch.spoken:
            target = self._next(spoken.phrase.end, at, last)
            wasted = self._wastes(spoken, longest, target, last)
            told.append((spoken, wasted, self._stated(at, target), target, frontiers[target]))
        for rank, one in enumerate(kept):
            effort = next((effort for effort, most in self.breadth.efforts if rank < most), PLAIN)
            for spoken, wasted, stated, target, frontier in told:
                self._move(one, spoken, effort, wasted, stated, target, frontier)

    def _move(
        self, one: Hypothesis, spoken: Spoken, effort: int, wasted: bool, stated: Sequence[Statement], target: int,
        frontier: Frontier,
    ) -> None:  # fmt: skip
        """Take the steps of a hypothesis that take a phrase for moves."""
        steps, allows, asides = self.steps, self.allows, self.breadth.asides
        spent = one.cost + (steps.waste if wasted else 0.0) - (steps.gained(stated) if stated else 0.0)
        budget = frontier.dearest - spent
        beside = min(budget, frontier.dearest_beside(one.head) - spent)
        for row in steps.moves(one, spoken, budget, beside, effort):
            for step in row:
                if step.cost > budget:
                    break
                if not asides and (step.side is not None or step.turned):
                    continue
                if allows is None or allows(target, one, step, step.head):
                    step = steps.wasting(step) if wasted else step
                    frontier.reach(one, steps.stating(step, stated) if stated else step)

    def _wastes(self, spoken: Spoken, longest: Spoken, target: int, last: int) -> bool:
        """Whether a phrase breaks off a longer one whose rest nothing else can use."""
        end = longest.phrase.end
        return spoken.phrase.end < end and (target >= last or self._starts[target] >= end)

    def _stated(self, at: int, target: int) -> Sequence[Statement]:
        """What is stated from a stretch on before another."""
        starts, told = self._starts, self._stated_at
        last = bisect_left(told, starts[target]) if target < len(starts) else len(told)
        return self.speech.statements[bisect_left(told, starts[at]) : last]

    def _next(self, end: int, at: int, last: int) -> int:
        return min(max(bisect_left(self._starts, end), at + 1), last)


def _follow(kept: Sequence[Hypothesis], narrower: Sequence[Breadth]) -> None:
    """See which hypotheses narrower beams would have kept, if they had come by the same steps."""
    costs = [
        [min([before.narrowly[at] + step.cost for before, step in one.arcs], default=one.cost) for one in kept]
        for at in range(len(narrower))
    ]
    for row, breadth in zip(costs, narrower, strict=True):
        there = [(cost, one) for cost, one in zip(row, kept, strict=True) if cost < inf]
        stay = {id(one) for one in pruned(there, breadth)}
        row[:] = [cost if id(one) in stay else inf for cost, one in zip(row, kept, strict=True)]
    for one, narrowly in zip(kept, zip(*costs, strict=True), strict=True):
        one.narrowly = narrowly


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

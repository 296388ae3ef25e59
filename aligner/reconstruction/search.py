"""The search for the game in a talk without a score: a beam over how far the game has come at each moment.

Sidelines are told in it only as far as they explain words; what they are is found afterwards, with the game known.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from math import inf

from aligner.collection import collection_paused
from aligner.reconstruction.hypothesis import Hypothesis, Key, Ply, Step
from aligner.reconstruction.steps import AMENDS, GAPS, PLAIN, SLIPS, Steps
from aligner.search.lines import LineNode
from aligner.speech.listen import Speech

_CROWD = 2
"""Once so many times as many hypotheses as are kept have come to a stretch, nothing dearer than these comes there."""
_FORGETS = 24
"""Stretches after which what is known of positions to which no hypothesis has come is dropped, to bound the memory."""
EFFORTS = ((AMENDS, 2), (GAPS, 12), (SLIPS, 8))
"""How far is thought, for so many of the hypotheses at a stretch, the best first."""

Frontier = dict[Key, Hypothesis]
Allows = Callable[[int, Hypothesis, Step | None, LineNode], bool]
"""Whether a step is allowed: stretch it leads to, hypothesis, step (None for no move), new head."""


@dataclass(frozen=True, slots=True)
class Breadth:
    """How many hypotheses are kept at a stretch.

    Attributes:
        width: at most.
        depth: nats behind the best at which one is dropped.
        alike: (plies, hypotheses): of those that agree on the game up to so many plies before its end no more than so
            many are kept, so that another course of the game stays alive until the talk decides between them.
        on_one_place: those that have the same position under discussion; they differ in how much of its line is the
            game.
    """

    width: int
    depth: float
    alike: tuple[tuple[int, int], ...]
    on_one_place: int


QUICK = Breadth(120, 9.0, ((0, 4), (4, 24), (10, 72)), 6)
WIDE = Breadth(300, 11.5, ((0, 6), (4, 54), (10, 200)), 8)


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
            frontiers: dict[int, Frontier] = {first: {_key(each): each for each in begin}}
            for at in range(first, last):
                frontier = frontiers.pop(at, None)
                if frontier is None:
                    continue
                for rank, hypothesis in enumerate(self._prune(frontier.values())):
                    effort = next((effort for effort, most in EFFORTS if rank < most), PLAIN)
                    self._extend(at, last, hypothesis, effort, frontiers)
                if at % _FORGETS == 0:
                    self._forget(frontiers.values())
                if progress is not None and at % 64 == 0:
                    progress((at - first) / max(last - first, 1))
            return self._prune(frontiers.get(last, {}).values())

    def _forget(self, frontiers: Iterable[Frontier]) -> None:
        ones = [one for frontier in frontiers for one in frontier.values()]
        ends = [*(one.head for one in ones), *(one.side for one in ones if one.side is not None)]
        self.steps.fits.lines.forget_all_but(ends)
        self.steps.forget()

    def _prune(self, hypotheses: Iterable[Hypothesis]) -> list[Hypothesis]:
        ordered = sorted(hypotheses, key=lambda one: (one.cost, _key(one)))
        if not ordered:
            return ordered
        breadth = self.breadth
        limit = ordered[0].cost + breadth.depth
        alike: dict[tuple[int, int], int] = {}
        there: dict[int, int] = {}
        kept: list[Hypothesis] = []
        told: set[tuple[int, int]] = set()  # positions of the game and the sideline that are kept already
        for one in ordered:
            if one.cost > limit or len(kept) == breadth.width:
                break
            trunks = _trunks(one.head, breadth.alike)
            place = one.cursor.number
            if there.get(place, 0) < breadth.on_one_place and all(
                alike.get(trunk, 0) < most for trunk, (_, most) in zip(trunks, breadth.alike, strict=True)
            ):
                positions = one.head.place, -1 if one.side is None else one.side.place
                if positions in told:
                    continue
                for trunk in trunks:
                    alike[trunk] = alike.get(trunk, 0) + 1
                there[place] = there.get(place, 0) + 1
                told.add(positions)
                kept.append(one)
        return kept

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
            dearest = min(self._best.get(target, inf) + self.breadth.depth, self._crowded.get(target, inf))
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
            if not more and crowd >= _CROWD:
                costs = sorted([other.cost for other in frontier.values()])
                self._crowded[target] = costs[_CROWD * self.breadth.width - 1]
        if cost < there.cost:
            there.cost = cost
            there.plies, there.line = plies_after(before, step)
            there.arcs.insert(0, (before, step))
        else:
            there.arcs.append((before, step))


def _trunks(head: LineNode, alike: tuple[tuple[int, int], ...]) -> list[tuple[int, int]]:
    """The game's positions at each of the distances of `Breadth.alike` from its end, as keys."""
    node, trunks, back = head, [], 0
    for plies, _ in alike:
        while back < plies and node.parent is not None:
            node, back = node.parent, back + 1
        trunks.append((plies, node.number))
    return trunks


def _key(one: Hypothesis) -> Key:
    return one.head.number, -1 if one.side is None else one.side.number


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

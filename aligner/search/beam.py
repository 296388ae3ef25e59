"""The search: a beam over hypotheses."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from aligner.collection import collection_paused
from aligner.search.breadth import USUAL, Breadth
from aligner.search.lines import LineNode
from aligner.search.lowest import Lowest
from aligner.search.onward import Step
from aligner.search.options import Options
from aligner.search.state import Decision, Key, State
from aligner.speech.listen import Speech, Spoken

Allows = Callable[[int, State, Decision, LineNode], bool]
"""Whether a decision is allowed: stretch, state, decision, new head. Pins, or the truth when prices are fitted."""

Look = Callable[[State, Spoken, float, bool], list[Step]]
"""One of the methods of `Options` that find steps."""

_BESIDE = 0.5
"""Nats behind the last hypothesis that would be kept as far as which steps are looked for. No state is lost by that,
only ways to it that are dear; with none at all, confidences would be off."""


class Frontier:
    """The states at a stretch that is still ahead.

    Args:
        breadth: how many of them will be kept.
        states: to begin with.

    Attributes:
        states: by their keys.
    """

    __slots__ = ("_breadth", "_lowest", "states")

    def __init__(self, breadth: Breadth, states: Iterable[State] = ()) -> None:
        self.states: dict[Key, State] = {}
        self._breadth = breadth
        self._lowest = Lowest(breadth.most)
        for state in states:
            self.states[state.key] = state
            self._lowest.count(state.cost)

    @property
    def dearest(self) -> float:
        """The cost in nats above which no further state is looked for."""
        breadth, lowest = self._breadth, self._lowest
        best = lowest.nth(1)
        kept = min(lowest.limit(), max(lowest.nth(breadth.few), best + breadth.near))
        return min(kept + _BESIDE, best + breadth.depth)

    def kept(self) -> list[State]:
        """The states that are gone on with, best first."""
        ordered = sorted(self.states.values(), key=lambda state: (state.cost, state.key))[: self._breadth.most]
        if not ordered:
            return ordered
        breadth, best = self._breadth, ordered[0].cost
        few = [state for state in ordered[: breadth.few] if state.cost <= best + breadth.depth]
        return few + [state for state in ordered[breadth.few :] if state.cost <= best + breadth.near]

    def reach(self, step: Step, before: State) -> None:
        """Add what a step from a state leads to, where it may be kept."""
        decision, (cursor, head, focus) = step
        cost = before.cost + decision.cost
        key = (cursor.number, head.number, focus.number if focus is not None else -1)
        state = self.states.get(key)
        if state is None:
            state = self.states[key] = State(cursor, head, focus, _trail(before, cursor), cost)
            state.arcs.append((before, decision))
            self._lowest.count(cost)
        elif cost < state.cost:
            self._lowest.count(cost, state.cost)
            state.cost = cost
            state.trail = _trail(before, cursor)
            state.arcs.insert(0, (before, decision))
        else:
            state.arcs.append((before, decision))


class Beam:
    """Searches one talk, or a window of it.

    Args:
        speech: what was heard.
        options: what a phrase may be.
        breadth: how many hypotheses are kept.
        allows: constraint on decisions; None allows all.
    """

    def __init__(
        self, speech: Speech, options: Options, breadth: Breadth = USUAL, allows: Allows | None = None
    ) -> None:
        self.speech = speech
        self.options = options
        self.breadth = breadth
        self.allows = allows
        self.starts = [stretch.start for stretch in speech.stretches]
        self._following = _following(self.starts)

    def run(
        self, first: int, last: int, begin: Iterable[State], progress: Callable[[float], None] | None = None
    ) -> list[State]:
        """Decide the stretches from `first` up to `last`; returns the states at the end, best first.

        Costs in the returned states are the sums of their decisions' costs on top of those they began with.
        """
        with collection_paused():
            return self._run(first, last, begin, progress)

    def _run(
        self, first: int, last: int, begin: Iterable[State], progress: Callable[[float], None] | None
    ) -> list[State]:
        frontiers = {first: Frontier(self.breadth, begin)}
        for at in range(first, last):
            frontier = frontiers.pop(at, None)
            if frontier is None:
                continue
            self._extend(at, last, frontier.kept(), frontiers)
            if progress is not None and at % 64 == 0:
                progress((at - first) / max(last - first, 1))
        return frontiers.get(last, Frontier(self.breadth)).kept()

    def _extend(self, at: int, last: int, states: Sequence[State], frontiers: dict[int, Frontier]) -> None:
        """Take all steps from the states at a stretch; what is many comes last, when the rest is there to beat."""
        stretch = self.speech.stretches[at]
        longest = stretch.spoken[0]
        options = self.options
        after = self._next(longest.phrase.end, at, last)
        for target, passing in ((after, False), (at + 1, True)) if at + 1 < after else ((after, False),):
            frontier = frontiers.setdefault(target, Frontier(self.breadth))
            for state in states:
                step = (options.none(state, longest, passing), (state.cursor, state.head, state.focus))
                self._take(at, frontier, state, (step,))
        ways = []
        for spoken in stretch.spoken:
            target, wasted = self._target(spoken, longest, at, last)
            ways.append((spoken, wasted, frontiers.setdefault(target, Frontier(self.breadth))))
        for look in (options.in_game, options.beside_game, options.far):
            for spoken, wasted, frontier in ways:
                for state in states:
                    budget = frontier.dearest - state.cost
                    self._take(at, frontier, state, self._steps(at, look, state, spoken, budget, wasted))

    def _steps(self, at: int, look: Look, state: State, spoken: Spoken, budget: float, wasted: bool) -> list[Step]:
        """The steps of one kind from a state at a stretch."""
        return look(state, spoken, budget, wasted)

    def _take(self, at: int, frontier: Frontier, state: State, steps: Iterable[Step]) -> None:
        """Add what steps from a state lead to."""
        allows = self.allows
        for step in steps:
            if allows is None or allows(at, state, step[0], step[1][1]):
                frontier.reach(step, state)

    def _target(self, spoken: Spoken, longest: Spoken, at: int, last: int) -> tuple[int, bool]:
        """The stretch that a phrase leads to, and whether it wastes the rest of a longer one that nothing can use."""
        end, whole = spoken.phrase.end, longest.phrase.end
        target = self._next(end, at, last)
        return target, end < whole and (target >= last or self.starts[target] >= whole)

    def _next(self, end: int, at: int, last: int) -> int:
        following = self._following[end] if end < len(self._following) else len(self.starts)
        return min(max(following, at + 1), last)


def _following(starts: Sequence[int]) -> list[int]:
    """For each token up to the last start, the place of the first stretch that starts at it or after it."""
    found: list[int] = []
    for place, start in enumerate(starts):
        found += [place] * (start + 1 - len(found))
    return found


def _trail(state: State, cursor: LineNode) -> tuple[LineNode, ...]:
    """The ends of the sidelines left last, when the talk goes from a state to another position."""
    left = state.cursor
    if cursor is left or left is state.head or cursor.follows(left):
        return state.trail
    return (left, *[end for end in state.trail if end is not left][:2])


def best_path(state: State) -> list[tuple[State, Decision]]:
    """The cheapest decisions that lead to a state, in order, each with the state it was taken in."""
    path = []
    while state.arcs:
        before, decision = state.arcs[0]
        path.append((before, decision))
        state = before
    return path[::-1]

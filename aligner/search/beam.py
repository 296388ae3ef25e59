"""The search: a beam over hypotheses."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from math import inf

from aligner.collection import collection_paused
from aligner.search.lines import LineNode
from aligner.search.onward import Step
from aligner.search.options import Options
from aligner.search.state import Decision, Key, State
from aligner.speech.listen import Speech, Spoken

Frontier = dict[Key, State]
Allows = Callable[[int, State, Decision, LineNode], bool]
"""Whether a decision is allowed: stretch, state, decision, new head. Pins, or the truth when prices are fitted."""


_ALIKE = 4
"""Hypotheses kept of those that agree on how far the game has come, so that a sideline told in many ways does not
crowd out that the talk is back in the game."""


class Beam:
    """Searches one talk, or a window of it.

    Args:
        speech: what was heard.
        options: what a phrase may be.
        width: hypotheses kept at each stretch.
        depth: nats behind the best at which a hypothesis is dropped.
        allows: constraint on decisions; None allows all.
    """

    def __init__(
        self, speech: Speech, options: Options, width: int, depth: float, allows: Allows | None = None
    ) -> None:
        self.speech = speech
        self.options = options
        self.width = width
        self.depth = depth
        self.allows = allows
        self._best: dict[int, float] = {}
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
        self._best.clear()
        frontiers: dict[int, Frontier] = {first: {state.key: state for state in begin}}
        for at in range(first, last):
            frontier = frontiers.pop(at, None)
            if frontier is None:
                continue
            states = self._prune(frontier.values())
            for state in states:
                self._extend(at, last, state, frontiers)
            for state in states:
                self._extend_far(at, last, state, frontiers)
            if progress is not None and at % 64 == 0:
                progress((at - first) / max(last - first, 1))
        return self._prune(frontiers.get(last, {}).values())

    def _prune(self, states: Iterable[State]) -> list[State]:
        ordered = sorted(states, key=lambda state: (state.cost, state.key))
        if not ordered:
            return ordered
        limit = ordered[0].cost + self.depth
        kept: list[State] = []
        alike: dict[int, int] = {}
        for state in ordered:
            if state.cost > limit or len(kept) == self.width:
                break
            head = state.head.number
            number = alike.get(head, 0)
            if number < _ALIKE:
                alike[head] = number + 1
                kept.append(state)
        return kept

    def _extend(self, at: int, last: int, state: State, frontiers: dict[int, Frontier]) -> None:
        stretch = self.speech.stretches[at]
        longest = stretch.spoken[0]
        allows = self.allows
        options = self.options
        after = self._next(longest.phrase.end, at, last)
        here = (state.cursor, state.head, state.focus)
        decision = options.none(state, longest, False)
        if allows is None or allows(at, state, decision, state.head):
            self._reach(after, (decision, here), state, frontiers)
        if at + 1 < after:
            decision = options.none(state, longest, True)
            if allows is None or allows(at, state, decision, state.head):
                self._reach(at + 1, (decision, here), state, frontiers)
        for spoken in stretch.spoken:
            target, wasted = self._target(spoken, longest, at, last)
            budget = self._best.get(target, inf) + self.depth - state.cost
            self._take(at, target, state, options.moves(state, spoken, budget, wasted), frontiers)

    def _extend_far(self, at: int, last: int, state: State, frontiers: dict[int, Frontier]) -> None:
        """Branches far back in the game; they are many and cost much, so they come when the rest is there to beat."""
        spoken_here = self.speech.stretches[at].spoken
        for spoken in spoken_here:
            target, wasted = self._target(spoken, spoken_here[0], at, last)
            budget = self._best.get(target, inf) + self.depth - state.cost
            if self.options.least_far(spoken) >= budget:
                continue
            fresh = self._limit(frontiers.get(target, {}), target) - state.cost
            self._take(at, target, state, self.options.far(state, spoken, budget, wasted, fresh), frontiers)

    def _limit(self, frontier: Frontier, target: int) -> float:
        """The cost above which a new state would be pruned."""
        limit = self._best.get(target, inf) + self.depth
        if len(frontier) < self.width:
            return limit
        kept = self._prune(frontier.values())
        return min(limit, kept[-1].cost) if len(kept) == self.width else limit

    def _take(self, at: int, target: int, state: State, steps: Iterable[Step], frontiers: dict[int, Frontier]) -> None:
        """Add what steps from a state lead to."""
        allows = self.allows
        for step in steps:
            if allows is None or allows(at, state, step[0], step[1][1]):
                self._reach(target, step, state, frontiers)

    def _target(self, spoken: Spoken, longest: Spoken, at: int, last: int) -> tuple[int, bool]:
        """The stretch that a phrase leads to, and whether it wastes the rest of a longer one that nothing can use."""
        end, whole = spoken.phrase.end, longest.phrase.end
        target = self._next(end, at, last)
        return target, end < whole and (target >= last or self.starts[target] >= whole)

    def _next(self, end: int, at: int, last: int) -> int:
        following = self._following[end] if end < len(self._following) else len(self.starts)
        return min(max(following, at + 1), last)

    def _reach(self, target: int, step: Step, before: State, frontiers: dict[int, Frontier]) -> None:
        decision, (cursor, head, focus) = step
        cost = before.cost + decision.cost
        if cost < self._best.get(target, inf):
            self._best[target] = cost
        frontier = frontiers.setdefault(target, {})
        key = (cursor.number, head.number, focus.number if focus is not None else -1)
        state = frontier.get(key)
        if state is None:
            state = frontier[key] = State(cursor, head, focus, _trail(before, cursor), cost)
            state.arcs.append((before, decision))
        elif cost < state.cost:
            state.cost = cost
            state.trail = _trail(before, cursor)
            state.arcs.insert(0, (before, decision))
        else:
            state.arcs.append((before, decision))


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

"""The search: a beam over hypotheses."""

from __future__ import annotations

import gc
from bisect import bisect_left
from collections.abc import Callable, Iterable
from math import inf

from aligner.search.lines import LineNode
from aligner.search.matching import PricedFit
from aligner.search.options import Options, is_vague
from aligner.search.state import Decision, Key, State
from aligner.speech.listen import Speech

Frontier = dict[Key, State]
Fitting = list[tuple[int, list[PricedFit]]]
Allows = Callable[[int, State, Decision, LineNode], bool]
"""Whether a decision is allowed: stretch, state, decision, new head. Pins, or the truth when prices are fitted."""


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

    def run(
        self, first: int, last: int, begin: Iterable[State], progress: Callable[[float], None] | None = None
    ) -> list[State]:
        """Decide the stretches from `first` up to `last`; returns the states at the end, best first.

        Costs in the returned states are the sums of their decisions' costs on top of those they began with.
        """
        collecting = gc.isenabled()
        gc.disable()  # many small objects and hardly a cycle: looking for some costs a quarter of the time
        try:
            return self._run(first, last, begin, progress)
        finally:
            if collecting:
                gc.enable()

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
            fitting = self._fitting(at, states)
            for state in states:
                self._extend(at, last, state, fitting, frontiers)
            if progress is not None and at % 64 == 0:
                progress((at - first) / max(last - first, 1))
        return self._prune(frontiers.get(last, {}).values())

    def _fitting(self, at: int, states: list[State]) -> list[Fitting]:
        """For each phrase of a stretch, where it fits of all that the states may go back to."""
        near: dict[int, LineNode] = {}
        middle: dict[int, LineNode] = {}
        far: dict[int, LineNode] = {}
        for state in states:
            places = self.options.places(state)
            near.update(places.near)
            middle.update(places.middle)
            far.update(places.far)
        specific = {**middle, **near}
        everything = {**far, **specific}
        found = []
        for spoken in self.speech.stretches[at].spoken:
            nodes = (
                near if is_vague(spoken) else everything if self.options.may_be_far(spoken, self.depth) else specific
            )
            found.append(self.options.fitting(spoken, nodes))
        return found

    def _prune(self, states: Iterable[State]) -> list[State]:
        ordered = sorted(states, key=lambda state: (state.cost, state.key))
        if not ordered:
            return ordered
        limit = ordered[0].cost + self.depth
        return [state for state in ordered[: self.width] if state.cost <= limit]

    def _extend(self, at: int, last: int, state: State, fitting: list[Fitting], frontiers: dict[int, Frontier]) -> None:
        stretch = self.speech.stretches[at]
        longest = stretch.spoken[0]
        allows = self.allows
        options = self.options
        after = self._next(longest.phrase.end, at, last)
        decision = options.none(state, longest, False)
        if allows is None or allows(at, state, decision, state.head):
            self._reach(after, state, decision, state, frontiers)
        if at + 1 < after:
            decision = options.none(state, longest, True)
            if allows is None or allows(at, state, decision, state.head):
                self._reach(at + 1, state, decision, state, frontiers)
        for spoken, fits in zip(stretch.spoken, fitting, strict=True):
            target = self._next(spoken.phrase.end, at, last)
            wasted = spoken.phrase.end < longest.phrase.end and (
                target >= last or self.starts[target] >= longest.phrase.end
            )
            budget = self._best.get(target, inf) + self.depth - state.cost
            for decision, (cursor, head, focus) in options.moves(state, spoken, fits, budget, wasted):
                if allows is not None and not allows(at, state, decision, head):
                    continue
                trail = state.trail
                if cursor is not state.cursor and state.cursor is not state.head and not cursor.follows(state.cursor):
                    trail = (state.cursor, *[end for end in trail if end is not state.cursor][:2])
                self._reach(target, State(cursor, head, focus, trail, 0.0), decision, state, frontiers)

    def _next(self, end: int, at: int, last: int) -> int:
        return min(max(bisect_left(self.starts, end), at + 1), last)

    def _reach(
        self, target: int, like: State, decision: Decision, before: State, frontiers: dict[int, Frontier]
    ) -> None:
        cost = before.cost + decision.cost
        if cost < self._best.get(target, inf):
            self._best[target] = cost
        frontier = frontiers.setdefault(target, {})
        focus = like.focus
        key = like.key
        state = frontier.get(key)
        if state is None:
            state = State(like.cursor, like.head, focus, like.trail, cost)
            frontier[key] = state
            state.arcs.append((before, decision))
        elif cost < state.cost:
            state.cost = cost
            state.trail = like.trail
            state.arcs.insert(0, (before, decision))
        else:
            state.arcs.append((before, decision))


def best_path(state: State) -> list[tuple[State, Decision]]:
    """The cheapest decisions that lead to a state, in order, each with the state it was taken in."""
    path = []
    while state.arcs:
        before, decision = state.arcs[0]
        path.append((before, decision))
        state = before
    return path[::-1]

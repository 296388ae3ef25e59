"""A beam that remembers: a talk searched again under one more decision repeats what the decision does not touch.

Two things are kept between runs. What a state at a stretch may become does not depend on what is settled elsewhere,
so it is worked out once, a little deeper than is asked for at first. And up to the first stretch that has changed the
whole search is the same, so it goes on from the last checkpoint before. Results are those of a search from the start.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import inf

from aligner.search.beam import Allows, Beam, Frontier
from aligner.search.onward import Step
from aligner.search.options import Options
from aligner.search.state import State
from aligner.speech.listen import Speech

SLACK = 2.0
"""Nats by which steps are worked out deeper than asked for, so that they still serve where costs have shifted."""
_AHEAD = 12
"""Stretches that a phrase may reach over."""
_EVERY = 8
"""Stretches between two checkpoints."""

Signature = tuple[object, ...]
"""What a stretch holds and how it is bound; stretches with one signature are searched alike."""


@dataclass(frozen=True, slots=True)
class Group:
    """The steps from a state by one phrase, or by none.

    Attributes:
        offset: stretches ahead to which they lead.
        budget: nats up to which they are complete.
        always: whether they are taken whatever they cost.
        steps: each with where it leads.
    """

    offset: int
    budget: float
    always: bool
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """The search before a stretch.

    Attributes:
        at: the stretch.
        frontiers: copies of the states at it and ahead of it.
        best: cheapest cost of any state, by stretch.
    """

    at: int
    frontiers: dict[int, list[State]]
    best: dict[int, float]


class Memory:
    """What runs over one talk leave to the next; it is empty after prices change."""

    def __init__(self) -> None:
        self.groups: dict[tuple[object, ...], list[Group]] = {}
        self.checkpoints: list[Checkpoint] = []
        self.signatures: list[Signature] = []

    def clear(self) -> None:
        """Forget everything."""
        self.groups.clear()
        self.checkpoints.clear()
        self.signatures.clear()


class RecallingBeam(Beam):
    """A beam over a whole talk with a memory.

    Args:
        memory: of the talk.
        bound: for each stretch, what binds it; None where nothing does.
    """

    def __init__(
        self, speech: Speech, options: Options, width: int, depth: float, allows: Allows | None, memory: Memory,
        bound: Sequence[object],
    ) -> None:  # fmt: skip
        super().__init__(speech, options, width, depth, allows)
        self.memory = memory
        self.bound = bound
        self.signatures: list[Signature] = [
            (*[spoken.number for spoken in stretch.spoken], bound[stretch.number]) for stretch in speech.stretches
        ]
        numbers = [signature[0] for signature in self.signatures]
        self._around = [tuple(numbers[at : at + _AHEAD]) for at in range(len(numbers))]

    def _run(
        self, first: int, last: int, begin: Iterable[State], progress: Callable[[float], None] | None
    ) -> list[State]:
        memory = self.memory
        same = 0
        limit = min(len(memory.signatures), len(self.signatures))
        while same < limit and memory.signatures[same] == self.signatures[same]:
            same += 1
        memory.checkpoints = [point for point in memory.checkpoints if point.at <= same - _AHEAD]
        self._best.clear()
        frontiers: dict[int, Frontier] = {first: {state.key: state for state in begin}}
        if memory.checkpoints:
            point = memory.checkpoints[-1]
            first = point.at
            frontiers = {at: {state.key: _copy(state) for state in states} for at, states in point.frontiers.items()}
            self._best.update(point.best)
        memory.signatures = self.signatures
        for at in range(first, last):
            if at % _EVERY == 0 and (not memory.checkpoints or memory.checkpoints[-1].at < at):
                kept = {ahead: [_copy(state) for state in there.values()] for ahead, there in frontiers.items()}
                memory.checkpoints.append(Checkpoint(at, kept, dict(self._best)))
            frontier = frontiers.pop(at, None)
            if frontier is None:
                continue
            states = self._prune(frontier.values())
            for state in states:
                self._extend(at, last, state, frontiers)
            for state in states if self.bound[at] is not None else ():
                self._extend_far(at, last, state, frontiers)
            if progress is not None and at % 64 == 0:
                progress(at / max(last, 1))
        return self._prune(frontiers.get(last, {}).values())

    def _extend(self, at: int, last: int, state: State, frontiers: dict[int, Frontier]) -> None:
        if self.bound[at] is not None:
            super()._extend(at, last, state, frontiers)
            return
        key = (self._around[at], state.key, tuple(end.number for end in state.trail))
        groups = self.memory.groups.get(key)
        if groups is None or not self._enough(groups, at, state):
            groups = self._work_out(at, last, state)
            self.memory.groups[key] = groups
        for group in groups:
            target = at + group.offset
            budget = inf if group.always else self._best.get(target, inf) + self.depth - state.cost
            for step in group.steps:
                if step[0].cost <= budget:
                    super()._reach(target, step, state, frontiers)

    def _enough(self, groups: list[Group], at: int, state: State) -> bool:
        best, room = self._best, self.depth - state.cost
        return all(group.always or best.get(at + group.offset, inf) + room <= group.budget for group in groups)

    def _work_out(self, at: int, last: int, state: State) -> list[Group]:
        """All steps from a state, as `Beam` takes them but `SLACK` deeper."""
        stretch = self.speech.stretches[at]
        longest = stretch.spoken[0]
        options, allows = self.options, self.allows
        after = self._next(longest.phrase.end, at, last)
        nearest: dict[int, float] = {}
        groups: list[Group] = []
        here = (state.cursor, state.head, state.focus)
        for target, passing in ((after, False), (at + 1, True)):
            if passing and target >= after:
                continue
            decision = options.none(state, longest, passing)
            nearest[target] = min(nearest.get(target, inf), state.cost + decision.cost)
            groups.append(Group(target - at, inf, True, ((decision, here),)))
        for spoken in stretch.spoken:
            target, wasted = self._target(spoken, longest, at, last)
            best = min(self._best.get(target, inf), nearest.get(target, inf))
            budget = best + self.depth - state.cost + SLACK
            steps: list[Step] = []
            near, far = options.moves(state, spoken, budget, wasted), options.far(state, spoken, budget, wasted)
            for step in near + far:
                decision = step[0]
                if allows is not None and not allows(at, state, decision, step[1][1]):
                    continue
                steps.append(step)
                nearest[target] = min(nearest.get(target, inf), state.cost + decision.cost)
            groups.append(Group(target - at, budget, False, tuple(steps)))
        return groups


def _copy(state: State) -> State:
    copy = State(state.cursor, state.head, state.focus, state.trail, state.cost)
    copy.arcs = list(state.arcs)
    return copy

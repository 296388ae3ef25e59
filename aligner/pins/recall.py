"""A beam that remembers: a talk searched again under one more decision repeats what the decision does not touch.

Two things are kept between runs. What a state at a stretch may become does not depend on what is settled elsewhere,
so it is worked out once, a little deeper than is asked for at first. And up to the first stretch that has changed the
whole search is the same, so it goes on from the last checkpoint before. Results are those of a search from the start.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from aligner.search.beam import Allows, Beam, Frontier, Look
from aligner.search.onward import Step
from aligner.search.options import Options
from aligner.search.state import State
from aligner.speech.listen import Speech, Spoken

SLACK = 2.0
"""Nats by which steps are worked out deeper than asked for, so that they still serve where costs have shifted."""
_AHEAD = 12
"""Stretches that a phrase may reach over."""
_EVERY = 8
"""Stretches between two checkpoints."""

Signature = tuple[object, ...]
"""What a stretch holds and how it is bound; stretches with one signature are searched alike."""


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """The search before a stretch.

    Attributes:
        at: the stretch.
        frontiers: copies of the states at it and ahead of it.
    """

    at: int
    frontiers: dict[int, list[State]]


class Memory:
    """What runs over one talk leave to the next; it is empty after prices change."""

    def __init__(self) -> None:
        self.steps: dict[tuple[object, ...], tuple[float, list[Step]]] = {}
        self.checkpoints: list[Checkpoint] = []
        self.signatures: list[Signature] = []

    def clear(self) -> None:
        """Forget everything."""
        self.steps.clear()
        self.checkpoints.clear()
        self.signatures.clear()


class RecallingBeam(Beam):
    """A beam over a whole talk with a memory.

    Args:
        memory: of the talk.
        bound: for each stretch, what binds it; None where nothing does.
    """

    def __init__(
        self, speech: Speech, options: Options, allows: Allows | None, memory: Memory, bound: Sequence[object]
    ) -> None:
        super().__init__(speech, options, allows=allows)
        self.memory = memory
        self.bound = bound
        self.signatures: list[Signature] = [
            (*[spoken.number for spoken in stretch.spoken], bound[stretch.number]) for stretch in speech.stretches
        ]

    def _run(
        self, first: int, last: int, begin: Iterable[State], progress: Callable[[float], None] | None
    ) -> list[State]:
        memory = self.memory
        same = 0
        limit = min(len(memory.signatures), len(self.signatures))
        while same < limit and memory.signatures[same] == self.signatures[same]:
            same += 1
        memory.checkpoints = [point for point in memory.checkpoints if point.at <= same - _AHEAD]
        frontiers = {first: Frontier(self.breadth, begin)}
        if memory.checkpoints:
            point = memory.checkpoints[-1]
            first = point.at
            frontiers = {at: Frontier(self.breadth, map(_copy, states)) for at, states in point.frontiers.items()}
        memory.signatures = self.signatures
        for at in range(first, last):
            if at % _EVERY == 0 and (not memory.checkpoints or memory.checkpoints[-1].at < at):
                kept = {ahead: [_copy(state) for state in there.states.values()] for ahead, there in frontiers.items()}
                memory.checkpoints.append(Checkpoint(at, kept))
            frontier = frontiers.pop(at, None)
            if frontier is None:
                continue
            self._extend(at, last, frontier.kept(), frontiers)
            if progress is not None and at % 64 == 0:
                progress(at / max(last, 1))
        return frontiers.get(last, Frontier(self.breadth)).kept()

    def _steps(self, at: int, look: Look, state: State, spoken: Spoken, budget: float, wasted: bool) -> list[Step]:
        if self.bound[at] is not None:
            return look(state, spoken, budget, wasted)
        key = (look, spoken.number, wasted, state.key, tuple(end.number for end in state.trail))
        known = self.memory.steps.get(key)
        if known is None or known[0] < budget:
            deep = budget + SLACK
            known = self.memory.steps[key] = (deep, look(state, spoken, deep, wasted))
        return [step for step in known[1] if step[0].cost <= budget]


def _copy(state: State) -> State:
    copy = State(state.cursor, state.head, state.focus, state.trail, state.cost)
    copy.arcs = list(state.arcs)
    return copy

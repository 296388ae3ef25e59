"""The search under settled decisions, again and again over one talk: what fits where stays known between runs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import chess

from aligner.pins.binding import Binder, Binding, Bound
from aligner.pins.pin import BACK, INFERRED, Pin
from aligner.pins.recall import Memory, RecallingBeam
from aligner.prices.prices import Prices
from aligner.search.beam import Beam
from aligner.search.lines import LineNode, Lines
from aligner.search.options import Options, Step
from aligner.search.reading import DEPTH, WIDTH, WIDTH_WITHOUT_SCORE, Reading, reading_of
from aligner.search.state import Decision, State
from aligner.speech.listen import Speech, Spoken

JUMP = 12.0
"""Nats against a reading that would not come to a settled move by itself: it is led there, so no decision is lost."""
ELSEWHERE = 3.0
"""Nats against taking a settled move for the same move after another course of the game, where no score fixes it."""


_FROM_GAME = ("game", "return", "open", "leave")
"""Kinds of decisions by which words settled as back in the game may speak of a move."""


class PinnedOptions(Options):
    """What a phrase may be, where some phrases are settled."""

    bindings: Mapping[int, Binding] = {}

    def moves(self, state: State, spoken: Spoken, *rest: Any, **named: Any) -> Iterator[Step]:
        """As in `Options`; a settled phrase is nothing but what it was settled as."""
        binding = self.bindings.get(spoken.number)
        if binding is None:
            yield from super().moves(state, spoken, *rest, **named)
        elif binding.pin.decision == BACK:
            yield Decision("back", "pass", None, (), None, (), (), 0.0), (state.head, state.head, None)
        elif binding.pin.decision == INFERRED:
            yield self._unsaid(state, binding)
        else:
            reached = False
            for decision, where in super().moves(state, spoken, *rest, **named):
                more = self._against(binding, decision, where[1])
                if more is not None:
                    reached = reached or more == 0.0
                    yield replace(decision, fit=binding.fit, cost=decision.cost + more), where
            if not reached:
                yield self._jump(state, spoken, binding)

    def _against(self, binding: Binding, decision: Decision, head: LineNode) -> float | None:
        """Nats against taking a decision for the settled one; None where it is another."""
        pin, node = binding.pin, decision.nodes[-1]
        if len(decision.nodes) != len(binding.nodes) or pin.again not in (None, decision.kind == "again"):
            return None
        if decision.slips:
            return None
        if node is binding.node:
            return 0.0
        if self.known or pin.in_game or node.move != binding.node.move or head.follows(node) != pin.in_game:
            return None
        return ELSEWHERE

    def _unsaid(self, state: State, binding: Binding) -> Step:
        node = binding.node
        head = node if binding.pin.in_game else state.head
        cost = 0.0 if state.cursor is node.parent else JUMP
        return Decision("unsaid", "pass", None, (), None, (), (node,), cost), (node, head, None)

    def _jump(self, state: State, spoken: Spoken, binding: Binding) -> Step:
        """Straight to the settled move, from wherever the hypothesis stands."""
        node, pin = binding.node, binding.pin
        if pin.again:
            decision = Decision("again", "again", spoken, binding.nodes, binding.fit, (), (), JUMP)
            return decision, (state.cursor, state.head, node)
        head = state.head
        if pin.in_game:
            head = node
        elif self.known and node.fork.ply > head.ply:
            head = node.fork
        kind, group = ("return", "return") if pin.in_game else ("far", "branch")
        return Decision(kind, group, spoken, binding.nodes, binding.fit, (), (), JUMP), (node, head, None)


class PinnedSearch:
    """Reads one talk as often as its settled decisions change.

    Args:
        speech: what was heard.
        start: position the game starts from.
        score: the game's moves in UCI; empty where the talk is all there is.
        prices: of the mode that belongs to `score`.
        cast: words that say who moves, with their side.
        remembers: whether to make later runs quick, at the cost of the first.
    """

    def __init__(
        self,
        speech: Speech,
        start: chess.Board,
        score: Sequence[str],
        prices: Prices,
        cast: Mapping[str, bool] | None,
        remembers: bool = False,
    ) -> None:
        self.lines = Lines(start, score)
        self.prices = prices
        self.options = PinnedOptions(self.lines, prices, cast)
        self.binder = Binder(speech, self.lines)
        self._memory = Memory() if remembers else None
        self.ends: list[State] = []
        self.bound: Bound = self.binder.bind(())

    def reprice(self, prices: Prices) -> None:
        """Take other prices; what fits where stays known."""
        self.prices = prices
        self.options.reprice(prices)
        if self._memory is not None:
            self._memory.clear()

    def read(self, pins: Sequence[Pin] = (), progress: Callable[[float], None] | None = None) -> Reading:
        """The best reading under the pins; `bound` then tells where they stand, `ends` how the search ended."""
        self.bound = self.binder.bind(pins)
        course = self._course(self.bound.bindings.values())
        if course is not None:
            self._drop_contradicted(pins, course)
        speech, bindings = self.bound.speech, self.bound.bindings
        self.options.bindings = bindings
        stretches = speech.stretches
        settled = {stretch.number for stretch in stretches if stretch.spoken[0].number in bindings}
        backs = [binding.words for binding in bindings.values() if binding.pin.decision == BACK]
        at_back = {s.number for s in stretches if any(a <= speech.tokens[s.start].word < b for a, b in backs)}

        off_course: dict[int, bool] = {}

        def allows(at: int, state: State, decision: Decision, head: LineNode) -> bool:
            if course is not None:
                strays = off_course.get(head.number)
                if strays is None:
                    strays = off_course[head.number] = not (course.follows(head) or head.follows(course))
                if strays:
                    return False
            if at in settled:
                return bool(decision.nodes) or decision.kind in ("back", "unsaid")
            if at not in at_back or not decision.nodes:
                return True
            return decision.kind in _FROM_GAME or (decision.kind == "again" and head.follows(decision.nodes[-1]))

        begin = State(self.lines.root, self.lines.root, None, (), 0.0)
        bound: list[object] = [
            (bindings.get(stretch.spoken[0].number), stretch.number in at_back)
            if stretch.number in settled or stretch.number in at_back
            else None
            for stretch in stretches
        ]
        constraint = allows if settled or course is not None else None
        width = WIDTH if self.lines.score_moves else WIDTH_WITHOUT_SCORE
        beam = Beam(speech, self.options, width, DEPTH, constraint)
        if self._memory is not None:
            beam = RecallingBeam(speech, self.options, width, DEPTH, constraint, self._memory, bound, course)
        self.ends = beam.run(0, len(speech.stretches), [begin], progress) or [begin]
        return reading_of(speech, self.lines, self.ends, self.prices.sharpness)

    def _course(self, bindings: Iterable[Binding]) -> LineNode | None:
        """How the game went, as far as settled moves of it tell where no score does; None where nothing tells.

        Who settles a move of the game has its position before their eyes, so all moves that led there count. Where two
        such lines contradict each other the later decision counts.
        """
        if self.lines.score_moves:
            return None
        course: LineNode | None = None
        for binding in sorted(bindings, key=lambda one: -one.pin.number):
            if binding.nodes and binding.pin.in_game and (course is None or binding.node.follows(course)):
                course = binding.node
        return course

    def _drop_contradicted(self, pins: Sequence[Pin], course: LineNode) -> None:
        """Bind anew without those pins that would have the game go another way."""
        off = [
            binding.pin
            for binding in self.bound.bindings.values()
            if binding.nodes and binding.pin.in_game and not course.follows(binding.node)
        ]
        if off:
            bound = self.binder.bind([pin for pin in pins if pin not in off])
            reason = "a later decision has the game go another way"
            self.bound = replace(bound, unfit=(*bound.unfit, *[(pin, reason) for pin in off]))

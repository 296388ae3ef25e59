"""The search under settled decisions, again and again over one talk: what fits where stays known between runs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import chess

from aligner.pins.binding import Binder, Binding, Bound
from aligner.pins.pin import BACK, INFERRED, Pin
from aligner.pins.recall import Memory, RecallingBeam
from aligner.prices.prices import Prices
from aligner.search.beam import Beam
from aligner.search.lines import LineNode, Lines
from aligner.search.onward import Step
from aligner.search.options import Options
from aligner.search.reading import Reading, reading_of
from aligner.search.state import Decision, State
from aligner.speech.listen import Speech, Spoken

JUMP = 12.0
"""Nats against a reading that would not come to a settled move by itself: it is led there, so no decision is lost."""

_FROM_GAME = ("game", "return", "open", "leave")
"""Kinds of decisions by which words settled as back in the game may speak of a move."""


class PinnedOptions(Options):
    """What a phrase may be, where some phrases are settled."""

    bindings: Mapping[int, Binding] = {}

    def in_game(self, state: State, spoken: Spoken, budget: float, wasted: bool = False) -> list[Step]:
        """As in `Options`; a settled phrase is nothing but what it was settled as, in the game or beside it."""
        binding = self.bindings.get(spoken.number)
        if binding is None:
            return super().in_game(state, spoken, budget, wasted)
        if binding.pin.decision == BACK:
            return [(Decision("back", "pass", None, (), None, (), (), 0.0), (state.head, state.head, None))]
        if binding.pin.decision == INFERRED:
            return [self._unsaid(state, binding)]
        looks = (super().in_game, super().beside_game, super().far)
        settled = [
            (decision._replace(fit=binding.fit), where)
            for look in looks
            for decision, where in look(state, spoken, budget, wasted)
            if self._is_settled(binding, decision)
        ]
        return settled or [self._jump(state, spoken, binding)]

    def beside_game(self, state: State, spoken: Spoken, budget: float, wasted: bool = False) -> list[Step]:
        """As in `Options`; of a settled phrase `in_game` tells all."""
        return [] if spoken.number in self.bindings else super().beside_game(state, spoken, budget, wasted)

    def far(self, state: State, spoken: Spoken, budget: float, wasted: bool = False) -> list[Step]:
        """As in `Options`; of a settled phrase `in_game` tells all."""
        return [] if spoken.number in self.bindings else super().far(state, spoken, budget, wasted)

    def _is_settled(self, binding: Binding, decision: Decision) -> bool:
        return (
            len(decision.nodes) == len(binding.nodes)
            and binding.pin.again in (None, decision.kind == "again")
            and not decision.slips
            and decision.nodes[-1] is binding.node
        )

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
        elif node.fork.ply > head.ply:
            head = node.fork
        kind, group = ("return", "return") if pin.in_game else ("far", "branch")
        return Decision(kind, group, spoken, binding.nodes, binding.fit, (), (), JUMP), (node, head, None)


class PinnedSearch:
    """Reads one talk as often as its settled decisions change.

    Args:
        speech: what was heard.
        start: position the game starts from.
        score: the game's moves in UCI, given or found in the talk.
        prices: of the mode "score".
        cast: words that say who moves, with their side.
        remembers: whether to make later runs quick, at the cost of the first.
        given: whether the score was given.
    """

    def __init__(
        self,
        speech: Speech,
        start: chess.Board,
        score: Sequence[str],
        prices: Prices,
        cast: Mapping[str, bool] | None,
        remembers: bool = False,
        given: bool = True,
    ) -> None:
        self.lines = Lines(start, score)
        self.prices = prices
        self.options = PinnedOptions(self.lines, prices, cast)
        self.binder = Binder(speech, self.lines, given)
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
        speech, bindings = self.bound.speech, self.bound.bindings
        self.options.bindings = bindings
        stretches = speech.stretches
        settled = {stretch.number for stretch in stretches if stretch.spoken[0].number in bindings}
        backs = [binding.words for binding in bindings.values() if binding.pin.decision == BACK]
        at_back = {s.number for s in stretches if any(a <= speech.tokens[s.start].word < b for a, b in backs)}

        def allows(at: int, state: State, decision: Decision, head: LineNode) -> bool:
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
        constraint = allows if settled else None
        beam = Beam(speech, self.options, allows=constraint)
        if self._memory is not None:
            beam = RecallingBeam(speech, self.options, constraint, self._memory, bound)
        self.ends = beam.run(0, len(speech.stretches), [begin], progress) or [begin]
        return reading_of(speech, self.lines, self.ends, self.prices.sharpness)

"""A settled talk as a lesson: windows of it searched freely, and again along what was settled.

The truth is the reading under the settled decisions: who settles a talk looks at what is doubtful and leaves the rest
as it is. Each window is searched from the true state at its beginning (learning as search optimisation, Daumé and Marcu
2005), with the softmax over all surviving ways (Andor et al. 2016).
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Sequence

import chess

from aligner.pins.pin import MOVE, NO_MOVE, Pin
from aligner.pins.placing import Span
from aligner.pipeline import Alignment
from aligner.prices.fitting import Slope
from aligner.prices.prices import Prices
from aligner.search.beam import Beam, best_path
from aligner.search.breadth import BOUNDLESS
from aligner.search.lattice import contrast
from aligner.search.lines import LineNode, Lines
from aligner.search.options import Options
from aligner.search.state import Decision, State

WINDOW = 14
"""Stretches of a window."""


class SettledTalk:
    """One settled talk.

    Args:
        name: of the talk, for messages.
        alignment: the talk made ready.
        pins: what was settled about it.
    """

    def __init__(self, name: str, alignment: Alignment, pins: Sequence[Pin]) -> None:
        self.name = name
        self.alignment = alignment
        self.pins = tuple(pins)
        alignment.read(self.pins)
        search = alignment.search
        self.speech = search.binder.speech
        score = [move.uci() for move in search.lines.score_moves]
        lines = Lines(chess.Board(alignment.start_fen), score)
        self.options = Options(lines, search.prices, search.options.cast)
        self.settled = search.bound.placed
        self._learn_truth(search.ends[0])

    def _learn_truth(self, end: State) -> None:
        """The reading's mentions and states, in nodes of this lesson's own."""
        own = self._own
        path = best_path(end)
        speech = self.alignment.search.bound.speech
        self.mentions: list[tuple[Span, tuple[LineNode, ...], bool]] = []
        self._words: list[int] = []
        self._states: list[State] = []
        for (before, decision), after in zip(path, [*[state for state, _ in path[1:]], end], strict=True):
            if decision.spoken is None:
                continue
            words = speech.span(decision.spoken.phrase)
            if decision.nodes:
                nodes = tuple(own(node) for node in decision.nodes)
                self.mentions.append((words, nodes, decision.kind == "again"))
            if before.cursor is not after.cursor or before.head is not after.head or decision.kind == "again":
                self._words.append(words[1])
                focus = None if after.focus is None else own(after.focus)
                trail = tuple(own(left) for left in after.trail)
                self._states.append(State(own(after.cursor), own(after.head), focus, trail, 0.0))

    def _own(self, node: LineNode) -> LineNode:
        mine = self.options.lines.root
        for move in node.line():
            mine = self.options.lines.after(mine, move)
        return mine

    def _true_state(self, stretch: int) -> State:
        stretches = self.speech.stretches
        root = self.options.lines.root
        if stretch < len(stretches):
            word = self.speech.tokens[stretches[stretch].start].word
            place = bisect_right(self._words, word) - 1
        else:
            place = len(self._words) - 1
        like = self._states[place] if place >= 0 else State(root, root, None, (), 0.0)
        return State(like.cursor, like.head, like.focus, like.trail, 0.0)

    def allows(self, at: int, state: State, decision: Decision, head: LineNode) -> bool:
        """Whether a decision is the settled one."""
        if decision.spoken is None:
            return True
        first, past = self.speech.span(decision.spoken.phrase)
        over = [mention for mention in self.mentions if mention[0][0] < past and first < mention[0][1]]
        if not decision.nodes:
            return not over
        looks_back = decision.kind == "again"
        return any(nodes == decision.nodes and again == looks_back for _, nodes, again in over)

    def slope(self, prices: Prices) -> Slope:
        """What the talk says of prices (`aligner.prices.fitting.Lesson`)."""
        self.options.reprice(prices)
        slope: dict[str, float] = defaultdict(float)
        loss, windows, lost = 0.0, 0, 0
        stretches = len(self.speech.stretches)
        for at in range(0, stretches, WINDOW):
            end = min(at + WINDOW, stretches)
            there = self._true_state(end)
            true = Beam(self.speech, self.options, BOUNDLESS, self.allows).run(at, end, [self._true_state(at)])
            true = [state for state in true if state.cursor is there.cursor and state.head is there.head]
            windows += 1
            if not true:
                lost += 1
                continue
            free = Beam(self.speech, self.options).run(at, end, [self._true_state(at)])
            found, short = contrast(true, free)
            loss += short
            for name, amount in found.items():
                slope[name] += amount
        return Slope(slope, loss, windows, lost)

    def right(self, prices: Prices) -> tuple[int, int]:
        """Of the settled decisions about words, how many the search makes by itself with these prices, and how many
        there are."""
        search = self.alignment.search
        search.reprice(prices)
        reading = search.read(())
        found = [(choice.words, choice.decision.nodes) for choice in reading.choices]
        hits = total = 0
        for pin, words in self.settled:
            if pin.decision not in (MOVE, NO_MOVE):
                continue
            total += 1
            nodes = [nodes[-1] for span, nodes in found if nodes and span[0] < words[1] and words[0] < span[1]]
            if pin.decision == NO_MOVE:
                hits += not nodes
            else:
                hits += any(search.binder.same(pin.line, node) for node in nodes)
        return hits, total

"""The search, taken up again and again where it stands, and how far it can't change its mind any more.

The states that survive at a place of the talk hold all that the future can choose from. Where the cheapest ways to
all of them run through one state, everything up to that state is decided for good, as in a Viterbi decoder that puts
out its path as soon as the surviving paths have merged (Viterbi 1967; the usual truncation rule).
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace

import chess

from aligner.prices.prices import Prices
from aligner.search.beam import Beam, best_path
from aligner.search.evidence import learn_cast
from aligner.search.lines import Lines
from aligner.search.options import Options
from aligner.search.order import in_order
from aligner.search.reading import Choice, Reading, reading_of
from aligner.search.state import State
from aligner.speech.leanings import Leaning, leant
from aligner.speech.listen import Signs, Speech, Spoken, Stretch

_SURE = 0.9
"""Probability from which on a decision teaches who "he" and "she" are."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A place of the talk that no phrase spans, with all hypotheses that survive there.

    Attributes:
        stretch: number of stretches before it.
        states: the hypotheses, best first.
    """

    stretch: int
    states: tuple[State, ...]


class Rewritten(Exception):
    """The captions changed where decisions were final already."""


class Following:
    """One talk's search while the talk goes on.

    Args:
        start: position the game starts from.
        score: the game's moves in UCI; empty where the talk is all there is.
        prices: of the mode that belongs to `score`.
    """

    def __init__(self, start: chess.Board, score: Sequence[str], prices: Prices) -> None:
        self.prices = prices
        self.lines = Lines(start, score)
        self.options = Options(self.lines, prices, {"white": True, "black": False})
        self.final: list[Choice] = []
        self._start_fen = start.fen()
        self._leans = any(name.startswith("leaning.") for name in prices.table)
        self._score = tuple(score)
        self._numbers: dict[tuple[int, Signs, Leaning | None], int] = {}
        self._stretches: tuple[Stretch, ...] = ()
        self._presence: dict[int, float] = {}
        self._marks = [Mark(0, (State(self.lines.root, self.lines.root, None, (), 0.0),))]

    @property
    def decided(self) -> int:
        """Stretches that are decided for good."""
        return self._marks[0].stretch

    def go_on(self, speech: Speech, changed: int, settled: int, ended: bool = False) -> Reading:
        """The best reading of the talk so far.

        Args:
            speech: all that was heard so far.
            changed: the first stretch that is new or has changed since the last call.
            settled: stretches that no words to come can change.
            ended: whether nothing is to come, so that all is final.

        Raises:
            Rewritten: something changed that was decided for good.
        """
        speech, changed = self._signed(speech, changed)
        while self._marks and self._marks[-1].stretch > changed:
            self._marks.pop()
        if not self._marks:
            raise Rewritten
        beam = Beam(speech, self.options)
        for place in _breaks(speech, self._marks[-1].stretch, settled):
            before = self._marks[-1]
            states = beam.run(before.stretch, place, before.states)
            if states:
                self._marks.append(Mark(place, tuple(states)))
        last = self._marks[-1]
        total = len(speech.stretches)
        ends = list(last.states) if last.stretch >= total else beam.run(last.stretch, total, last.states)
        window = reading_of(speech, self.lines, ends or list(last.states), self.prices.sharpness)
        presence = dict(self._presence)
        for number, share in window.presence.items():
            presence[number] = max(presence.get(number, 0.0), share)
        reading = replace(window, choices=(*self.final, *window.choices), presence=presence)
        if ended:
            self.final += window.choices
        else:
            self._decide(window, presence)
        return reading

    def _signed(self, speech: Speech, changed: int) -> tuple[Speech, int]:
        """The speech with leanings and, with a score, signs of its order; and the first stretch that differs.

        A phrase whose signs or leaning have changed since the last call is another one to the search, with a number of
        its own. What is decided keeps those it was decided with.
        """
        signed = in_order(speech, self._start_fen, self._score, self.prices.table) if self._score else speech
        kept = min(self.decided, changed)
        fresh = [
            replace(stretch, spoken=tuple(self._numbered(spoken) for spoken in stretch.spoken))
            for stretch in (leant(signed.stretches[kept:], signed.tokens) if self._leans else signed.stretches[kept:])
        ]
        stretches = (*self._stretches[:kept], *fresh)
        first = next(
            (at for at in range(kept, min(changed, len(stretches))) if stretches[at] != self._stretches[at]), changed
        )
        self._stretches = stretches
        return replace(speech, stretches=stretches), first

    def _numbered(self, spoken: Spoken) -> Spoken:
        said = spoken.number, spoken.signs, spoken.leaning
        return replace(spoken, number=self._numbers.setdefault(said, len(self._numbers)))

    def _decide(self, window: Reading, presence: dict[int, float]) -> None:
        """Make final what all surviving hypotheses have in common, and forget their ways to it."""
        merged = self._merged()
        if merged is None:
            return
        place, state = merged
        passed = sum(decision.spoken is not None for _, decision in best_path(state))
        self.final += window.choices[:passed]
        self._presence = presence
        del self._marks[:place]
        for survivor in self._marks[0].states:
            survivor.arcs.clear()
        if self.options.known:
            moved = (
                (choice.decision.spoken.who, node.parent.board.turn)
                for choice in self.final
                if choice.decision.spoken is not None and choice.probability >= _SURE
                if choice.decision.group == "game"
                for node in choice.decision.nodes[:1]
                if node.parent is not None
            )
            # counts only for phrases that have not been priced yet, so no decision is looked at again
            self.options.cast = learn_cast(moved)

    def _merged(self) -> tuple[int, State] | None:
        """The latest mark at which the best ways to all survivors meet, and the state they meet in."""
        places = {id(state): place for place, mark in enumerate(self._marks) for state in mark.states}
        common: dict[int, State] | None = None
        for survivor in self._marks[-1].states:
            way: dict[int, State] = {}
            state = survivor
            while True:
                place = places.get(id(state))
                if place is not None:
                    way[place] = state
                    if common is not None and common.get(place) is state and place < len(self._marks) - 1:
                        # from here back the ways are the same
                        way.update({at: other for at, other in common.items() if at < place})
                        break
                if not state.arcs:
                    break
                state = state.arcs[0][0]
            common = way if common is None else {at: one for at, one in common.items() if way.get(at) is one}
        if not common:
            return None
        place = max(common)
        return (place, common[place]) if place else None


def _breaks(speech: Speech, first: int, last: int) -> list[int]:
    """Places after `first`, up to `last`, that no phrase spans: a search may stop there and lose nothing."""
    starts = [stretch.start for stretch in speech.stretches[: last + 1]]
    places = []
    reach = first
    for at in range(first, min(last, len(speech.stretches))):
        end = max(spoken.phrase.end for spoken in speech.stretches[at].spoken)
        reach = max(reach, bisect_left(starts, end), at + 1)
        if at + 1 == reach and (reach >= len(starts) or starts[reach] >= end):
            places.append(reach)
    return places

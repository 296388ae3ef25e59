"""What a phrase may be, where a hypothesis stands: the moves that fit, here and where the talk may go back to."""

from __future__ import annotations

from collections.abc import Mapping
from math import log
from typing import TYPE_CHECKING

import chess

from aligner.search.anchors import FARTHEST_IN_GAME, Anchor, Layer, Look, PlaceFinder, Recall
from aligner.search.lines import LineNode, Lines
from aligner.search.matching import Fit, PricedFit, stands_there
from aligner.search.onward import Extension, Onward, Step
from aligner.search.state import Decision, State
from aligner.speech.description import Terms
from aligner.speech.listen import Spoken

if TYPE_CHECKING:
    from aligner.prices.prices import Prices

_AMOUNTS = tuple(log(1 + back) for back in range(1, FARTHEST_IN_GAME + 1))
"""Of "far_steps", by plies back, from one on."""
_MOST_LOOKS = 16
"""Looks at a layer kept: a stretch has fewer phrases, and later ones are others."""
_NEXT, _AHEAD = 0, -1
"""Instead of plies back in the game: the move after the one looked back at, and a move that is still to come."""
_MOST_PAST = 256
"""Looks at the game's past kept."""
Past = tuple[LineNode, float, chess.Move | None, list[PricedFit]]
"""A position of the game, the amount of "far_steps" back to it, the move played there, what fits there."""


class Options(Onward):
    """Everything a phrase may be at a state.

    Args:
        lines: the nodes.
        prices: of the mode.
        cast: words that say who moves, with the side they stand for in this talk (True for White).
    """

    def __init__(self, lines: Lines, prices: Prices, cast: Mapping[str, bool] | None = None) -> None:
        super().__init__(lines, prices, cast)
        self._finder = PlaceFinder(prices, self.known)
        self._nones: dict[tuple[int, bool, bool | None, bool], Decision] = {}
        self._past: dict[tuple[int, int], tuple[float, list[Past]]] = {}
        self._agains: dict[int, tuple[Terms, float]] = {}

    def reprice(self, prices: Prices) -> None:
        """Take other prices; what fits where stays known."""
        super().reprice(prices)
        self._finder = PlaceFinder(prices, self.known)
        self._nones.clear()
        self._past.clear()
        self._agains.clear()

    def none(self, state: State, spoken: Spoken, passing: bool) -> Decision:
        """The phrase speaks of no move; or, passing, another phrase inside it may."""
        stands = None if passing else spoken.phrase.stands
        true = stands_there(state.cursor.board, stands) if stands is not None else None
        looking = state.focus is not None
        key = (spoken.number, passing, true, looking)
        decision = self._nones.get(key)
        if decision is None:
            terms: Terms = ()
            if passing:
                terms = (("pass", 1.0), (f"pass|form.{spoken.phrase.moves[0].form}", 1.0))
                decision = Decision("none", "pass", None, (), None, terms, (), self.prices.cost(terms))
            else:
                if true is not None:
                    terms = (("none.stands" if true else "none.stands_not", 1.0),)
                if looking:
                    terms = (*terms, ("none_on", 1.0))
                cost = self.prices.cost(terms) + self.tariff(spoken).bases["none"]
                decision = Decision("none", "none", spoken, (), None, terms, (), cost)
            self._nones[key] = decision
        return decision

    def in_game(self, state: State, spoken: Spoken, budget: float, wasted: bool = False) -> list[Step]:
        """Decisions that take the phrase for moves of the game, or for a sideline that leaves it where it goes on.

        They cost less than the budget (nats); each comes with where it leads. `wasted` says that the phrase breaks off
        a longer one whose rest nothing else can use.
        """
        found = Extension(self, state, spoken, budget, wasted)
        if spoken.phrase.fixed:
            self.named(found)
        elif found.budget >= self.tariff(spoken).in_game:
            self.game(found)
            if state.cursor is state.head:
                self.line(found)
        return found.steps

    def beside_game(self, state: State, spoken: Spoken, budget: float, wasted: bool = False) -> list[Step]:
        """Decisions that leave the game as far as it has come: moves of a sideline, and moves spoken of again.

        Arguments as in `in_game`. Branches far back in the game are left to `far`.
        """
        if spoken.phrase.fixed or budget < self.tariff(spoken).beside:
            return []
        found = Extension(self, state, spoken, budget, wasted)
        if state.cursor is not state.head:
            self.line(found)
        if len(spoken.phrase.moves) == 1:
            self._back(found)
            self._again(found)
        return found.steps

    def _back(self, found: Extension) -> None:
        """Branches from where the talk was before, and moves spoken of again."""
        cursor, head = found.state.cursor, found.state.head
        least = found.least
        before: list[Layer] = []
        for layer in self._finder.places(found.state):
            look = layer.looks.get(found.spoken.number)
            if look is None or look.budget < found.budget:
                if len(layer.looks) >= _MOST_LOOKS:
                    layer.looks.clear()
                look = layer.looks[found.spoken.number] = self._look(layer, found)
            for anchor, fits in look.anchors:
                node, kind, price = anchor.node, anchor.kind, anchor.price
                room = found.room(kind) - price
                if room < least or node is cursor or (before and any(node.number in o.branched for o in before)):
                    continue
                if kind == "part_way" and not self.known and head.follows(node):
                    continue  # of the game, though a sideline went through it too
                for move, fit, cost in fits:
                    if cost <= room and move != anchor.not_move:
                        new = self.lines.after(node, move)
                        if new.score_ply < 0:
                            found.add(kind, "branch", (new,), fit, cost + price, (new, head, None), anchor.terms)
            for recall, fit, cost in look.recalls:
                node = recall.node
                if not any(node.number in other.recalled for other in before):
                    found.add("again", "again", (node,), fit, cost + recall.price, (cursor, head, node), recall.terms)
            before.append(layer)

    def _look(self, layer: Layer, found: Extension) -> Look:
        """Where in a layer the phrase fits, as far as the budget goes."""
        spoken, least = found.spoken, found.least
        vague, wording = found.vague, self.wording(spoken)
        anchors: list[tuple[Anchor, list[PricedFit]]] = []
        recalls: list[tuple[Recall, Fit, float]] = []
        for kind, row in layer.anchors.items():
            room = found.room(kind) - least
            for anchor in row:
                if anchor.price > room:
                    break
                if anchor.near or not vague:
                    fits = anchor.node.fits.get(wording)
                    if fits is None:
                        fits = self.fits(anchor.node, spoken)
                    if fits:
                        anchors.append((anchor, fits))
        room = found.room("again") - least
        for recall in layer.recalls:
            if recall.price > room:
                break
            if recall.near or not vague:
                node = recall.node
                assert node.parent is not None
                recalls += [(recall, fit, c) for move, fit, c in self.fits(node.parent, spoken) if move == node.move]
        return Look(found.budget, anchors, recalls)

    def _again(self, found: Extension) -> None:
        """The phrase speaks of a move of the known score, told already or still to come; the cursor stays."""
        spoken = found.spoken
        room = found.room("again")
        if not self.known or found.vague or room + 2.0 < found.least:
            return
        cursor, head, focus = found.state.cursor, found.state.head, found.state.focus
        first = head.score_ply
        for ply, fit, cost in self.hits(spoken, max(first - FARTHEST_IN_GAME, 0), first + FARTHEST_IN_GAME):
            node = self.lines.score[ply + 1]
            if ply >= first:
                back = _AHEAD
            elif node is cursor:
                continue
            else:
                back = _NEXT if focus is not None and focus.score_ply == ply else first - ply
            terms, price = self._looks_back(back)
            if cost + price <= room:
                looked_at = focus if ply >= first else node
                found.add("again", "again", (node,), fit, cost + price, (cursor, head, looked_at), terms)

    def _looks_back(self, plies: int) -> tuple[Terms, float]:
        """What speaking of a move of the known score takes, so many plies back in the game, and its price."""
        known = self._agains.get(plies)
        if known is None:
            terms: Terms = (("again_game", 1.0), ("again_far", log(plies))) if plies > 0 else ()
            if plies <= 0:
                terms = (("again_ahead" if plies == _AHEAD else "again_next", 1.0),)
            known = self._agains[plies] = (terms, self.prices.cost(terms))
        return known

    def far(self, state: State, spoken: Spoken, budget: float, wasted: bool = False) -> list[Step]:
        """Decisions that take the phrase for a branch far back in the game; arguments as in `in_game`."""
        if budget <= self.tariff(spoken).far:
            return []
        found = Extension(self, state, spoken, budget, wasted)
        price = self.prices.table.get("far_steps", 0.0)
        most = found.room("far")
        head = state.head
        covered: list[Layer] | None = None
        for node, amount, not_move, fits in self._in_past(head, spoken, most - found.least):
            room = most - price * amount
            for move, fit, cost in fits:
                if cost > room or move == not_move:
                    continue
                if covered is None:
                    covered = [layer for layer in self._finder.places(state) if "part_way" not in layer.anchors]
                if node is not state.cursor and not any(node.number in layer.branched for layer in covered):
                    new = self.lines.after(node, move)
                    if new.score_ply < 0:
                        total, terms = cost + price * amount, (("far_steps", amount),)
                        found.add("far", "branch", (new,), fit, total, (new, head, None), terms)
        return found.steps

    def _in_past(self, head: LineNode, spoken: Spoken, room: float) -> list[Past]:
        """Where before the head of the game the phrase fits, for so many nats beside the least that a fit costs."""
        wording = self.wording(spoken)
        key = (wording, head.number)
        kept = self._past.get(key)
        if kept is not None and kept[0] >= room:
            return kept[1]
        price = self.prices.table.get("far_steps", 0.0)
        found: list[Past] = []
        last = head
        for node, amount in zip(head.ancestors(), _AMOUNTS, strict=False):
            if price * amount > room:
                break
            fits = node.fits.get(wording)
            if fits is None:
                fits = self.fits(node, spoken)
            if fits:
                found.append((node, amount, last.move, fits))
            last = node
        if len(self._past) >= _MOST_PAST:
            self._past.clear()
        self._past[key] = (room, found)
        return found

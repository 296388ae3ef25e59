"""What a phrase may be beside the game's next move: a move of a sideline, or one that was told before."""

from __future__ import annotations

from math import log
from typing import NamedTuple

import chess

from aligner.reconstruction.hypothesis import Hypothesis, Ply, Step, Telling
from aligner.reconstruction.places import Past, Places
from aligner.reconstruction.priced import NOTHING, PricedSteps, PricedTerms
from aligner.reconstruction.turning import Turning
from aligner.search.lines import LineNode
from aligner.search.matching import Fit
from aligner.search.tariff import Tariff
from aligner.speech.description import Terms
from aligner.speech.listen import Spoken

_FARTHEST = 80
"""Plies back along the game or a sideline at which an alternative is looked for."""
_FARTHEST_AGAIN = 40
"""Plies back along the game at which a move is spoken of again."""
_NEAR, _NEAR_IN_LINE = 1, 2
"""The same for a wording that says little: back along the game, and along a sideline."""
_FROM_GAME: Terms = (("from_game", 1.0),)
_AT_START: Terms = (("leave_start", 1.0),)
_OBVIOUS: Terms = (("gap_obvious", 1.0),)
_FAR = {"earlier": "earlier_steps", "leave_back": "leave_back_steps"}
"""Kinds of sidelines that begin farther back, with the term that the logarithm of the steps is priced by."""
_LOGARITHMS = (0.0, *(log(steps) for steps in range(1, _FARTHEST + 2)))
"""Of steps back, each worked out once."""
_AT_HEAD: PricedTerms = ((("leave_back_steps", 0.0),), 0.0)


class _Asked(NamedTuple):
    """A hypothesis asked what a phrase is in it.

    Attributes:
        head: the furthest position of its game.
        side: the end of the sideline being told, or None.
        spoken: the phrase.
        tariff: of the phrase.
        budget: nats that a step may cost that leaves the game as it is.
        found: steps so far.
    """

    head: LineNode
    side: LineNode | None
    spoken: Spoken
    tariff: Tariff
    budget: float
    found: list[Step]

    def room(self, kind: str, more: float) -> float:
        """Nats that are left for the fit of the phrase's moves and what they are worth."""
        return self.budget - self.tariff.bases[kind] - more


class Sidelines:
    """Sidelines and moves told again, for the hypotheses of one talk."""

    def __init__(self, priced: PricedSteps) -> None:
        self._priced = priced
        self._fits = priced.fits
        self._places = Places(priced.fits)
        self._turning = Turning(priced, self._places)
        table = priced.prices.table
        self._from_game = _FROM_GAME, priced.prices.cost(_FROM_GAME)
        self._at_start = _AT_START, priced.prices.cost(_AT_START)
        self._obvious = _OBVIOUS, priced.prices.cost(_OBVIOUS)
        self._per_step = {name: table.get(name, 0.0) for name in _FAR.values()}
        self._least_again = sum(min(table.get(name, 0.0), 0.0) for name in ("again_last", "again_game"))
        self._gain = -sum(min(price, 0.0) for name, price in table.items() if name.startswith("aside."))

    def forget(self) -> None:
        """Drop what was worked out for phrases so far."""
        self._places.forget()
        self._turning.forget()

    def steps(self, one: Hypothesis, spoken: Spoken, budget: float, beside: float) -> list[Step]:
        """Steps that cost no more than a budget.

        Args:
            budget: in nats.
            beside: the same for steps that leave the game as it is.
        """
        found: list[Step] = []
        if spoken.phrase.fixed:
            return found
        tariff = self._fits.tariff(spoken)
        alone = len(spoken.phrase.moves) == 1
        if alone and not tariff.vague:
            if one.side is not None:
                self._turning.promote(found, one, spoken, budget)
            self._turning.retract(found, one, spoken, budget)
            if one.plies is not None and one.plies.said is not None:
                self._corrected(found, one.head, one.plies, spoken, budget - tariff.bases["correct"])
        asked = _Asked(one.head, one.side, spoken, tariff, beside, found)
        if one.side is None:
            self._leave(asked, "leave", one.head, None, self._at_start if _before_all(one) else NOTHING)
            if alone:
                self._instead_of_game(asked)
        else:
            self._on(asked, one.side)
            if alone:
                self._instead_of_line(asked, one.side)
        if alone and beside - tariff.bases["again"] >= tariff.least + self._least_again:
            self._again(asked)
        return found

    def _leave(
        self, asked: _Asked, kind: str, node: LineNode, played: chess.Move | None, more: PricedTerms = NOTHING,
        unsaid: bool = False,
    ) -> None:  # fmt: skip
        """The sideline goes on, or begins, at a node with a move that is not the one played there.

        Args:
            more: what the step takes for granted besides.
            unsaid: whether nobody spoke the ply that leads to the node.
        """
        spoken, tariff = asked.spoken, asked.tariff
        room = asked.room(kind, more[1])
        further = len(spoken.phrase.moves) - 1
        most = room - tariff.chain + self._gain * further  # what good moves may yet gain
        if most + self._gain < tariff.least - tariff.chain:
            return
        group = "line" if kind == "line" else "branch"
        for nats, fit, first, worth in self._places.asides(node, spoken):
            if nats > most:
                return
            if first.move == played:
                continue
            chains = self._priced.chains(first, spoken, kind, () if unsaid else more[0])
            if not chains:
                continue
            added, (terms, price) = chains[0]
            terms = (*more[0], *terms, *worth)
            if further:
                nats += price
                for telling in added[1:]:
                    worth, price = self._fits.aside(telling.node)
                    terms, nats = (*terms, *worth), nats + price
                if nats > room:
                    continue
            end, base = added[-1].node, node
            if unsaid and node.parent is not None:
                added, base = (Telling(node), *added), node.parent
            step = self._priced.step(kind, group, spoken, fit, nats + more[1], asked.head, end, added, base, terms)
            asked.found.append(step)

    def _instead_of_game(self, asked: _Asked) -> None:
        """An alternative to one of the game's moves."""
        head = asked.head
        past = self._lately(head, asked, _NEAR)
        if past is not None and past.node is head.parent:
            self._leave(asked, "alternative", past.node, past.played, self._from_game)
            past = past.earlier
        self._farther(asked, "earlier", past, head.ply, None, self._from_game)

    def _lately(self, node: LineNode, asked: _Asked, plies: int) -> Past | None:
        """The latest position before a node at which the phrase fits, for a vague wording so many plies back."""
        if asked.tariff.vague:
            return self._places.lately(node, asked.spoken, plies)
        return self._places.past(node, asked.spoken)

    def _farther(
        self, asked: _Asked, kind: str, past: Past | None, ply: int, instead: LineNode | None, more: PricedTerms
    ) -> None:
        """The sideline begins farther back on the game, from a place on.

        Args:
            ply: from which the steps back are counted.
            instead: the position where the sideline before left the game, looked at already; None for none.
        """
        name, earliest = _FAR[kind], asked.head.ply - _FARTHEST
        per_step = self._per_step[name]
        room = asked.room(kind, more[1]) + self._gain
        while past is not None and past.node.ply >= earliest:
            far = _LOGARITHMS[ply - past.node.ply]
            if past.least + per_step * far <= room and past.node is not instead:
                back = ((name, far), *more[0]), per_step * far + more[1]
                self._leave(asked, kind, past.node, past.played, back)
            past = past.earlier

    def _corrected(self, found: list[Step], head: LineNode, last: Ply, spoken: Spoken, room: float) -> None:
        """The game's last move was misnamed in one detail, and is named again as it was."""
        before = head.parent
        if before is None or last.node is not head or last.spoken is None or last.said is None:
            return
        if room < self._fits.tariff(spoken).least:
            return
        fits = self._fits.fits(before, spoken)
        if not fits:
            return
        meant = [move for move, _, _ in self._fits.near(before, last.spoken)]
        words = max(spoken.phrase.start - last.spoken.phrase.end, 0)
        later: Terms = (("correct_later", log(1.0 + words)),)
        waited = self._priced.prices.cost(later)
        for move, fit, nats in fits:
            if nats + waited > room:
                return
            if move == head.move or move not in meant:
                continue
            end = self._fits.lines.after(before, move)
            added = (Telling(end, spoken, spoken.phrase.moves[0]),)
            step = self._priced.step("correct", "correct", spoken, fit, nats + waited, end, None, added, before, later)
            found.append(step)

    def _on(self, asked: _Asked, side: LineNode) -> None:
        """The next move of the sideline, after a ply that goes without saying or at once."""
        self._leave(asked, "line", side, None)
        gain = self._gain * len(asked.spoken.phrase.moves)
        if asked.room("line", self._obvious[1]) + gain < asked.tariff.least:
            return
        for between in self._fits.obvious(side):
            self._leave(asked, "line", between, None, self._obvious, unsaid=True)

    def _instead_of_line(self, asked: _Asked, side: LineNode) -> None:
        """An alternative to one of the sideline's moves, or a new sideline that leaves the game."""
        head, vague = asked.head, asked.tariff.vague
        farthest = _NEAR_IN_LINE if vague else _FARTHEST
        past = self._lately(side, asked, _NEAR_IN_LINE)
        fork: LineNode | None = None
        while past is not None:
            steps = side.ply - past.node.ply
            if steps > farthest or past.node is head:
                break
            if head.follows(past.node):
                fork = past.node  # where the sideline left the game: an alternative to both
            if steps == 1 and fork is None:
                self._leave(asked, "alternative", past.node, past.played)
            else:
                far = _LOGARITHMS[steps]
                back = (("earlier_steps", far),), self._per_step["earlier_steps"] * far
                self._leave(asked, "earlier", past.node, past.played, back)
            if fork is not None:
                break
            past = past.earlier
        if not vague:
            self._leave(asked, "leave_back", head, None, _AT_HEAD)
            past = self._places.past(head, asked.spoken)
            self._farther(asked, "leave_back", past, head.ply + 1, fork, NOTHING)

    def _again(self, asked: _Asked) -> None:
        """A move spoken of before: the last one of the line, or one of the game."""
        head, spoken = asked.head, asked.spoken
        cursor = head if asked.side is None else asked.side
        if cursor.parent is not None:
            for move, fit, nats in self._fits.fits(cursor.parent, spoken):
                if move == cursor.move:
                    self._add_again(asked, fit, nats, (("again_last", 1.0),))
                    return
        if asked.tariff.vague:
            return
        past = self._places.past(head, spoken)
        while past is not None and head.ply - past.node.ply <= _FARTHEST_AGAIN:
            if past.told is not None:
                _, fit, nats = past.told
                self._add_again(
                    asked, fit, nats, (("again_game", 1.0), ("again_far", _LOGARITHMS[head.ply - past.node.ply]))
                )
                return
            past = past.earlier

    def _add_again(self, asked: _Asked, fit: Fit, nats: float, more: Terms) -> None:
        nats += self._priced.prices.cost(more)
        if nats <= asked.room("again", 0.0):
            step = self._priced.step("again", "again", asked.spoken, fit, nats, asked.head, asked.side, more=more)
            asked.found.append(step)


def _before_all(one: Hypothesis) -> bool:
    """Whether no move of the game was told yet, but for those that an opening's name tells."""
    last = one.plies
    return one.head.ply == 0 or (last is not None and last.spoken is not None and last.said is None)

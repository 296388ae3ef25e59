"""What a phrase may be beside the game's next move: a move of a sideline, or one that was told before."""

from __future__ import annotations

from math import log

import chess

from aligner.reconstruction.hypothesis import Hypothesis, Ply, Step, Telling
from aligner.reconstruction.places import Places
from aligner.reconstruction.priced import PricedSteps
from aligner.reconstruction.turning import Turning
from aligner.search.lines import LineNode
from aligner.search.tariff import is_vague
from aligner.speech.description import Terms
from aligner.speech.listen import Spoken

_FARTHEST = 80
"""Plies back along the game or a sideline at which an alternative is looked for."""
_FARTHEST_AGAIN = 40
"""Plies back along the game at which a move is spoken of again."""
_NEAR, _NEAR_IN_LINE = 1, 2
"""The same for a wording that says little: back along the game, and along a sideline."""
_FROM_GAME: Terms = (("from_game", 1.0),)
_OBVIOUS: Terms = (("gap_obvious", 1.0),)


class Sidelines:
    """Sidelines and moves told again, for the hypotheses of one talk."""

    def __init__(self, priced: PricedSteps) -> None:
        self._priced = priced
        self._fits = priced.fits
        self._places = Places(priced.fits)
        self._turning = Turning(priced, self._places)
        table = priced.prices.table
        self._from_game = table.get("from_game", 0.0)
        self._per_step = {name: table.get(name, 0.0) for name in ("earlier_steps", "leave_back_steps")}
        self._obvious = table.get("gap_obvious", 0.0)
        self._gain = -sum(min(price, 0.0) for name, price in table.items() if name.startswith("aside."))

    def forget(self) -> None:
        """Drop what was worked out for phrases so far."""
        self._places.forget()
        self._turning.forget()

    def steps(self, one: Hypothesis, spoken: Spoken, budget: float) -> list[Step]:
        """Steps that cost no more than the budget (nats)."""
        found: list[Step] = []
        if spoken.phrase.fixed:
            return found
        most = budget
        budget += self._gain * len(spoken.phrase.moves)  # what good moves may yet gain
        head, side = one.head, one.side
        alone = len(spoken.phrase.moves) == 1
        clear = alone and not is_vague(spoken)
        if side is None:
            self._leave(found, "leave", head, None, 0.0, (), head, spoken, budget)
            if alone:
                self._instead_of_game(found, head, spoken, budget)
        else:
            self._on(found, head, side, spoken, budget)
            if alone:
                self._instead_of_line(found, head, side, spoken, budget)
            if clear:
                self._turning.promote(found, one, spoken, budget)
        if clear:
            self._turning.retract(found, one, spoken, budget)
            if one.plies is not None and one.plies.said is not None:
                self._corrected(found, head, one.plies, spoken, budget)
        if alone:
            again = self._again(head, side, spoken)
            if again is not None:
                found.append(again)
        return [step for step in found if step.cost <= most]

    def _leave(
        self, found: list[Step], kind: str, node: LineNode, played: chess.Move | None, cost: float, more: Terms,
        head: LineNode, spoken: Spoken, budget: float, unsaid: bool = False,
    ) -> None:  # fmt: skip
        """The sideline goes on, or begins, at a node with a move that is not the one played there.

        Args:
            cost: of `more`, in nats.
            unsaid: whether nobody spoke the ply that leads to the node.
        """
        group = "line" if kind == "line" else "branch"
        room = budget - self._fits.base(spoken, kind, group) - cost
        tariff = self._fits.tariff(spoken)
        if room < tariff.least:
            return
        room -= tariff.chain
        priced = self._priced
        for move, fit, nats in self._places.cheapest(node, spoken):
            if nats > room:
                return
            if move == played:
                continue
            own = () if unsaid else more
            chain = priced.chain(self._fits.lines.after(node, move), spoken, kind, own)
            if chain is not None:
                worth = (term for telling in chain[0] for term in self._fits.aside(telling.node)[0])
                terms = (*more, *chain[1], *worth)
                end, added, base = chain[0][-1].node, chain[0], node
                if unsaid and node.parent is not None:
                    added, base = (Telling(node), *added), node.parent
                found.append(priced.step(kind, group, spoken, fit, nats, head, end, added, base, terms))

    def _instead_of_game(self, found: list[Step], head: LineNode, spoken: Spoken, budget: float) -> None:
        """An alternative to one of the game's moves."""
        farthest = _NEAR if is_vague(spoken) else _FARTHEST
        past = self._places.past(head, spoken)
        if past is None:
            return
        room = budget - self._from_game - self._fits.base(spoken, "earlier", "branch")
        per_step = self._per_step["earlier_steps"]
        while past is not None:
            steps = head.ply - past.node.ply
            if steps > farthest:
                return
            if steps == 1:
                cost, terms = self._from_game, _FROM_GAME
                self._leave(found, "alternative", past.node, past.played, cost, terms, head, spoken, budget)
            else:
                far = log(steps)
                if past.least + per_step * far <= room:
                    cost, terms = per_step * far + self._from_game, (("earlier_steps", far), *_FROM_GAME)
                    self._leave(found, "earlier", past.node, past.played, cost, terms, head, spoken, budget)
            past = past.earlier

    def _corrected(self, found: list[Step], head: LineNode, last: Ply, spoken: Spoken, budget: float) -> None:
        """The game's last move was misnamed in one detail, and is named again as it was."""
        before = head.parent
        if before is None or last.node is not head or last.spoken is None or last.said is None:
            return
        room = budget - self._fits.base(spoken, "correct", "correct")
        if room < self._fits.tariff(spoken).least:
            return
        fits = self._fits.fits(before, spoken)
        if not fits:
            return
        meant = [move for move, _, _ in self._fits.near(before, last.spoken)]
        words = max(spoken.phrase.start - last.spoken.phrase.end, 0)
        later: Terms = (("correct_later", log(1.0 + words)),)
        for move, fit, cost in fits:
            if move == head.move or move not in meant:
                continue
            end = self._fits.lines.after(before, move)
            added = (Telling(end, spoken, spoken.phrase.moves[0]),)
            step = self._priced.step("correct", "correct", spoken, fit, cost, end, None, added, before, later)
            if step.cost <= budget:
                found.append(step)

    def _on(self, found: list[Step], head: LineNode, side: LineNode, spoken: Spoken, budget: float) -> None:
        """The next move of the sideline, after a ply that goes without saying or at once."""
        self._leave(found, "line", side, None, 0.0, (), head, spoken, budget)
        if budget - self._fits.base(spoken, "line", "line") - self._obvious < self._fits.tariff(spoken).least:
            return
        for between in self._fits.obvious(side):
            self._leave(found, "line", between, None, self._obvious, _OBVIOUS, head, spoken, budget, unsaid=True)

    def _instead_of_line(
        self, found: list[Step], head: LineNode, side: LineNode, spoken: Spoken, budget: float
    ) -> None:  # fmt: skip
        """An alternative to one of the sideline's moves, or a new sideline that leaves the game."""
        vague = is_vague(spoken)
        farthest = _NEAR_IN_LINE if vague else _FARTHEST
        past = self._places.past(side, spoken)
        room = budget - self._fits.base(spoken, "earlier", "branch")
        per_step = self._per_step["earlier_steps"]
        while past is not None:
            steps = side.ply - past.node.ply
            if steps > farthest or head.follows(past.node):
                break
            if steps == 1:
                self._leave(found, "alternative", past.node, past.played, 0.0, (), head, spoken, budget)
            else:
                far = log(steps)
                if past.least + per_step * far <= room:
                    terms = (("earlier_steps", far),)
                    self._leave(found, "earlier", past.node, past.played, per_step * far, terms, head, spoken, budget)
            past = past.earlier
        fork = past.node if past is not None and head.follows(past.node) else None
        if fork is not None and side.ply - fork.ply <= farthest and fork is not head:
            # where the sideline left the game: an alternative to both
            far = log(side.ply - fork.ply)
            assert past is not None
            terms = (("earlier_steps", far),)
            self._leave(found, "earlier", fork, past.played, per_step * far, terms, head, spoken, budget)
        if vague:
            return
        self._leave(found, "leave_back", head, None, 0.0, (("leave_back_steps", 0.0),), head, spoken, budget)
        past = self._places.past(head, spoken)
        room = budget - self._fits.base(spoken, "leave_back", "branch")
        per_step = self._per_step["leave_back_steps"]
        while past is not None and head.ply - past.node.ply <= _FARTHEST:
            if past.node is not fork:
                far = log(1.0 + head.ply - past.node.ply)
                if past.least + per_step * far <= room:
                    back = (("leave_back_steps", far),)
                    self._leave(found, "leave_back", past.node, past.played, per_step * far, back, head, spoken, budget)
            past = past.earlier

    def _again(self, head: LineNode, side: LineNode | None, spoken: Spoken) -> Step | None:
        """A move spoken of before: the last one of the line, or one of the game."""
        cursor = head if side is None else side
        if cursor.parent is not None:
            for move, fit, cost in self._fits.fits(cursor.parent, spoken):
                if move == cursor.move:
                    return self._priced.step(
                        "again", "again", spoken, fit, cost, head, side, more=(("again_last", 1.0),)
                    )
        if is_vague(spoken):
            return None
        past = self._places.past(head, spoken)
        while past is not None and head.ply - past.node.ply <= _FARTHEST_AGAIN:
            for move, fit, cost in self._fits.fits(past.node, spoken):
                if move == past.played:
                    terms: Terms = (("again_game", 1.0), ("again_far", log(head.ply - past.node.ply)))
                    return self._priced.step("again", "again", spoken, fit, cost, head, side, more=terms)
            past = past.earlier
        return None

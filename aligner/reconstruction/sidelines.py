"""What a phrase may be beside the game's next move: a move of a sideline, or one that was told before."""

from __future__ import annotations

from collections.abc import Iterator
from math import log

import chess

from aligner.reconstruction.hypothesis import Step
from aligner.reconstruction.priced import PricedSteps
from aligner.search.lines import LineNode
from aligner.search.tariff import is_vague
from aligner.speech.description import Terms
from aligner.speech.listen import Spoken

_FARTHEST_BACK = 5
"""Plies back along a sideline at which an alternative is looked for."""
_FARTHEST_LEFT = 3
"""Plies back along the game at which a sideline may leave it."""
_FARTHEST_AGAIN = 40
"""Plies back along the game at which a move is spoken of again."""


class Sidelines:
    """Sidelines and moves told again, for the hypotheses of one talk."""

    def __init__(self, priced: PricedSteps) -> None:
        self._priced = priced
        self._fits = priced.fits
        self._told: dict[tuple[int, int], int] = {}

    def steps(self, head: LineNode, side: LineNode | None, spoken: Spoken, budget: float) -> Iterator[Step]:
        """Steps that cost no more than the budget (nats).

        Args:
            head: the furthest position of the game.
            side: the end of the sideline being told; None in the game.
            spoken: the phrase.
            budget: in nats.
        """
        if spoken.phrase.fixed:
            return
        alone = len(spoken.phrase.moves) == 1
        if side is None:
            yield from self._leave("leave", head, None, (), head, spoken, budget)
            if alone:
                yield from self._instead_of_game(head, spoken, budget)
        else:
            yield from self._on(head, side, spoken, budget)
            if alone:
                yield from self._instead_of_line(head, side, spoken, budget)
                if not is_vague(spoken):
                    yield from self._promote(head, side, spoken, budget)
        if alone:
            again = self._again(head, side, spoken)
            if again is not None and again.cost <= budget:
                yield again

    def _leave(
        self, kind: str, node: LineNode, played: chess.Move | None, more: Terms, head: LineNode, spoken: Spoken,
        budget: float,
    ) -> Iterator[Step]:  # fmt: skip
        """The sideline goes on, or begins, at a node with a move that is not the one played there."""
        group = "line" if kind == "line" else "branch"
        priced = self._priced
        room = budget - self._fits.base(spoken, kind, group) - priced.prices.cost(more)
        tariff = self._fits.tariff(spoken)
        if room < tariff.least:
            return
        for move, fit, cost in self._fits.fits(node, spoken):
            if move == played or cost + tariff.chain > room:
                continue
            chain = priced.chain(self._fits.lines.after(node, move), spoken)
            if chain is not None:
                end = chain[0][-1][0]
                step = priced.step(kind, group, spoken, fit, cost, head, end, more=(*more, *chain[1]))
                if step.cost <= budget:
                    yield step

    def _instead_of_game(self, head: LineNode, spoken: Spoken, budget: float) -> Iterator[Step]:
        """An alternative to one of the game's last moves."""
        node, steps = head, 1
        while node.parent is not None and steps <= (1 if is_vague(spoken) else _FARTHEST_LEFT):
            terms: Terms = (("from_game", 1.0),) if steps == 1 else (("earlier_steps", log(steps)), ("from_game", 1.0))
            kind = "alternative" if steps == 1 else "earlier"
            yield from self._leave(kind, node.parent, node.move, terms, head, spoken, budget)
            node, steps = node.parent, steps + 1

    def _on(self, head: LineNode, side: LineNode, spoken: Spoken, budget: float) -> Iterator[Step]:
        """The next move of the sideline, after a ply that goes without saying or at once."""
        yield from self._leave("line", side, None, (), head, spoken, budget)
        for between in self._fits.obvious(side):
            yield from self._leave("line", between, None, (("gap_obvious", 1.0),), head, spoken, budget)

    def _instead_of_line(self, head: LineNode, side: LineNode, spoken: Spoken, budget: float) -> Iterator[Step]:
        """An alternative to one of the sideline's last moves, or a new sideline where this one left the game."""
        vague = is_vague(spoken)
        node, steps = side, 1
        while node.parent is not None and not head.follows(node) and steps <= (2 if vague else _FARTHEST_BACK):
            terms: Terms = () if steps == 1 else (("earlier_steps", log(steps)),)
            kind = "alternative" if steps == 1 else "earlier"
            yield from self._leave(kind, node.parent, node.move, terms, head, spoken, budget)
            node, steps = node.parent, steps + 1
        if not vague:
            back: Terms = (("leave_back_steps", 0.0),)
            yield from self._leave("leave_back", head, None, back, head, spoken, budget)
            if head.parent is not None:
                back = (("leave_back_steps", 1.0),)
                yield from self._leave("leave_back", head.parent, head.move, back, head, spoken, budget)

    def _promote(self, head: LineNode, side: LineNode, spoken: Spoken, budget: float) -> Iterator[Step]:
        """What seemed a sideline was the game, and this is its next move."""
        priced = self._priced
        room = budget - self._fits.base(spoken, "promote", "promote")
        if room < self._fits.tariff(spoken).least:
            return
        line = None
        for move, fit, cost in self._fits.fits(side, spoken):
            line = line or _between(side, head)
            if line is None or cost > room + 1.0:
                continue
            base, nodes = line
            end = self._fits.lines.after(side, move)
            added = (*((node, None, None) for node in nodes), (end, spoken, spoken.phrase.moves[0]))
            terms = priced.plausible(side, move)
            step = priced.step("promote", "promote", spoken, fit, cost, end, None, added, base, terms)
            if step.cost <= budget:
                yield step

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
        ply = self._last_told(head, spoken)
        if ply < 0 or head.ply - ply > _FARTHEST_AGAIN:
            return None
        node = head
        while node.ply > ply:
            node = node.parent or node
        assert node.parent is not None
        for move, fit, cost in self._fits.fits(node.parent, spoken):
            if move == node.move:
                terms: Terms = (("again_game", 1.0), ("again_far", log(1 + head.ply - ply)))
                return self._priced.step("again", "again", spoken, fit, cost, head, side, more=terms)
        return None

    def _last_told(self, head: LineNode, spoken: Spoken) -> int:
        """The latest ply of the game that the phrase describes; -1 where there is none."""
        number = spoken.number
        node: LineNode | None = head
        way: list[LineNode] = []
        found = -1
        while node is not None and node.parent is not None:
            known = self._told.get((node.number, number))
            if known is not None:
                found = known
                break
            if any(move == node.move for move, _, _ in self._fits.fits(node.parent, spoken)):
                found = self._told[node.number, number] = node.ply
                break
            way.append(node)
            node = node.parent
        for each in way:
            self._told[each.number, number] = found
        return found


def _between(side: LineNode, head: LineNode) -> tuple[LineNode, list[LineNode]] | None:
    """Where a sideline leaves the game, and its nodes from there on."""
    nodes = [side]
    node = side.parent
    while node is not None and not head.follows(node):
        nodes.append(node)
        node = node.parent
    return (node, nodes[::-1]) if node is not None else None

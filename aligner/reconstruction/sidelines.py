"""What a phrase may be beside the game's next move: a move of a sideline, or one that was told before."""

from __future__ import annotations

from collections.abc import Iterator
from math import log
from typing import NamedTuple

import chess

from aligner.reconstruction.hypothesis import Hypothesis, Ply, Step
from aligner.reconstruction.priced import PricedSteps
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


class Past(NamedTuple):
    """A position of a line at which a phrase fits.

    Attributes:
        node: the position.
        played: the move that the line took there.
        earlier: the next such position before it.
    """

    node: LineNode
    played: chess.Move
    earlier: Past | None


class Sidelines:
    """Sidelines and moves told again, for the hypotheses of one talk."""

    def __init__(self, priced: PricedSteps) -> None:
        self._priced = priced
        self._fits = priced.fits
        self._pasts: dict[tuple[int, int], Past | None] = {}

    def steps(self, one: Hypothesis, spoken: Spoken, budget: float) -> Iterator[Step]:
        """Steps that cost no more than the budget (nats)."""
        if spoken.phrase.fixed:
            return
        head, side = one.head, one.side
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
            if not is_vague(spoken):
                yield from self._retract(head, spoken, budget)
                if one.plies is not None and one.plies.said is not None:
                    yield from self._corrected(head, one.plies, spoken, budget)
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
        """An alternative to one of the game's moves."""
        farthest = _NEAR if is_vague(spoken) else _FARTHEST
        past = self._past(head, spoken)
        while past is not None and head.ply - past.node.ply <= farthest:
            steps = head.ply - past.node.ply
            terms: Terms = (("from_game", 1.0),) if steps == 1 else (("earlier_steps", log(steps)), ("from_game", 1.0))
            kind = "alternative" if steps == 1 else "earlier"
            yield from self._leave(kind, past.node, past.played, terms, head, spoken, budget)
            past = past.earlier

    def _corrected(self, head: LineNode, last: Ply, spoken: Spoken, budget: float) -> Iterator[Step]:
        """The game's last move was misnamed in one detail, and is named again as it was."""
        before = head.parent
        if before is None or last.node is not head or last.spoken is None or last.said is None:
            return
        room = budget - self._fits.base(spoken, "correct", "correct")
        if room < self._fits.tariff(spoken).least:
            return
        meant = [move for move, _, _ in self._fits.near(before, last.spoken)]
        words = max(spoken.phrase.start - last.spoken.phrase.end, 0)
        later: Terms = (("correct_later", log(1.0 + words)),)
        for move, fit, cost in self._fits.fits(before, spoken):
            if move == head.move or move not in meant:
                continue
            end = self._fits.lines.after(before, move)
            added = ((end, spoken, spoken.phrase.moves[0]),)
            step = self._priced.step("correct", "correct", spoken, fit, cost, end, None, added, before, later)
            if step.cost <= budget:
                yield step

    def _retract(self, head: LineNode, spoken: Spoken, budget: float) -> Iterator[Step]:
        """The game goes on from one of its earlier positions: what was told since was no part of it."""
        priced = self._priced
        room = budget - self._fits.base(spoken, "retract", "retract")
        if room < self._fits.tariff(spoken).least:
            return
        past = self._past(head, spoken)
        while past is not None and head.ply - past.node.ply <= _FARTHEST:
            back: Terms = (("retract_plies", log(head.ply - past.node.ply)),)
            for move, fit, cost in self._fits.fits(past.node, spoken):
                if move == past.played or cost > room + 1.0:
                    continue
                end = self._fits.lines.after(past.node, move)
                added = ((end, spoken, spoken.phrase.moves[0]),)
                terms = (*back, *priced.plausible(past.node, move))
                step = priced.step("retract", "retract", spoken, fit, cost, end, None, added, past.node, terms)
                if step.cost <= budget:
                    yield step
            past = past.earlier

    def _on(self, head: LineNode, side: LineNode, spoken: Spoken, budget: float) -> Iterator[Step]:
        """The next move of the sideline, after a ply that goes without saying or at once."""
        yield from self._leave("line", side, None, (), head, spoken, budget)
        for between in self._fits.obvious(side):
            yield from self._leave("line", between, None, (("gap_obvious", 1.0),), head, spoken, budget)

    def _instead_of_line(self, head: LineNode, side: LineNode, spoken: Spoken, budget: float) -> Iterator[Step]:
        """An alternative to one of the sideline's moves, or a new sideline that leaves the game."""
        vague = is_vague(spoken)
        farthest = _NEAR_IN_LINE if vague else _FARTHEST
        past = self._past(side, spoken)
        while past is not None and side.ply - past.node.ply <= farthest and not head.follows(past.node):
            steps = side.ply - past.node.ply
            terms: Terms = () if steps == 1 else (("earlier_steps", log(steps)),)
            kind = "alternative" if steps == 1 else "earlier"
            yield from self._leave(kind, past.node, past.played, terms, head, spoken, budget)
            past = past.earlier
        fork = past.node if past is not None and head.follows(past.node) else None
        if fork is not None and side.ply - fork.ply <= farthest and fork is not head:
            # where the sideline left the game: an alternative to both
            back: Terms = (("earlier_steps", log(side.ply - fork.ply)),)
            assert past is not None
            yield from self._leave("earlier", fork, past.played, back, head, spoken, budget)
        if not vague:
            yield from self._leave("leave_back", head, None, (("leave_back_steps", 0.0),), head, spoken, budget)
            past = self._past(head, spoken)
            while past is not None and head.ply - past.node.ply <= _FARTHEST:
                if past.node is not fork:
                    back = (("leave_back_steps", log(1.0 + head.ply - past.node.ply)),)
                    yield from self._leave("leave_back", past.node, past.played, back, head, spoken, budget)
                past = past.earlier

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
        past = self._past(head, spoken)
        while past is not None and head.ply - past.node.ply <= _FARTHEST_AGAIN:
            for move, fit, cost in self._fits.fits(past.node, spoken):
                if move == past.played:
                    terms: Terms = (("again_game", 1.0), ("again_far", log(head.ply - past.node.ply)))
                    return self._priced.step("again", "again", spoken, fit, cost, head, side, more=terms)
            past = past.earlier
        return None

    def _past(self, node: LineNode, spoken: Spoken) -> Past | None:
        """The latest position before a node at which the phrase fits; positions that lines share are looked at once."""
        wording = self._fits.wording(spoken)
        way: list[LineNode] = []
        at: LineNode | None = node
        past: Past | None = None
        while at is not None and at.parent is not None:
            key = (at.number, wording)
            if key in self._pasts:
                past = self._pasts[key]
                break
            way.append(at)
            at = at.parent
        for each in reversed(way):
            assert each.parent is not None and each.move is not None
            if self._fits.fits(each.parent, spoken):
                past = Past(each.parent, each.move, past)
            self._pasts[each.number, wording] = past
        return past


def _between(side: LineNode, head: LineNode) -> tuple[LineNode, list[LineNode]] | None:
    """Where a sideline leaves the game, and its nodes from there on."""
    nodes = [side]
    node = side.parent
    while node is not None and not head.follows(node):
        nodes.append(node)
        node = node.parent
    return (node, nodes[::-1]) if node is not None else None

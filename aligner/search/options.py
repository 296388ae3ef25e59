"""What a phrase may be, where a hypothesis stands: the moves that fit, here and where the talk may go back to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import inf, log
from typing import TYPE_CHECKING

import chess

from aligner.search.anchors import FARTHEST_IN_GAME, PlaceFinder, Places
from aligner.search.fits import Fits
from aligner.search.lines import LineNode, Lines
from aligner.search.matching import Fit, PricedFit, stands_there
from aligner.search.state import Decision, State
from aligner.speech.description import Terms
from aligner.speech.listen import Spoken

if TYPE_CHECKING:
    from aligner.prices.prices import Prices

_FARTHEST_SKIP = 40
"""Plies of the game passed over at once; beyond it a talk has another subject."""
_INSISTENT = frozenset({"piece_to", "piece_square", "symbols", "piece_takes_square", "file_takes_square"})
"""Wordings so plain that a ply may have gone unspoken where they can't be played."""
_GUESSES = 12
"""Unspoken plies tried there, likeliest first."""
_AHEAD = 4
"""Plies of the game that may go unspoken before a sideline leaves it."""
Where = tuple[LineNode, LineNode, LineNode | None]
"""New cursor, head and focus."""

Step = tuple[Decision, Where]

Fitting = Sequence[tuple[int, list[PricedFit]]]
"""Nodes, by number, where a phrase fits, each with its fits."""

_VAGUE = frozenset({"piece_moves", "moves", "check", "pushes", "piece_checks", "takes", "retakes", "piece_on"})
"""Wordings too vague to find a branch by, far from the cursor."""


class Options(Fits):
    """Everything a phrase may be at a state.

    Args:
        lines: the nodes.
        prices: of the mode.
        cast: words that say who moves, with the side they stand for in this talk (True for White).
    """

    def __init__(self, lines: Lines, prices: Prices, cast: Mapping[str, bool] | None = None) -> None:
        super().__init__(lines, prices, cast)
        self._budget = 0.0
        self._waste: Terms = ()
        self._finder = PlaceFinder(prices, self.known)

    def reprice(self, prices: Prices) -> None:
        """Take other prices; what fits where stays known."""
        super().reprice(prices)
        self._finder = PlaceFinder(prices, self.known)

    def none(self, state: State, spoken: Spoken, passing: bool) -> Decision:
        """The phrase speaks of no move; or, passing, another phrase inside it may."""
        if passing:
            terms: Terms = (("pass", 1.0), (f"pass|form.{spoken.phrase.moves[0].form}", 1.0))
            return Decision("none", "pass", None, (), None, terms, (), self.prices.cost(terms))
        terms = ()
        stands = spoken.phrase.stands
        if stands is not None:
            terms = (("none.stands" if stands_there(state.cursor.board, stands) else "none.stands_not", 1.0),)
        cost = self.prices.cost(terms) + self.base(spoken, "none", "none")
        return Decision("none", "none", spoken, (), None, terms, (), cost)

    def moves(
        self, state: State, spoken: Spoken, fitting: Fitting, budget: float, wasted: bool = False
    ) -> Iterator[Step]:
        """Decisions that take the phrase for moves and cost less than the budget (nats), each with where it leads.

        `fitting` tells where the phrase fits, of the nodes that this state or others may go back to. `wasted` says that
        the phrase breaks off a longer one whose rest nothing else can use. Branches far back in the game are `far`'s.
        """
        self._allow(budget, wasted)
        if spoken.phrase.fixed:
            yield from self._named(state, spoken)
            return
        yield from self._game(state, spoken)
        yield from self._line(state, spoken)
        if len(spoken.phrase.moves) == 1:
            yield from self._back(state, spoken, fitting)
            yield from self._again(state, spoken)

    def far(
        self, state: State, spoken: Spoken, budget: float, wasted: bool = False, fresh: float = inf
    ) -> Iterator[Step]:
        """Decisions that take the phrase for a branch far back in the game, as `moves` does.

        `fresh` is the budget (nats) for branches that no hypothesis went yet.
        """
        self._allow(budget, wasted)
        if len(spoken.phrase.moves) > 1 or spoken.phrase.fixed or not _specific(spoken):
            return
        price = self.prices.table.get("far_steps", 0.0)
        base = self.base(spoken, "far", "branch")
        most = self._budget - base
        late = min(fresh - budget, 0.0)
        least = self.least(spoken)
        head = state.head
        where: Places | None = None
        last = head
        for node in head.ancestors():
            back = head.ply - node.ply
            amount = log(1 + back)
            room = most - price * amount
            if back > FARTHEST_IN_GAME or least > room:
                break
            fits = self.fits(node, spoken)
            if fits:
                where = where or self.places(state)
                anchor = where.anchor(node.number)
                if node is not state.cursor and (anchor is None or anchor.kind == "part_way"):
                    for move, fit, cost in fits:
                        if cost > room or move == last.move or (cost > room + late and not node.has(move)):
                            continue
                        new = self.lines.after(node, move)
                        if new.score_ply < 0:
                            total, more = cost + price * amount, (("far_steps", amount),)
                            yield from self._step(
                                "far", "branch", spoken, (new,), fit, total, (new, head, None), more
                            )  # fmt: skip
            last = node

    def _allow(self, budget: float, wasted: bool) -> None:
        self._waste = (("wasted", 1.0),) if wasted else ()
        self._budget = budget - self.prices.cost(self._waste)

    def _step(
        self, kind: str, group: str, spoken: Spoken, nodes: tuple[LineNode, ...], fit: Fit, cost: float, where: Where,
        more: Terms = (), passed: tuple[LineNode, ...] = (),
    ) -> Iterator[Step]:  # fmt: skip
        """The decision, if the budget allows it. `cost` is that of the fit and of `more`."""
        total = cost + self.base(spoken, kind, group)
        if fit.slips:
            total += self.prices.table.get(f"slip_in.{group}", 0.0)
        if total <= self._budget:
            more = (*more, *self._waste)
            yield Decision(kind, group, spoken, nodes, fit, more, passed, total + self.prices.cost(self._waste)), where

    def _named(self, state: State, spoken: Spoken) -> Iterator[Step]:
        """An opening's name: all its moves that the game has not reached yet."""
        path = self.opening(spoken.phrase.fixed)
        head = state.head
        if (
            state.cursor is not head
            or not path
            or head.ply >= len(path)
            or (head.ply and path[head.ply - 1] is not head)
        ):
            return
        if self.known and path[-1].score_ply < 0:
            return
        rest = path[head.ply :]
        fit = Fit(rest[0].move or chess.Move.null(), (("opening", 1.0), ("opening_plies", float(len(rest)))))
        name = "game" if self.known else "open"
        yield from self._step(name, "game", spoken, rest, fit, self.prices.cost(fit.terms), (rest[-1], rest[-1], None))

    def _game(self, state: State, spoken: Spoken) -> Iterator[Step]:
        here = state.cursor is state.head
        kind = "game" if here else "return"
        head = state.head
        if self.known:
            first = head.score_ply
            room = self._budget - self.base(spoken, kind, kind)
            for ply, fit, cost in self.hits(spoken):
                if first <= ply <= first + _FARTHEST_SKIP:
                    terms, price = self.skip(first, ply)
                    if cost + price > room:
                        continue
                    node = self.lines.score[ply + 1]
                    chain = self.chain(node, spoken)
                    if chain is None or chain[0][-1].score_ply < 0:
                        continue
                    passed = tuple(self.lines.score[first + 1 : ply + 1])
                    total = cost + price + self.prices.cost(chain[1])
                    where = (chain[0][-1], chain[0][-1], None)
                    yield from self._step(kind, kind, spoken, chain[0], fit, total, where, (*terms, *chain[1]), passed)
            if len(spoken.phrase.moves) == 1:
                for ply in range(first, min(first + 2, len(self.lines.score_moves))):
                    near = self.near_hit(spoken, ply)
                    if near is not None:
                        fit, cost = near
                        terms, price = self.skip(first, ply)
                        if cost + price > room:
                            continue
                        node = self.lines.score[ply + 1]
                        passed = tuple(self.lines.score[first + 1 : ply + 1])
                        yield from self._step(
                            kind, kind, spoken, (node,), fit, cost + price, (node, node, None), terms, passed
                        )
            return
        room = self._budget - self.base(spoken, "open" if here else "return", kind)
        for before, more, passed in (*self._unspoken(head, spoken), *self._guessed(head, spoken)):
            extra = self.prices.cost(more)
            for move, fit, cost in self.fits(before, spoken) if extra <= room + 2.0 else ():
                if cost + extra > room:
                    continue
                chain = self.chain(self.lines.after(before, move), spoken)
                if chain is not None:
                    price = cost + self.prices.cost(more) + self.prices.cost(chain[1])
                    end = chain[0][-1]
                    name = "open" if here else "return"
                    yield from self._step(
                        name, kind, spoken, chain[0], fit, price, (end, end, None), (*more, *chain[1]), passed
                    )
        if not here:
            for move, fit, cost in self.fits(state.cursor, spoken):
                if _specific(spoken) and cost + self.base(spoken, "promote", "game") <= self._budget:
                    node = self.lines.after(state.cursor, move)
                    yield from self._step("promote", "game", spoken, (node,), fit, cost, (node, node, None))
        if here and head.parent is not None and _specific(spoken):
            room = self._budget - self.base(spoken, "replace", "game")
            for move, fit, cost in self.fits(head.parent, spoken) if room > 0 else ():
                if move != head.move and cost <= room:
                    node = self.lines.after(head.parent, move)
                    yield from self._step("replace", "game", spoken, (node,), fit, cost, (node, node, None))
        slip = self.least_slip + self.prices.table.get("slip_in.game", 0.0) + self.base(spoken, "open", "game")
        for move, fit, cost in self.near(head, spoken) if here and slip <= self._budget and _specific(spoken) else ():
            node = self.lines.after(head, move)
            yield from self._step("open", kind, spoken, (node,), fit, cost, (node, node, None))

    def _unspoken(self, node: LineNode, spoken: Spoken) -> Iterator[tuple[LineNode, Terms, tuple[LineNode, ...]]]:
        """The node itself, and nodes after a ply that goes without saying: a recapture, an only move."""
        yield node, (), ()
        for between in self.obvious(node):
            yield between, (("skip_obvious", 1.0),), (between,)

    def _guessed(self, node: LineNode, spoken: Spoken) -> Iterator[tuple[LineNode, Terms, tuple[LineNode, ...]]]:
        """Nodes after the likeliest plies, where the phrase names a move plainly that can't be played yet."""
        said = spoken.phrase.moves[0]
        plain = said.form in _INSISTENT and said.target is not None
        if not plain or spoken.inside or self.fits(node, spoken):
            return
        room = self._budget - self.prices.table.get("skip_any", 0.0) + 3.0
        if room <= 0.0:
            return
        for between, cost in self.likely(node)[:_GUESSES]:
            yield between, (("skip_any", 1.0), ("skip_cost", cost)), (between,)

    def _ahead(self, head: LineNode) -> Iterator[tuple[LineNode, Terms, tuple[LineNode, ...]]]:
        """The head of a known game, and the positions after its next plies if nobody speaks them."""
        first = head.score_ply
        for ply in range(first, min(first + _AHEAD, len(self.lines.score_moves)) + 1):
            yield self.lines.score[ply], self.skip(first, ply)[0], tuple(self.lines.score[first + 1 : ply + 1])

    def _line(self, state: State, spoken: Spoken) -> Iterator[Step]:
        """On from the cursor in a sideline; from the head of the game it leaves the game."""
        cursor, here = state.cursor, state.cursor is state.head
        kind, group = ("leave", "branch") if here else ("line", "line")
        room = self._budget - self.base(spoken, kind, group)
        for before, more, passed in self._ahead(cursor) if here and self.known else self._unspoken(cursor, spoken):
            price = self.prices.cost(more)
            for move, fit, cost in self.fits(before, spoken) if price <= room else ():
                if cost + price > room:
                    continue
                node = self.lines.after(before, move)
                if node.score_ply >= 0:
                    continue
                chain = self.chain(node, spoken)
                if chain is not None:
                    price = cost + self.prices.cost(more) + self.prices.cost(chain[1])
                    where = (chain[0][-1], before if here else state.head, None)
                    yield from self._step(kind, group, spoken, chain[0], fit, price, where, (*more, *chain[1]), passed)
        if not here and _specific(spoken) and self.least_slip + self.prices.table.get("slip_in.line", 0.0) <= room:
            for move, fit, cost in self.near(cursor, spoken):
                node = self.lines.after(cursor, move)
                if node.score_ply < 0:
                    yield from self._step(kind, group, spoken, (node,), fit, cost, (node, state.head, None))

    def places(self, state: State) -> Places:
        """Where the state may go back to."""
        return self._finder.places(state)

    def fitting(self, spoken: Spoken, nodes: Mapping[int, LineNode]) -> list[tuple[int, list[PricedFit]]]:
        """Those of the nodes where the phrase fits, by number, each with its fits."""
        if len(spoken.phrase.moves) > 1 or spoken.phrase.fixed:
            return []
        wording = self.wording(spoken)
        found = []
        for key, node in nodes.items():
            fits = node.fits.get(wording)
            if fits is None:
                fits = self.fits(node, spoken)
            if fits:
                found.append((key, fits))
        return found

    def _back(self, state: State, spoken: Spoken, fitting: Fitting) -> Iterator[Step]:
        """Branches from where the talk was before, and moves spoken of again."""
        where = self.places(state)
        vague = not _specific(spoken)
        cursor, head = state.cursor, state.head
        again = self._budget - self.base(spoken, "again", "again")
        for number, fits in fitting:
            anchor = where.anchor(number)
            if anchor is not None and (anchor.near or not vague):
                if anchor.kind == "part_way" and not self.known and head.follows(anchor.node):
                    continue  # of the game, though a sideline went through it too
                room = self._budget - anchor.price - self.base(spoken, anchor.kind, "branch")
                for move, fit, cost in fits:
                    if cost > room or move == anchor.not_move:
                        continue
                    new = self.lines.after(anchor.node, move)
                    if new.score_ply >= 0:
                        continue
                    yield from self._step(
                        anchor.kind, "branch", spoken, (new,), fit, cost + anchor.price, (new, head, None), anchor.terms
                    )
            for recall in where.recalls(number):
                if vague and not recall.near:
                    continue
                for move, fit, cost in fits:
                    if move == recall.node.move and cost + recall.price <= again:
                        where_to = (cursor, head, recall.node)
                        yield from self._step(
                            "again", "again", spoken, (recall.node,), fit, cost + recall.price, where_to, recall.terms
                        )

    def _again(self, state: State, spoken: Spoken) -> Iterator[Step]:
        """The phrase speaks of a move of the known score, told already or still to come; the cursor stays."""
        if not self.known or not _specific(spoken) or self.base(spoken, "again", "again") > self._budget + 2.0:
            return
        cursor, head, focus = state.cursor, state.head, state.focus
        for ply, fit, cost in self.hits(spoken):
            node = self.lines.score[ply + 1]
            if ply >= head.score_ply:
                terms: Terms = (("again_ahead", 1.0),)
            elif node is cursor:
                continue
            elif focus is not None and focus.score_ply == ply:
                terms = (("again_next", 1.0),)
            else:
                terms = (("again_game", 1.0), ("again_far", log(head.score_ply - ply)))
            looked_at = focus if ply >= head.score_ply else node
            yield from self._step(
                "again", "again", spoken, (node,), fit, cost + self.prices.cost(terms), (cursor, head, looked_at), terms
            )


def is_vague(spoken: Spoken) -> bool:
    """Whether a phrase says too little to find a move by, away from the cursor."""
    return not _specific(spoken)


def _specific(spoken: Spoken) -> bool:
    return spoken.phrase.moves[0].form not in _VAGUE

"""What a phrase may be, where a hypothesis goes on: the game's next moves, and those of the line under discussion."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import log
from typing import TYPE_CHECKING

import chess

from aligner.search.fits import Fits
from aligner.search.lines import LineNode, Lines
from aligner.search.matching import Fit
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
_MOST_KEPT = 256
"""Looks at the game kept: hypotheses that stand at the same place of the game share them."""
_WASTED: Terms = (("wasted", 1.0),)
_ASIDE = frozenset({"line", "branch"})
"""Groups of decisions for moves of a sideline."""

Where = tuple[LineNode, LineNode, LineNode | None]
"""New cursor, head and focus."""
Step = tuple[Decision, Where]


class Extension:
    """The steps from one state by one phrase, as far as a budget goes.

    Args:
        fits: prices them.
        state: where they begin.
        spoken: the phrase.
        budget: nats that a step may cost.
        wasted: whether the phrase breaks off a longer one whose rest nothing else can use.

    Attributes:
        budget: nats that a step may cost, but for what is wasted.
        chain: nats that the phrase's further moves cost at least, 0 or less.
        least: nats that the fit of the moves costs at least.
        slip: nats that a misnamed move costs at least.
        vague: whether the phrase says too little to find a move by, away from the cursor.
        steps: found so far.
    """

    __slots__ = (
        "_bases", "_fits", "_needs", "_waste", "budget", "chain", "least", "slip", "spoken", "state", "steps",
        "vague", "wasted",
    )  # fmt: skip

    def __init__(self, fits: Fits, state: State, spoken: Spoken, budget: float, wasted: bool) -> None:
        tariff = fits.tariff(spoken)
        self._fits = fits
        self._bases = tariff.bases
        self._needs = tariff.needs
        self.state = state
        self.spoken = spoken
        self.wasted = wasted
        self._waste = fits.prices.cost(_WASTED) if wasted else 0.0
        self.budget = budget - self._waste
        self.chain = tariff.chain
        self.least = tariff.least
        self.slip = tariff.slip
        self.vague = tariff.vague
        self.steps: list[Step] = []

    def room(self, kind: str) -> float:
        """Nats that a decision of a kind leaves for the move."""
        room = self.budget - self._needs[kind]
        if kind == "again" and self.state.focus is not None:
            room -= min(self._fits.prices.table.get("again_on", 0.0), 0.0)
        return room

    def add(
        self, kind: str, group: str, nodes: tuple[LineNode, ...], fit: Fit, cost: float, where: Where,
        more: Terms = (), passed: tuple[LineNode, ...] = (),
    ) -> None:  # fmt: skip
        """Add a step if the budget allows it. `cost` is that of the fit and of `more`."""
        total = cost + self._bases[kind]
        if fit.slips:
            total += self._fits.prices.table.get(f"slip_in.{group}", 0.0)
        if group in _ASIDE:
            if total + self._needs[kind] - self._bases[kind] > self.budget:
                return
            if len(nodes) == 1 and self._fits.too_dear(nodes[0], self.budget - total):
                return
            for node in nodes:
                worth, price = self._fits.aside(node)
                more = (*more, *worth)
                total += price
        elif group == "again" and self.state.focus is not None:
            more = (*more, ("again_on", 1.0))
            total += self._fits.prices.table.get("again_on", 0.0)
        if total <= self.budget:
            terms = (*more, *_WASTED) if self.wasted else more
            total += self._waste
            self.steps.append((Decision(kind, group, self.spoken, nodes, fit, terms, passed, total), where))

    def add_again(self, steps: list[Step]) -> None:
        """Add those of the steps of another state that this one's budget allows."""
        budget = self.budget + self._waste
        self.steps += [step for step in steps if step[0].cost <= budget]


class Onward(Fits):
    """The steps that go on: in the game, or in the line under discussion.

    Args:
        lines: the nodes.
        prices: of the mode.
        cast: words that say who moves, with the side they stand for in this talk (True for White).
    """

    def __init__(self, lines: Lines, prices: Prices, cast: Mapping[str, bool] | None = None) -> None:
        super().__init__(lines, prices, cast)
        self._in_game: dict[tuple[int, int, bool, bool], tuple[float, list[Step]]] = {}

    def reprice(self, prices: Prices) -> None:
        """Take other prices; what fits where stays known."""
        super().reprice(prices)
        self._in_game.clear()

    def named(self, found: Extension) -> None:
        """An opening's name: all its moves that the game has not reached yet."""
        head = found.state.head
        rest = self.openings.rest(head, found.spoken.phrase.fixed) if found.state.cursor is head else ()
        if not rest:
            return
        fit = Fit(rest[0].move or chess.Move.null(), (("opening", 1.0), ("opening_plies", float(len(rest)))))
        kind = "game" if self.known else "open"
        found.add(kind, "game", rest, fit, self.prices.cost(fit.terms), (rest[-1], rest[-1], None))

    def game(self, found: Extension) -> None:
        """On in the game, or back to it from a sideline."""
        state = found.state
        if not self.known:
            self._unwritten(found)
            return
        here = state.cursor is state.head
        key = (found.spoken.number, state.head.number, here, found.wasted)
        kept = self._in_game.get(key)
        if kept is not None and kept[0] >= found.budget:
            found.add_again(kept[1])
            return
        before = len(found.steps)
        self._written(found, "game" if here else "return")
        if len(self._in_game) >= _MOST_KEPT:
            self._in_game.clear()
        self._in_game[key] = (found.budget, found.steps[before:])

    def _written(self, found: Extension, kind: str) -> None:
        """On in a game whose score is known, also past plies that nobody spoke."""
        spoken, score = found.spoken, self.lines.score
        first = found.state.head.score_ply
        room = found.room(kind)
        if room < found.least:
            return
        for ply, fit, cost in self.hits(spoken, first, first + _FARTHEST_SKIP):
            terms, price = self.skip(first, ply)
            if cost + price + found.chain > room:
                continue
            chain = self.chain(score[ply + 1], spoken)
            if chain is None or chain[0][-1].score_ply < 0:
                continue
            end = chain[0][-1]
            total = cost + price + self.prices.cost(chain[1])
            passed = tuple(score[first + 1 : ply + 1])
            found.add(kind, kind, chain[0], fit, total, (end, end, None), (*terms, *chain[1]), passed)
        if len(spoken.phrase.moves) > 1:
            return
        slip = self._slip_in(kind)
        for ply in range(first, min(first + 2, len(self.lines.score_moves))):
            near = self.near_hit(spoken, ply)
            if near is not None:
                fit, cost = near
                terms, price = self.skip(first, ply)
                if cost + price + slip <= room:
                    node = score[ply + 1]
                    passed = tuple(score[first + 1 : ply + 1])
                    found.add(kind, kind, (node,), fit, cost + price, (node, node, None), terms, passed)

    def _slip_in(self, group: str) -> float:
        """Nats that a misnamed move in a group of decisions costs besides, where that makes it cheaper."""
        return min(self.prices.table.get(f"slip_in.{group}", 0.0), 0.0)

    def _unwritten(self, found: Extension) -> None:
        """On in a game that is known only as far as it was told."""
        state, spoken, head = found.state, found.spoken, found.state.head
        here = state.cursor is head
        name, kind = ("open", "game") if here else ("return", "return")
        room = found.room(name)
        for before, more, passed in (*self._unspoken(head), *self._guessed(head, found)):
            extra = self.prices.cost(more)
            for move, fit, cost in self.fits(before, spoken) if extra <= room + 2.0 else ():
                if cost + extra + found.chain > room:
                    continue
                chain = self.chain(self.lines.after(before, move), spoken)
                if chain is not None:
                    price = cost + extra + self.prices.cost(chain[1])
                    end = chain[0][-1]
                    found.add(name, kind, chain[0], fit, price, (end, end, None), (*more, *chain[1]), passed)
        if found.vague:
            return
        if not here:
            room = found.room("promote")
            for move, fit, cost in self.fits(state.cursor, spoken):
                if cost <= room:
                    node = self.lines.after(state.cursor, move)
                    found.add("promote", "game", (node,), fit, cost, (node, node, None))
            return
        if head.parent is not None:
            room = found.room("replace")
            for move, fit, cost in self.fits(head.parent, spoken) if room > 0 else ():
                if move != head.move and cost <= room:
                    node = self.lines.after(head.parent, move)
                    found.add("replace", "game", (node,), fit, cost, (node, node, None))
        if found.slip + self.prices.table.get("slip_in.game", 0.0) <= found.room("open"):
            for move, fit, cost in self.near(head, spoken):
                node = self.lines.after(head, move)
                found.add("open", kind, (node,), fit, cost, (node, node, None))

    def _unspoken(self, node: LineNode) -> Iterator[tuple[LineNode, Terms, tuple[LineNode, ...]]]:
        """The node itself, and nodes after a ply that goes without saying: a recapture, an only move."""
        yield node, (), ()
        for between in self.obvious(node):
            yield between, (("skip_obvious", 1.0),), (between,)

    def _guessed(self, node: LineNode, found: Extension) -> Iterator[tuple[LineNode, Terms, tuple[LineNode, ...]]]:
        """Nodes after the likeliest plies, where the phrase names a move plainly that can't be played yet."""
        spoken = found.spoken
        said = spoken.phrase.moves[0]
        plain = said.form in _INSISTENT and said.target is not None
        if not plain or spoken.inside or self.fits(node, spoken):
            return
        if found.budget - self.prices.table.get("skip_any", 0.0) + 3.0 <= 0.0:
            return
        for between, cost in self.likely(node)[:_GUESSES]:
            yield between, (("skip_any", 1.0), ("skip_cost", cost)), (between,)

    def _ahead(self, head: LineNode) -> Iterator[tuple[LineNode, Terms, tuple[LineNode, ...]]]:
        """The head of a known game, and the positions after its next plies if nobody speaks them."""
        first = head.score_ply
        for ply in range(first, min(first + _AHEAD, len(self.lines.score_moves)) + 1):
            yield self.lines.score[ply], self.skip(first, ply)[0], tuple(self.lines.score[first + 1 : ply + 1])

    def line(self, found: Extension) -> None:
        """On from the cursor in a sideline; from the head of the game it leaves the game."""
        state, spoken, cursor = found.state, found.spoken, found.state.cursor
        here = cursor is state.head
        kind, group = ("leave", "branch") if here else ("line", "line")
        room = found.room(kind)
        if room < found.least:
            return
        long: Terms = () if here else (("line_long", log(cursor.ply - cursor.fork.ply + 1)),)
        for before, more, passed in self._ahead(cursor) if here and self.known else self._unspoken(cursor):
            more = (*more, *long)
            extra = self.prices.cost(more)
            if extra + found.least > room:
                continue
            for move, fit, cost in self.fits(before, spoken):
                if cost + extra + found.chain > room:
                    continue
                node = self.lines.after(before, move)
                if node.score_ply >= 0:
                    continue
                chain = self.chain(node, spoken)
                if chain is not None:
                    price = cost + extra + self.prices.cost(chain[1])
                    where = (chain[0][-1], before if here else state.head, None)
                    found.add(kind, group, chain[0], fit, price, where, (*more, *chain[1]), passed)
        if here or found.vague or found.slip + self.prices.table.get("slip_in.line", 0.0) > room:
            return
        slip = self._slip_in("line")
        for move, fit, cost in self.near(cursor, spoken):
            if cost + slip <= room:
                node = self.lines.after(cursor, move)
                if node.score_ply < 0:
                    total = cost + self.prices.cost(long)
                    found.add(kind, group, (node,), fit, total, (node, state.head, None), long)

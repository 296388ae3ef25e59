"""What a phrase may be while the game is looked for: a move of it or of a sideline, new or told before, or none."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import log

import chess

from aligner.prices.prices import Prices
from aligner.reconstruction.amending import Amender
from aligner.reconstruction.gaps import Gaps, is_plain
from aligner.reconstruction.hypothesis import Hypothesis, Step
from aligner.search.fits import Fits
from aligner.search.lines import LineNode
from aligner.search.matching import Fit, PricedFit, stands_there
from aligner.search.onward import is_vague
from aligner.search.plies import ignored, ply_terms
from aligner.speech.description import Description, Terms
from aligner.speech.listen import Spoken

_FARTHEST_BACK = 5
"""Plies back along a sideline at which an alternative is looked for."""
_FARTHEST_LEFT = 3
"""Plies back along the game at which a sideline may leave it."""
PLAIN, SLIPS, GAPS, AMENDS = range(4)
"""How far to think: of what fits now; of misnamed moves; of unspoken plies; of other plies than those told so far."""
_LEAST_OPENING = 2
"""Moves of an opening whose name alone may tell them; "English" and "French" are words before they are a move."""
_FARTHEST_AGAIN = 40
"""Plies back along the game at which a move is spoken of again."""

Added = tuple[tuple[LineNode, Spoken | None, Description | None], ...]


class Steps:
    """Everything a phrase may be for a hypothesis; what does not depend on its cost is worked out once.

    Args:
        fits: of the talk's phrases.
        prices: of the terms.
        amends: whether plies that were passed over may be thought over again.
        unsaid: positions after plies of which it is settled that nobody spoke them.
    """

    def __init__(self, fits: Fits, prices: Prices, amends: bool = True, unsaid: Sequence[LineNode] = ()) -> None:
        self.fits = fits
        self.prices = prices
        self.gaps = Gaps(fits, unsaid)
        self.amender = Amender(fits) if amends else None
        self._game: dict[tuple[int, int, bool], list[Step]] = {}
        self._side: dict[tuple[int, int, int], list[Step]] = {}
        self._amended: dict[tuple[int, int, bool], list[Step]] = {}
        self._gap: dict[tuple[int, int, bool, bool], list[Step]] = {}
        table = prices.table
        self._least_gap = 0.0 if unsaid else min(table.get("gap_obvious", 0.0), table.get("gap", 0.0))
        self._least_wide_gap = table.get("gap", 0.0) + table.get("gap_plies", 0.0)
        self._least_amendment = table.get("amend", 0.0)
        self._plausibility: dict[tuple[int, chess.Move], Terms] = {}
        self._lying: dict[int, float] = {}
        self._misnamed: dict[tuple[int, int], list[Step]] = {}
        self._told: dict[tuple[int, int], int] = {}

    @property
    def waste(self) -> float:
        """Nats of breaking off a longer phrase whose rest nothing else can use."""
        return self.prices.table.get("wasted", 0.0)

    def wasting(self, step: Step) -> Step:
        """The step, breaking off a longer phrase."""
        return replace(step, more=(*step.more, ("wasted", 1.0)), cost=step.cost + self.waste)

    def none(self, hypothesis: Hypothesis, spoken: Spoken) -> Step:
        """The phrase speaks of no move."""
        terms: Terms = ()
        if spoken.phrase.stands is not None:
            there = stands_there(hypothesis.cursor.board, spoken.phrase.stands)
            terms = (("none.stands" if there else "none.stands_not", 1.0),)
        cost = self.fits.base(spoken, "none", "none") + self.prices.cost(terms)
        return Step("none", spoken, hypothesis.head, hypothesis.side, (), None, terms, cost)

    def passing(self, hypothesis: Hypothesis, spoken: Spoken) -> Step:
        """The phrase is passed by for one inside it."""
        terms: Terms = (("pass", 1.0), (f"pass|form.{spoken.phrase.moves[0].form}", 1.0))
        return Step("none", None, hypothesis.head, hypothesis.side, (), None, terms, self.prices.cost(terms))

    def moves(self, hypothesis: Hypothesis, spoken: Spoken, budget: float, effort: int) -> Iterator[list[Step]]:
        """Steps that take the phrase for moves, in rows, the cheapest of each first.

        Those that cost more than the budget (nats) need not be among them.

        Args:
            effort: one of `PLAIN`, `SLIPS`, `GAPS` and `AMENDS`.
        """
        head, side = hypothesis.head, hypothesis.side
        returning = side is not None
        yield self._game_steps(head, spoken, returning)
        yield self._side_steps(head, side, spoken)
        kind = "return" if returning else "game"
        room = budget - self.fits.base(spoken, kind, kind)
        if spoken.phrase.fixed or room < self._least_gap:
            return
        if effort >= SLIPS and not returning and len(spoken.phrase.moves) == 1 and not is_vague(spoken):
            yield self._slips(head, spoken)
        doubtful = is_plain(spoken) and not self.fits.fits(head, spoken)
        yield self._gap_steps(head, spoken, returning, doubtful and effort >= GAPS and room >= self._least_wide_gap)
        if self.amender is not None and doubtful and effort >= AMENDS and room >= self._least_amendment:
            yield self._amendments(self.amender, hypothesis, spoken)

    def _plausible(self, before: LineNode, move: chess.Move) -> Terms:
        """How likely a move of the game is by cheap knowledge, and what it leaves lying that could be taken."""
        key = (before.number, move)
        found = self._plausibility.get(key)
        if found is None:
            lying = self._lying.get(before.number)
            if lying is None:
                lying = self._lying[before.number] = ignored(before.board)
            terms = [(f"told_{name}", amount) for name, amount in ply_terms(before, move)]
            if lying and not before.board.is_capture(move):
                terms.append(("told_ply.ignores", min(lying, 9.0)))
            found = self._plausibility[key] = tuple(terms)
        return found

    def _step(
        self, kind: str, group: str, spoken: Spoken, fit: Fit, cost: float, head: LineNode, side: LineNode | None,
        added: Added = (), base: LineNode | None = None, more: Terms = (),
    ) -> Step:  # fmt: skip
        total = cost + self.fits.base(spoken, kind, group) + self.prices.cost(more)
        terms = (*fit.terms, *more)
        if fit.slips:
            total += self.prices.table.get(f"slip_in.{group}", 0.0)
            terms = (*terms, (f"slip_in.{group}", 1.0))
        return Step(kind, spoken, head, side, added, base, terms, total)

    def _chain(self, first: LineNode, spoken: Spoken) -> tuple[Added, Terms] | None:
        """The phrase's moves from its first on, played one after another; None where they do not fit."""
        chain = self.fits.chain(first, spoken)
        if chain is None:
            return None
        return tuple((node, spoken, said) for node, said in zip(chain[0], spoken.phrase.moves, strict=True)), chain[1]

    def _game_steps(self, head: LineNode, spoken: Spoken, returning: bool) -> list[Step]:
        key = (head.number, spoken.number, returning)
        found = self._game.get(key)
        if found is None:
            found = self._game[key] = sorted(self._find_game(head, spoken, returning), key=_cost)
        return found

    def _find_game(self, head: LineNode, spoken: Spoken, returning: bool) -> list[Step]:
        if spoken.phrase.fixed:
            return self._named(head, spoken, returning)
        found = self._played(head, (), (), self.fits.fits(head, spoken), spoken, returning)
        after = self.fits.lines.after
        if len(spoken.phrase.moves) == 1 and not is_vague(spoken) and head.parent is not None:
            for move, fit, cost in self.fits.fits(head.parent, spoken):
                if move != head.move:
                    end = after(head.parent, move)
                    said = ((end, spoken, spoken.phrase.moves[0]),)
                    terms = self._plausible(head.parent, move)
                    found.append(self._step("replace", "game", spoken, fit, cost, end, None, said, head.parent, terms))
        return found

    def _slips(self, head: LineNode, spoken: Spoken) -> list[Step]:
        """The game goes on with a move that was misnamed."""
        key = (head.number, spoken.number)
        found = self._misnamed.get(key)
        if found is None:
            fits = self.fits.near(head, spoken)
            found = self._misnamed[key] = sorted(self._played(head, (), (), fits, spoken, False), key=_cost)
        return found

    def _gap_steps(self, head: LineNode, spoken: Spoken, returning: bool, far: bool) -> list[Step]:
        key = (head.number, spoken.number, returning, far)
        found = self._gap.get(key)
        if found is None:
            found = []
            for passed, terms, fits in self.gaps.before(head, spoken, far):
                found += self._played(head, passed, terms, fits, spoken, returning)
            found.sort(key=_cost)
            self._gap[key] = found
        return found

    def _played(
        self, head: LineNode, passed: Sequence[LineNode], more: Terms, fits: Sequence[PricedFit], spoken: Spoken,
        returning: bool,
    ) -> list[Step]:  # fmt: skip
        """The game goes on from the head, after plies that nobody spoke."""
        kind = "return" if returning else "game"
        before = passed[-1] if passed else head
        unspoken = tuple((node, None, None) for node in passed)
        found = []
        for move, fit, cost in fits:
            chain = self._chain(self.fits.lines.after(before, move), spoken)
            if chain is not None:
                end, added = chain[0][-1][0], (*unspoken, *chain[0])
                terms = (*more, *chain[1], *self._plausible(before, move))
                found.append(self._step(kind, kind, spoken, fit, cost, end, None, added, head, terms))
        return found

    def _named(self, head: LineNode, spoken: Spoken, returning: bool) -> list[Step]:
        """An opening's name: all its moves that the game has not reached yet."""
        path = self.fits.opening(spoken.phrase.fixed)
        if (
            returning
            or len(path) < _LEAST_OPENING
            or head.ply >= len(path)
            or (head.ply and path[head.ply - 1] is not head)
        ):
            return []
        rest = path[head.ply :]
        fit = Fit(chess.Move.null(), (("opening", 1.0), ("opening_plies", float(len(rest)))))
        added = tuple((node, spoken, None) for node in rest)
        return [self._step("game", "game", spoken, fit, self.prices.cost(fit.terms), rest[-1], None, added, head)]

    def _side_steps(self, head: LineNode, side: LineNode | None, spoken: Spoken) -> list[Step]:
        key = (head.number, -1 if side is None else side.number, spoken.number)
        found = self._side.get(key)
        if found is None:
            found = [] if spoken.phrase.fixed else sorted(self._find_side(head, side, spoken), key=_cost)
            self._side[key] = found
        return found

    def _find_side(self, head: LineNode, side: LineNode | None, spoken: Spoken) -> list[Step]:
        found: list[Step] = []
        vague = is_vague(spoken)
        alone = len(spoken.phrase.moves) == 1

        def leave(kind: str, group: str, node: LineNode, played: chess.Move | None, more: Terms) -> None:
            for move, fit, cost in self.fits.fits(node, spoken):
                if move == played:
                    continue
                chain = self._chain(self.fits.lines.after(node, move), spoken)
                if chain is not None:
                    end = chain[0][-1][0]
                    found.append(self._step(kind, group, spoken, fit, cost, head, end, more=(*more, *chain[1])))

        if side is None:
            leave("leave", "branch", head, None, ())
            if alone:
                node, steps = head, 1
                while node.parent is not None and steps <= (1 if vague else _FARTHEST_LEFT):
                    terms: Terms = (
                        (("from_game", 1.0),) if steps == 1 else (("earlier_steps", log(steps)), ("from_game", 1.0))
                    )
                    leave("alternative" if steps == 1 else "earlier", "branch", node.parent, node.move, terms)
                    node, steps = node.parent, steps + 1
        else:
            leave("line", "line", side, None, ())
            for between in self.fits.obvious(side):
                leave("line", "line", between, None, (("gap_obvious", 1.0),))
            if alone:
                node, steps = side, 1
                while node.parent is not None and not head.follows(node) and steps <= (2 if vague else _FARTHEST_BACK):
                    terms = () if steps == 1 else (("earlier_steps", log(steps)),)
                    leave("alternative" if steps == 1 else "earlier", "branch", node.parent, node.move, terms)
                    node, steps = node.parent, steps + 1
                if not vague:
                    leave("leave_back", "branch", head, None, (("leave_back_steps", 0.0),))
                    if head.parent is not None:
                        leave("leave_back", "branch", head.parent, head.move, (("leave_back_steps", 1.0),))
                    for move, fit, cost in self.fits.fits(side, spoken):
                        end = self.fits.lines.after(side, move)
                        line = _between(side, head)
                        if line is not None:
                            base, nodes = line
                            added = (*((node, None, None) for node in nodes), (end, spoken, spoken.phrase.moves[0]))
                            terms = self._plausible(side, move)
                            found.append(
                                self._step("promote", "promote", spoken, fit, cost, end, None, added, base, terms)
                            )
        if alone:
            again = self._again(head, side, spoken)
            if again is not None:
                found.append(again)
        return found

    def _again(self, head: LineNode, side: LineNode | None, spoken: Spoken) -> Step | None:
        """A move spoken of before: the last one of the line, or one of the game."""
        cursor = head if side is None else side
        if cursor.parent is not None:
            for move, fit, cost in self.fits.fits(cursor.parent, spoken):
                if move == cursor.move:
                    return self._step("again", "again", spoken, fit, cost, head, side, more=(("again_last", 1.0),))
        if is_vague(spoken):
            return None
        ply = self._last_told(head, spoken)
        if ply < 0 or head.ply - ply > _FARTHEST_AGAIN:
            return None
        node = head
        while node.ply > ply:
            node = node.parent or node
        assert node.parent is not None
        for move, fit, cost in self.fits.fits(node.parent, spoken):
            if move == node.move:
                terms: Terms = (("again_game", 1.0), ("again_far", log(1 + head.ply - ply)))
                return self._step("again", "again", spoken, fit, cost, head, side, more=terms)
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
            if any(move == node.move for move, _, _ in self.fits.fits(node.parent, spoken)):
                found = self._told[node.number, number] = node.ply
                break
            way.append(node)
            node = node.parent
        for each in way:
            self._told[each.number, number] = found
        return found

    def _amendments(self, amender: Amender, hypothesis: Hypothesis, spoken: Spoken) -> list[Step]:
        key = (hypothesis.head.number, spoken.number, hypothesis.side is not None)
        found = self._amended.get(key)
        if found is None:
            kind = "return" if hypothesis.side is not None else "game"
            found = []
            for change in amender.changes(hypothesis, spoken):
                for move, fit, cost in change.fits:
                    chain = self._chain(self.fits.lines.after(change.end, move), spoken)
                    if chain is None:
                        continue
                    terms = (*change.terms, *chain[1])
                    end, added = chain[0][-1][0], (*change.added, *chain[0])
                    found.append(self._step(kind, kind, spoken, fit, cost, end, None, added, change.base, terms))
            found.sort(key=_cost)
            self._amended[key] = found
        return found


def _cost(step: Step) -> float:
    return step.cost


def _between(side: LineNode, head: LineNode) -> tuple[LineNode, list[LineNode]] | None:
    """Where a sideline leaves the game, and its nodes from there on."""
    nodes = [side]
    node = side.parent
    while node is not None and not head.follows(node):
        nodes.append(node)
        node = node.parent
    return (node, nodes[::-1]) if node is not None else None

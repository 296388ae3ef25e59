"""What a phrase may be, where a hypothesis stands: the moves that fit, here and where the talk may go back to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import log
from typing import TYPE_CHECKING

import chess

from aligner.search.lines import LineNode, Lines
from aligner.search.matching import Fit, PricedFit, compare, exact_fits, near_fits
from aligner.search.state import Decision, State, kind_terms, sign_terms
from aligner.speech.description import Description, Terms
from aligner.speech.listen import Spoken

if TYPE_CHECKING:
    from aligner.prices.prices import Prices

_FARTHEST_SKIP = 40
"""Plies of the game passed over at once; beyond it a talk has another subject."""
_AHEAD = 4
"""Plies of the game that may go unspoken before a sideline leaves it."""
_FARTHEST_BACK = 24
"""Plies back along a line at which an alternative is looked for."""
Where = tuple[LineNode, LineNode, LineNode | None]
"""New cursor, head and focus."""

Step = tuple[Decision, Where]

_BACK = ("alternative", "earlier", "leave_back", "part_way", "focus", "far")

_VAGUE = frozenset({"piece_moves", "moves", "check", "pushes", "piece_checks", "takes", "retakes", "piece_on"})
"""Wordings too vague to find a branch by, far from the cursor."""


class Options:
    """Everything a phrase may be at a state. Fits are kept by node and phrase, so hypotheses share them.

    Args:
        lines: the nodes.
        prices: of the mode.
        cast: words that say who moves, with the side they stand for in this talk (True for White).
    """

    def __init__(self, lines: Lines, prices: Prices, cast: Mapping[str, bool] | None = None) -> None:
        self.lines = lines
        self.prices = prices
        self.known = bool(lines.score_moves)
        self._hits: dict[int, list[tuple[int, Fit, float]]] = {}
        self._near_hits: dict[tuple[int, int], tuple[Fit, float] | None] = {}
        self.cast = cast or {}
        self._nodes: list[LineNode] = []
        self._bases: dict[tuple[int, str], float] = {}
        self._budget = 0.0
        self._least_slip = 0.0
        self._waste: Terms = ()
        self._skips: dict[tuple[int, int], tuple[Terms, float]] = {}
        self._openings: dict[tuple[str, ...], tuple[LineNode, ...]] = {}
        self._find_least_slip()

    def _find_least_slip(self) -> None:
        self._least_slip = min((price for name, price in self.prices.table.items() if name.startswith("slip.")), default=0.0)

    def reprice(self, prices: Prices) -> None:
        """Take other prices; what fits where stays known."""
        self.prices = prices
        self._find_least_slip()
        cost = prices.cost
        for node in self._nodes:
            for table in (node.fits, node.near):
                for number, row in table.items():
                    table[number] = [(move, fit, cost(fit.terms)) for move, fit, _ in row]
        self._hits = {n: [(ply, fit, cost(fit.terms)) for ply, fit, _ in row] for n, row in self._hits.items()}
        self._near_hits = {k: (v[0], cost(v[0].terms)) if v else None for k, v in self._near_hits.items()}
        self._skips = {k: (terms, cost(terms)) for k, (terms, _) in self._skips.items()}
        self._bases.clear()

    # --- prices of parts -------------------------------------------------------------------------------------

    def base(self, spoken: Spoken, kind: str, group: str) -> float:
        """What it costs to take a phrase for a decision of a kind, before any move is looked at."""
        key = (spoken.number, kind)
        cost = self._bases.get(key)
        if cost is None:
            price = self.prices.cost
            cost = price(kind_terms(spoken, kind) if kind != "none" else ()) + price(sign_terms(spoken, group))
            self._bases[key] = cost
        return cost

    def fits(self, node: LineNode, spoken: Spoken) -> list[PricedFit]:
        """The moves of the phrase's first description that fit exactly at a node."""
        found = node.fits.get(spoken.number)
        if found is None:
            said = spoken.phrase.moves[0]
            fits = exact_fits(node, said) if said.form != "opening" else []
            found = [(fit.move, fit, self.prices.cost(fit.terms)) for fit in self._cast(fits, node, spoken)]
            if not node.fits:
                self._nodes.append(node)
            node.fits[spoken.number] = found
        return found

    def near(self, node: LineNode, spoken: Spoken) -> list[PricedFit]:
        """The moves that fit but for one detail."""
        found = node.near.get(spoken.number)
        if found is None:
            fits = near_fits(node, spoken.phrase.moves[0])
            found = [(fit.move, fit, self.prices.cost(fit.terms)) for fit in self._cast(fits, node, spoken)]
            found.sort(key=lambda item: item[2])
            found = found[:6]
            if not node.fits:
                self._nodes.append(node)
                node.fits[-1] = []
            node.near[spoken.number] = found
        return found

    def hits(self, spoken: Spoken) -> list[tuple[int, Fit, float]]:
        """Plies of the score that the phrase describes exactly: (ply before the move, fit, cost)."""
        found = self._hits.get(spoken.number)
        if found is None:
            found = []
            said = spoken.phrase.moves[0]
            if said.form != "opening":
                for ply, move in enumerate(self.lines.score_moves):
                    if said.target is not None and move.to_square not in (said.target, said.target_for_black):
                        continue
                    fit = compare(self.lines.score[ply], move, said)
                    if fit is not None and not fit.slips:
                        rivals = len(exact_fits(self.lines.score[ply], said))
                        terms = (*fit.terms, ("ambiguous_known", log(rivals))) if rivals > 1 else fit.terms
                        [fit] = self._cast([Fit(move, terms)], self.lines.score[ply], spoken)
                        found.append((ply, fit, self.prices.cost(fit.terms)))
            self._hits[spoken.number] = found
        return found

    def near_hit(self, spoken: Spoken, ply: int) -> tuple[Fit, float] | None:
        """How the phrase misnames the score's move at a ply, if it does."""
        key = (spoken.number, ply)
        if key not in self._near_hits:
            said = spoken.phrase.moves[0]
            result = None
            if said.form not in ("opening", "piece_on") and (said.target is not None or said.castle or said.capture):
                fit = compare(self.lines.score[ply], self.lines.score_moves[ply], said)
                if fit is not None and fit.slips:
                    [fit] = self._cast([fit], self.lines.score[ply], spoken)
                    result = (fit, self.prices.cost(fit.terms))
            self._near_hits[key] = result
        return self._near_hits[key]

    def _cast(self, fits: list[Fit], node: LineNode, spoken: Spoken) -> list[Fit]:
        """The fits, with whether side and move number are those that were said."""
        side = self.cast.get(spoken.who)
        if not fits or (side is None and not spoken.at_move):
            return fits
        terms: Terms = ()
        if side is not None:
            terms = (("who" if side == node.board.turn else "who_not", 1.0),)
        if spoken.at_move:
            terms = (*terms, ("number" if spoken.at_move == node.board.fullmove_number else "number_not", 1.0))
        return [Fit(fit.move, (*fit.terms, *terms), fit.slips) for fit in fits]

    def skip(self, first: int, last: int) -> tuple[Terms, float]:
        """What it costs that the score's plies from `first` up to `last` were never spoken."""
        key = (first, last)
        if key not in self._skips:
            obvious = 0
            for ply in range(first, last):
                node, move = self.lines.score[ply], self.lines.score_moves[ply]
                retakes = node.captured and node.move is not None and node.move.to_square == move.to_square
                obvious += retakes or (node.board.is_castling(move)) or node.board.is_check()
            plain = last - first - obvious
            terms: list[tuple[str, float]] = []
            if obvious:
                terms.append(("skip_obvious", float(obvious)))
            if plain:
                terms += [("skip", 1.0), ("skip_plies", log(1.0 + plain)), ("skip_far", max(0.0, plain - 4) / 10)]
            self._skips[key] = (tuple(terms), self.prices.cost(tuple(terms)))
        return self._skips[key]

    # --- decisions -------------------------------------------------------------------------------------------

    def none(self, state: State, spoken: Spoken, passing: bool) -> Decision:
        """The phrase speaks of no move; or, passing, another phrase inside it may."""
        if passing:
            terms: Terms = (("pass", 1.0), (f"pass|form.{spoken.phrase.moves[0].form}", 1.0))
            return Decision("none", "pass", None, (), None, terms, (), self.prices.cost(terms))
        terms = ()
        stands = spoken.phrase.stands
        if stands is not None:
            terms = (("none.stands" if _stands(state.cursor.board, stands) else "none.stands_not", 1.0),)
        cost = self.prices.cost(terms) + self.base(spoken, "none", "none")
        return Decision("none", "none", spoken, (), None, terms, (), cost)

    def moves(self, state: State, spoken: Spoken, budget: float, wasted: bool = False) -> Iterator[Step]:
        """Decisions that take the phrase for moves and cost less than the budget (nats), each with where it leads.

        `wasted` says that the phrase breaks off a longer one whose rest nothing else can use.
        """
        self._waste = (("wasted", 1.0),) if wasted else ()
        self._budget = budget - self.prices.cost(self._waste)
        if spoken.phrase.fixed:
            yield from self._named(state, spoken)
            return
        yield from self._game(state, spoken)
        yield from self._line(state, spoken)
        yield from self._back(state, spoken)
        yield from self._again(state, spoken)

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

    def _chain(self, first: LineNode, spoken: Spoken) -> tuple[tuple[LineNode, ...], Terms] | None:
        """The phrase's further moves, played after its first: (nodes, terms); None where they do not fit."""
        nodes, terms = [first], list[tuple[str, float]]()
        for said in spoken.phrase.moves[1:]:
            fits = exact_fits(nodes[-1], said)
            if said.form == "retakes":
                fits = [fit for fit in fits if any(name == "recapture" for name, _ in fit.terms)]
            if not fits:
                return None
            best = min(fits, key=lambda fit: (self.prices.cost(fit.terms), fit.move.uci()))
            if self.known and 0 <= nodes[-1].score_ply < len(self.lines.score_moves):
                own = self.lines.score_moves[nodes[-1].score_ply]
                best = next((fit for fit in fits if fit.move == own), best)
            terms += best.terms
            nodes.append(self.lines.after(nodes[-1], best.move))
        return tuple(nodes), tuple(terms)

    def _named(self, state: State, spoken: Spoken) -> Iterator[Step]:
        """An opening's name: all its moves that the game has not reached yet."""
        path = self._opening(spoken.phrase.fixed)
        head = state.head
        if state.cursor is not head or not path or head.ply >= len(path) or (head.ply and path[head.ply - 1] is not head):
            return
        if self.known and path[-1].score_ply < 0:
            return
        rest = path[head.ply :]
        fit = Fit(rest[0].move or chess.Move.null(), (("opening", 1.0), ("opening_plies", float(len(rest)))))
        name = "game" if self.known else "open"
        yield from self._step(name, "game", spoken, rest, fit, self.prices.cost(fit.terms), (rest[-1], rest[-1], None))

    def _opening(self, moves: tuple[str, ...]) -> tuple[LineNode, ...]:
        if moves not in self._openings:
            node, path = self.lines.root, list[LineNode]()
            try:
                for san in moves:
                    node = self.lines.after(node, node.board.parse_san(san))
                    path.append(node)
            except ValueError:
                path = []
            self._openings[moves] = tuple(path)
        return self._openings[moves]

    def _game(self, state: State, spoken: Spoken) -> Iterator[Step]:
        here = state.cursor is state.head
        kind = "game" if here else "return"
        head = state.head
        if self.known:
            first = head.score_ply
            for ply, fit, cost in self.hits(spoken):
                if first <= ply <= first + _FARTHEST_SKIP:
                    node = self.lines.score[ply + 1]
                    chain = self._chain(node, spoken)
                    if chain is None or chain[0][-1].score_ply < 0:
                        continue
                    terms, price = self.skip(first, ply)
                    passed = tuple(self.lines.score[first + 1 : ply + 1])
                    total = cost + price + self.prices.cost(chain[1])
                    where = (chain[0][-1], chain[0][-1], None)
                    yield from self._step(kind, kind, spoken, chain[0], fit, total, where, (*terms, *chain[1]), passed)
            if len(spoken.phrase.moves) == 1:
                for ply in range(first, min(first + 2, len(self.lines.score_moves))):
                    near = self.near_hit(spoken, ply)
                    if near is not None:
                        fit, cost = near
                        node = self.lines.score[ply + 1]
                        terms, price = self.skip(first, ply)
                        passed = tuple(self.lines.score[first + 1 : ply + 1])
                        yield from self._step(kind, kind, spoken, (node,), fit, cost + price, (node, node, None), terms, passed)
            return
        room = self._budget - self.base(spoken, "open" if here else "return", kind)
        for before, more, passed in self._unspoken(head, spoken):
            for move, fit, cost in self.fits(before, spoken):
                if cost > room:
                    continue
                chain = self._chain(self.lines.after(before, move), spoken)
                if chain is not None:
                    price = cost + self.prices.cost(more) + self.prices.cost(chain[1])
                    end = chain[0][-1]
                    name = "open" if here else "return"
                    yield from self._step(name, kind, spoken, chain[0], fit, price, (end, end, None), (*more, *chain[1]), passed)
        if not here:
            for move, fit, cost in self.fits(state.cursor, spoken):
                if _specific(spoken) and cost + self.base(spoken, "promote", "game") <= self._budget:
                    node = self.lines.after(state.cursor, move)
                    yield from self._step("promote", "game", spoken, (node,), fit, cost, (node, node, None))
        slip = self._least_slip + self.prices.table.get("slip_in.game", 0.0) + self.base(spoken, "open", "game")
        for move, fit, cost in self.near(head, spoken) if here and slip <= self._budget and _specific(spoken) else ():
            node = self.lines.after(head, move)
            yield from self._step("open", kind, spoken, (node,), fit, cost, (node, node, None))

    def _unspoken(self, node: LineNode, spoken: Spoken) -> Iterator[tuple[LineNode, Terms, tuple[LineNode, ...]]]:
        """The node itself, and nodes after plies that go without saying: recaptures."""
        yield node, (), ()
        for between in self._recaptures(node):
            yield between, (("skip_obvious", 1.0),), (between,)

    def _ahead(self, head: LineNode) -> Iterator[tuple[LineNode, Terms, tuple[LineNode, ...]]]:
        """The head of a known game, and the positions after its next plies if nobody speaks them."""
        first = head.score_ply
        for ply in range(first, min(first + _AHEAD, len(self.lines.score_moves)) + 1):
            yield self.lines.score[ply], self.skip(first, ply)[0], tuple(self.lines.score[first + 1 : ply + 1])

    def _recaptures(self, node: LineNode) -> Iterator[LineNode]:
        if not node.captured or node.move is None:
            return
        board = node.board
        moves = list(board.generate_legal_moves(chess.BB_ALL, chess.BB_SQUARES[node.move.to_square]))
        moves.sort(key=lambda move: (board.piece_type_at(move.from_square) or 0, move.from_square))
        for move in moves[:3]:
            yield self.lines.after(node, move)

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
                chain = self._chain(node, spoken)
                if chain is not None:
                    price = cost + self.prices.cost(more) + self.prices.cost(chain[1])
                    where = (chain[0][-1], before if here else state.head, None)
                    yield from self._step(kind, group, spoken, chain[0], fit, price, where, (*more, *chain[1]), passed)
        if not here and _specific(spoken) and self._least_slip + self.prices.table.get("slip_in.line", 0.0) <= room:
            for move, fit, cost in self.near(cursor, spoken):
                node = self.lines.after(cursor, move)
                if node.score_ply < 0:
                    yield from self._step(kind, group, spoken, (node,), fit, cost, (node, state.head, None))

    def _back(self, state: State, spoken: Spoken) -> Iterator[Step]:
        """Branches from where the talk was before."""
        if len(spoken.phrase.moves) > 1:
            return
        cursor, head = state.cursor, state.head
        if min(self.base(spoken, kind, "branch") for kind in _BACK) > self._budget + 2.0:
            return
        vague = not _specific(spoken)
        child = cursor
        seen = {cursor.number}
        for steps, node in enumerate(cursor.ancestors(), 1):
            if steps > (2 if vague else _FARTHEST_BACK) or (head.ply - node.ply > 12 and node is cursor.fork):
                break
            seen.add(node.number)
            kind = "alternative" if steps == 1 else "earlier"
            more: Terms = () if steps == 1 else (("earlier_steps", log(steps)),)
            if steps > 1 and child is not cursor and cursor is not head and node.ply <= cursor.fork.ply:
                more = (*more, ("earlier_root", 1.0))
            if cursor is head:
                more = (*more, ("from_game", 1.0))
            yield from self._branches(kind, state, node, child, spoken, more)
            child = node
        if cursor is not head:
            back: LineNode | None = head
            last = head
            for steps in range(3):
                if back is None:
                    break
                if back.number not in seen:
                    seen.add(back.number)
                    more = (("leave_back_steps", float(steps)),)
                    yield from self._branches("leave_back", state, back, last, spoken, more)
                last, back = back, back.parent
        if vague:
            return
        if state.focus is not None and state.focus.parent is not None:
            for base in (state.focus.parent, state.focus):
                if base.number not in seen:
                    seen.add(base.number)
                    yield from self._branches("focus", state, base, state.focus, spoken, ())
        far: LineNode | None = head
        room = self._budget - self.base(spoken, "far", "branch") - self.prices.table.get("far_steps", 0.0) + 2.0
        while far is not None and room > 0.0:
            if far.number not in seen:
                seen.add(far.number)
                more = (("far_steps", log(1 + head.ply - far.ply)),)
                yield from self._branches("far", state, far, far, spoken, more)
            far = far.parent
        for end in state.trail[:2]:
            left: LineNode | None = end
            last = end
            steps = 0
            while left is not None and steps < _FARTHEST_BACK and left.number not in seen and left is not left.fork:
                seen.add(left.number)
                yield from self._branches("part_way", state, left, last, spoken, (("part_way_steps", log(1 + steps)),))
                last, left, steps = left, left.parent, steps + 1

    def _branches(
        self, kind: str, state: State, node: LineNode, child: LineNode, spoken: Spoken, more: Terms
    ) -> Iterator[Step]:
        fits = self.fits(node, spoken)
        if not fits:
            return
        price = self.prices.cost(more)
        room = self._budget - price - self.base(spoken, kind, "branch")
        for move, fit, cost in fits:
            if cost > room or (move == child.move and child.parent is node):
                continue
            new = self.lines.after(node, move)
            if new.score_ply >= 0:
                continue
            yield from self._step(kind, "branch", spoken, (new,), fit, cost + price, (new, state.head, None), more)

    def _again(self, state: State, spoken: Spoken) -> Iterator[Step]:
        """The phrase speaks of a move that is in the tree already; the cursor stays."""
        if len(spoken.phrase.moves) > 1 or self.base(spoken, "again", "again") > self._budget + 2.0:
            return
        cursor = state.cursor
        vague = not _specific(spoken)
        node: LineNode | None = cursor
        steps = 0
        while node is not None and node.parent is not None and steps < (1 if vague else 12):
            if self.known and node.score_ply >= 0 and steps > 0:
                break
            for move, fit, cost in self.fits(node.parent, spoken):
                if move == node.move:
                    more: Terms = (("again_last", 1.0),) if steps == 0 else (("again_line", 1.0), ("again_steps", log(steps)))
                    yield from self._step("again", "again", spoken, (node,), fit, cost + self.prices.cost(more), (cursor, state.head, node), more)
            node = node.parent
            steps += 1
        if vague:
            return
        if self.known:
            for ply, fit, cost in self.hits(spoken):
                node = self.lines.score[ply + 1]
                if ply >= state.head.score_ply:
                    more = (("again_ahead", 1.0),)
                    yield from self._step("again", "again", spoken, (node,), fit, cost + self.prices.cost(more), (cursor, state.head, state.focus), more)
                elif node is not cursor:
                    next_one = state.focus is not None and state.focus.score_ply == ply
                    more = (("again_next", 1.0),) if next_one else (("again_game", 1.0), ("again_far", log(state.head.score_ply - ply)))
                    yield from self._step("again", "again", spoken, (node,), fit, cost + self.prices.cost(more), (cursor, state.head, node), more)
        else:
            game: LineNode | None = state.head
            while game is not None and game.parent is not None:
                if game is not cursor:
                    for move, fit, cost in self.fits(game.parent, spoken):
                        if move == game.move and not (cursor.follows(game) and cursor.ply - game.ply < 12):
                            more = (("again_game", 1.0), ("again_far", log(1 + state.head.ply - game.ply)))
                            yield from self._step("again", "again", spoken, (game,), fit, cost + self.prices.cost(more), (cursor, state.head, game), more)
                game = game.parent
        for end in state.trail[:1]:
            node, steps = end, 0
            while node is not None and node.parent is not None and node.score_ply < 0 and steps < 12:
                for move, fit, cost in self.fits(node.parent, spoken):
                    if move == node.move and not cursor.follows(node):
                        more = (("again_trail", 1.0),)
                        yield from self._step("again", "again", spoken, (node,), fit, cost + self.prices.cost(more), (cursor, state.head, node), more)
                node, steps = node.parent, steps + 1


def _specific(spoken: Spoken) -> bool:
    return spoken.phrase.moves[0].form not in _VAGUE


def _stands(board: chess.Board, stands: tuple[str, int, bool | None]) -> bool:
    letter, at, side = stands
    piece = board.piece_at(at)
    return piece is not None and piece.symbol().upper() == letter and (side is None or piece.color == side)


def said_first(spoken: Spoken) -> Description:
    """What is said of the phrase's first move."""
    return spoken.phrase.moves[0]

"""What a phrase may be, where a hypothesis stands: the moves that fit, here and where the talk may go back to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import log
from typing import TYPE_CHECKING

import chess

from aligner.search.anchors import Places, places
from aligner.search.lines import LineNode, Lines
from aligner.search.matching import Fit, PricedFit, compare, exact_fits, near_fits
from aligner.search.plies import ply_costs
from aligner.search.state import Decision, State, kind_terms, sign_terms
from aligner.speech.description import Description, Terms
from aligner.speech.listen import Spoken

if TYPE_CHECKING:
    from aligner.prices.prices import Prices

_FARTHEST_SKIP = 40
"""Plies of the game passed over at once; beyond it a talk has another subject."""
_AHEAD = 4
"""Plies of the game that may go unspoken before a sideline leaves it."""
Where = tuple[LineNode, LineNode, LineNode | None]
"""New cursor, head and focus."""

Step = tuple[Decision, Where]

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
        self._places: dict[tuple[int, ...], Places] = {}
        self._guesses: dict[int, list[tuple[LineNode, float]]] = {}
        self._plies: dict[int, list[LineNode]] = {}
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
        self._guesses.clear()
        self._places.clear()

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

    def moves(
        self, state: State, spoken: Spoken, fitting: list[tuple[int, list[PricedFit]]], budget: float, wasted: bool = False
    ) -> Iterator[Step]:
        """Decisions that take the phrase for moves and cost less than the budget (nats), each with where it leads.

        `fitting` tells where the phrase fits, of the nodes that this state or others may go back to. `wasted` says that the phrase breaks off a longer one whose rest nothing else can use.
        """
        self._waste = (("wasted", 1.0),) if wasted else ()
        self._budget = budget - self.prices.cost(self._waste)
        if spoken.phrase.fixed:
            yield from self._named(state, spoken)
            return
        yield from self._game(state, spoken)
        yield from self._line(state, spoken)
        if len(spoken.phrase.moves) == 1:
            yield from self._back(state, spoken, fitting)
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
            extra = self.prices.cost(more)
            for move, fit, cost in self.fits(before, spoken) if extra <= room + 2.0 else ():
                if cost + extra > room:
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
        if here and head.parent is not None and _specific(spoken):
            room = self._budget - self.base(spoken, "replace", "game")
            for move, fit, cost in self.fits(head.parent, spoken) if room > 0 else ():
                if move != head.move and cost <= room:
                    node = self.lines.after(head.parent, move)
                    yield from self._step("replace", "game", spoken, (node,), fit, cost, (node, node, None))
        slip = self._least_slip + self.prices.table.get("slip_in.game", 0.0) + self.base(spoken, "open", "game")
        for move, fit, cost in self.near(head, spoken) if here and slip <= self._budget and _specific(spoken) else ():
            node = self.lines.after(head, move)
            yield from self._step("open", kind, spoken, (node,), fit, cost, (node, node, None))

    def _unspoken(self, node: LineNode, spoken: Spoken) -> Iterator[tuple[LineNode, Terms, tuple[LineNode, ...]]]:
        """The node itself, and nodes after a ply that goes without saying: a recapture, an only move; else castling."""
        yield node, (), ()
        for between in self._obvious(node):
            yield between, (("skip_obvious", 1.0),), (between,)
        if not self.fits(node, spoken) and _specific(spoken) and spoken.phrase.moves[0].form != "square":
            likely = self._likely(node)
            room = self._budget - self.prices.table.get("skip_any", 0.0) + 4.0
            for between, cost in likely:
                if cost > room:
                    break
                yield between, (("skip_any", 1.0), ("skip_cost", cost)), (between,)

    def _likely(self, node: LineNode) -> list[tuple[LineNode, float]]:
        """All next positions with the cost of their plies in nats, likeliest first."""
        found = self._guesses.get(node.number)
        if found is None:
            found = [(self.lines.after(node, move), cost) for move, cost in ply_costs(node, self.prices.table)]
            self._guesses[node.number] = found
        return found

    def _obvious(self, node: LineNode) -> list[LineNode]:
        found = self._plies.get(node.number)
        if found is None:
            board = node.board
            moves: list[chess.Move] = []
            if node.captured and node.move is not None:
                moves = list(board.generate_legal_moves(chess.BB_ALL, chess.BB_SQUARES[node.move.to_square]))
                moves.sort(key=lambda move: (board.piece_type_at(move.from_square) or 0, move.from_square))
                moves = moves[:3]
            if board.is_check():
                evasions = list(board.generate_legal_moves())
                if len(evasions) <= 2:
                    moves += [move for move in evasions if move not in moves]
            found = [self.lines.after(node, move) for move in moves]
            self._plies[node.number] = found
        return found

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

    def places(self, state: State) -> Places:
        """Where the state may go back to."""
        key = (*state.key, *[end.number for end in state.trail])
        found = self._places.get(key)
        if found is None:
            found = places(state, self.prices, self.known)
            self._places[key] = found
        return found

    def fitting(self, spoken: Spoken, nodes: Mapping[int, LineNode]) -> list[tuple[int, list[PricedFit]]]:
        """Those of the nodes where the phrase fits, by number, each with its fits."""
        if len(spoken.phrase.moves) > 1 or spoken.phrase.fixed:
            return []
        number = spoken.number
        found = []
        for key, node in nodes.items():
            fits = node.fits.get(number)
            if fits is None:
                fits = self.fits(node, spoken)
            if fits:
                found.append((key, fits))
        return found

    def _back(self, state: State, spoken: Spoken, fitting: list[tuple[int, list[PricedFit]]]) -> Iterator[Step]:
        """Branches from where the talk was before, and moves spoken of again."""
        where = self.places(state)
        anchors, recalls = where.anchors, where.recalls
        vague = not _specific(spoken)
        cursor, head = state.cursor, state.head
        again = self._budget - self.base(spoken, "again", "again")
        for number, fits in fitting:
            anchor = anchors.get(number)
            if anchor is not None and (anchor.near or not vague):
                room = self._budget - anchor.price - self.base(spoken, anchor.kind, "branch")
                for move, fit, cost in fits:
                    if cost > room or move == anchor.not_move:
                        continue
                    new = self.lines.after(anchor.node, move)
                    if new.score_ply >= 0:
                        continue
                    yield from self._step(anchor.kind, "branch", spoken, (new,), fit, cost + anchor.price, (new, head, None), anchor.terms)
            for recall in recalls.get(number, ()):
                if vague and not recall.near:
                    continue
                for move, fit, cost in fits:
                    if move == recall.node.move and cost + recall.price <= again:
                        where_to = (cursor, head, recall.node)
                        yield from self._step("again", "again", spoken, (recall.node,), fit, cost + recall.price, where_to, recall.terms)

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
            yield from self._step("again", "again", spoken, (node,), fit, cost + self.prices.cost(terms), (cursor, head, looked_at), terms)


def _specific(spoken: Spoken) -> bool:
    return spoken.phrase.moves[0].form not in _VAGUE


def _stands(board: chess.Board, stands: tuple[str, int, bool | None]) -> bool:
    letter, at, side = stands
    piece = board.piece_at(at)
    return piece is not None and piece.symbol().upper() == letter and (side is None or piece.color == side)


def said_first(spoken: Spoken) -> Description:
    """What is said of the phrase's first move."""
    return spoken.phrase.moves[0]

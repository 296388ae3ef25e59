"""What fits where: the moves that a phrase describes at a position, and along the score, with their costs."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from math import log
from typing import TYPE_CHECKING

import chess

from aligner.search.lines import LineNode, Lines
from aligner.search.manners import has_aim
from aligner.search.matching import Fit, PricedFit, compare, exact_fits, near_fits
from aligner.search.openings import OpeningLines
from aligner.search.plies import AT_A_GLANCE, BOTH, Valuation, later_gain, ply_costs
from aligner.search.tariff import Tariff, Tariffs
from aligner.speech.aims import Aim
from aligner.speech.description import Description, Terms
from aligner.speech.listen import Spoken

if TYPE_CHECKING:
    from aligner.prices.prices import Prices

_BLOCK = 128
"""Plies of the score that are searched at once for moves that a phrase describes."""
Hit = tuple[int, Fit, float]
"""A ply of the score before its move, how the move fits, the cost of that in nats."""
Chain = tuple[tuple[LineNode, ...], Terms]
"""The positions after each of a phrase's moves, and the terms of how those after the first fit."""


class Fits:
    """Fits of the phrases of one talk, each found and priced once, so that hypotheses share them.

    Args:
        lines: the nodes.
        prices: of the mode.
        cast: words that say who moves, with the side they stand for in this talk (True for White).
        valuation: how moves are told apart as chess where the game is not known.
    """

    def __init__(
        self,
        lines: Lines,
        prices: Prices,
        cast: Mapping[str, bool] | None = None,
        valuation: Valuation = AT_A_GLANCE,
    ) -> None:
        self.lines = lines
        self.prices = prices
        self.valuation = BOTH if lines.score_moves else valuation
        self.known = bool(lines.score_moves)
        self._wordings: dict[int, int] = {}
        self._said: dict[tuple[Description, bool | None, int, Aim | None, tuple[str, ...]], int] = {}
        self._hits: dict[tuple[int, int], list[Hit]] = {}
        self._going_to: dict[int, list[int]] = {}
        self._near_hits: dict[tuple[int, int], tuple[Fit, float] | None] = {}
        self.cast = cast or {}
        self._guesses: dict[int, list[tuple[LineNode, float]]] = {}
        self._plies: dict[int, list[LineNode]] = {}
        self.openings = OpeningLines(lines)
        self._tariffs = Tariffs(prices)
        self._later_gain = later_gain(prices.table)
        self._tariff_of: dict[int, Tariff] = {}
        self._skips: dict[tuple[int, int], tuple[Terms, float]] = {}
        self._obvious: list[int] | None = None

    def reprice(self, prices: Prices) -> None:
        """Take other prices; what fits where stays known."""
        self.prices = prices
        self._tariffs = Tariffs(prices)
        self._later_gain = later_gain(prices.table)
        self._tariff_of.clear()
        cost = prices.cost
        for node in self.lines.nodes():
            for wording, row in node.fits.items():
                node.keep_fits(wording, self._at_cost([fit for _, fit, _ in row]))
            for wording, row in node.near.items():
                node.keep_near(wording, self._at_cost([fit for _, fit, _ in row]))
            if node.aside is not None:
                node.aside = node.aside[0], cost(node.aside[0])
        self._hits = {n: [(ply, fit, cost(fit.terms)) for ply, fit, _ in row] for n, row in self._hits.items()}
        self._guesses.clear()
        self._near_hits = {k: (v[0], cost(v[0].terms)) if v else None for k, v in self._near_hits.items()}
        self._skips = {k: (terms, cost(terms)) for k, (terms, _) in self._skips.items()}

    def forget_all_but(self, ends: Iterable[LineNode]) -> None:
        """Drop what is known of positions that lead to none of these, to bound the memory."""
        self.lines.forget_all_but([*ends, *self.openings.ends()])
        self._guesses.clear()
        self._plies.clear()

    def tariff(self, spoken: Spoken) -> Tariff:
        """What the phrase takes before any position is looked at."""
        tariff = self._tariff_of.get(spoken.number)
        if tariff is None:
            known = self.cast.get(spoken.who) is not None
            tariff = self._tariff_of[spoken.number] = self._tariffs.of(spoken, known)
        return tariff

    def wording(self, spoken: Spoken) -> int:
        """A number that phrases share which fit the same moves at the same cost: all say the same of the first move."""
        wording = self._wordings.get(spoken.number)
        if wording is None:
            said = (spoken.phrase.moves[0], self.cast.get(spoken.who), spoken.at_move, spoken.aim, spoken.named)
            wording = self._wordings[spoken.number] = self._said.setdefault(said, len(self._said))
        return wording

    def fits(self, node: LineNode, spoken: Spoken) -> list[PricedFit]:
        """The moves of the phrase's first description that fit exactly at a node, the cheapest first."""
        wording = self._wordings.get(spoken.number)
        if wording is None:
            wording = self.wording(spoken)
        found = node.fits.get(wording)
        if found is None:
            said = spoken.phrase.moves[0]
            fits = exact_fits(node, said) if said.form != "opening" else []
            found = self._priced(fits, node, spoken) if fits else []
            node.keep_fits(wording, found)
        return found

    def near(self, node: LineNode, spoken: Spoken) -> list[PricedFit]:
        """The moves that fit but for one detail, the cheapest first."""
        wording = self.wording(spoken)
        found = node.near.get(wording)
        if found is None:
            fits = near_fits(node, spoken.phrase.moves[0])
            found = self._priced(fits, node, spoken)[:6]
            node.keep_near(wording, found)
        return found

    def chain(self, first: LineNode, spoken: Spoken) -> Chain | None:
        """The likeliest of `chains`; None where there is none."""
        return next(iter(self.chains(first, spoken, 1)), None)

    def chains(self, first: LineNode, spoken: Spoken, most: int) -> list[Chain]:
        """The likeliest ways to play the phrase's further moves after its first; none where they do not fit.

        Args:
            most: ways that are told apart.
        """
        found: list[tuple[float, Chain]] = [(0.0, ((first,), ()))]
        for said in spoken.phrase.moves[1:]:
            further = [
                (nats + price, ((*nodes, node), (*terms, *fit.terms)))
                for nats, (nodes, terms) in found
                for node, fit, price in self._next(nodes[-1], said)
            ]
            if not further:
                return []
            found = sorted(further, key=_likelier)[:most] if len(further) > 1 else further
        return [chain for _, chain in found]

    def _next(self, node: LineNode, said: Description) -> list[tuple[LineNode, Fit, float]]:
        """The moves that a phrase's further description may be, with what speaks against each, in nats."""
        fits = exact_fits(node, said)
        if said.form == "retakes":
            fits = [fit for fit in fits if any(name == "recapture" for name, _ in fit.terms)]
        if self.known and 0 <= node.score_ply < len(self.lines.score_moves):
            own = self.lines.score_moves[node.score_ply]
            fits = [fit for fit in fits if fit.move == own] or fits
        if len(fits) == 1:
            return [(self.lines.after(node, fits[0].move), fits[0], 0.0)]
        likely = {after.move: nats for after, nats in self.likely(node)} if fits else {}
        found = []
        for fit in sorted(fits, key=lambda fit: fit.move.uci()):
            price = self.prices.cost(fit.terms) + likely[fit.move]
            found.append((self.lines.after(node, fit.move), fit, price))
        return found

    def hits(self, spoken: Spoken, first: int, last: int) -> list[Hit]:
        """Plies of the score from `first` to `last` that the phrase describes exactly, in order."""
        wording = self.wording(spoken)
        found: list[Hit] = []
        for block in range(first // _BLOCK, min(last, len(self.lines.score_moves)) // _BLOCK + 1):
            hits = self._hits.get((wording, block))
            if hits is None:
                hits = self._hits[wording, block] = self._hits_in(spoken, block * _BLOCK, (block + 1) * _BLOCK)
            found += hits
        if found and (found[0][0] < first or found[-1][0] > last):
            return found[bisect_left(found, (first,)) : bisect_left(found, (last + 1,))]
        return found

    def _hits_in(self, spoken: Spoken, first: int, last: int) -> list[Hit]:
        found: list[Hit] = []
        said = spoken.phrase.moves[0]
        if said.form == "opening":
            return found
        for ply in self._plies_in(first, last, said):
            move = self.lines.score_moves[ply]
            fit = compare(self.lines.score[ply], move, said)
            if fit is not None and not fit.slips:
                rivals = len(exact_fits(self.lines.score[ply], said))
                terms = (*fit.terms, ("ambiguous_known", log(rivals))) if rivals > 1 else fit.terms
                [fit] = self._cast([Fit(move, terms)], self.lines.score[ply], spoken)
                found.append((ply, fit, self.prices.cost(fit.terms)))
        return found

    def _plies_in(self, first: int, last: int, said: Description) -> Sequence[int]:
        """Plies of the score from `first` up to `last` whose moves go where it was said, in order."""
        moves = self.lines.score_moves
        if said.target is None:
            return range(first, min(last, len(moves)))
        if not self._going_to:
            for ply, move in enumerate(moves):
                self._going_to.setdefault(move.to_square, []).append(ply)
        targets = {at for at in (said.target, said.target_for_black) if at is not None}
        rows = [self._going_to.get(at, []) for at in targets]
        return sorted(ply for row in rows for ply in row[bisect_left(row, first) : bisect_left(row, last)])

    def near_hit(self, spoken: Spoken, ply: int) -> tuple[Fit, float] | None:
        """How the phrase misnames the score's move at a ply, if it does."""
        key = (self.wording(spoken), ply)
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

    def _priced(self, fits: list[Fit], node: LineNode, spoken: Spoken) -> list[PricedFit]:
        return self._at_cost(self._cast(fits, node, spoken))

    def _at_cost(self, fits: Sequence[Fit]) -> list[PricedFit]:
        cost = self.prices.cost
        found = [(fit.move, fit, cost(fit.terms)) for fit in fits]
        if len(found) > 1:
            found.sort(key=_nats)
        return found

    def _cast(self, fits: list[Fit], node: LineNode, spoken: Spoken) -> list[Fit]:
        """The fits, with whether side, move number, what is attacked and the opening are those that were said."""
        side, aim, named = self.cast.get(spoken.who), spoken.aim, self.openings.path(spoken.named)
        if not fits or (side is None and not spoken.at_move and aim is None and not named):
            return fits
        terms: Terms = ()
        if side is not None:
            terms = (("who" if side == node.board.turn else "who_not", 1.0),)
        if spoken.at_move:
            terms = (*terms, ("number" if spoken.at_move == node.board.fullmove_number else "number_not", 1.0))
        found = [Fit(fit.move, (*fit.terms, *terms), fit.slips) for fit in fits]
        if named:
            places = [self.lines.after(node, fit.move).place for fit in found]
            begun = ["named" if place == named[-1].place else "named_not" for place in places]
            found = [fit._replace(terms=(*fit.terms, (name, 1.0))) for fit, name in zip(found, begun, strict=True)]
        if aim is None:
            return found
        yes, no = f"aim_{aim.does}", f"aim_{aim.does}_not"
        return [fit._replace(terms=(*fit.terms, (yes if has_aim(node, fit.move, aim) else no, 1.0))) for fit in found]

    def aside(self, node: LineNode) -> tuple[Terms, float]:
        """What the move that leads to a node of a sideline is worth as chess, and its price in nats."""
        known = node.aside
        if known is None:
            terms = self.valuation.aside(node)
            known = node.aside = (terms, self.prices.cost(terms))
        return known

    def too_dear(self, node: LineNode, room: float) -> bool:
        """Whether a sideline's move is plainly worth too little for so many nats, before all of that is worked out."""
        soon = self.valuation.soon
        if node.aside is not None or soon is None:
            return False
        return self.prices.cost(soon(node)) + self._later_gain > room

    def skip(self, first: int, last: int) -> tuple[Terms, float]:
        """What it costs that the score's plies from `first` up to `last` were never spoken."""
        key = (first, last)
        known = self._skips.get(key)
        if known is None:
            obvious = self._obvious_before(last) - self._obvious_before(first)
            unspoken = last - first - obvious
            terms: list[tuple[str, float]] = []
            if obvious:
                terms.append(("skip_obvious", float(obvious)))
            if unspoken:
                theory = last <= self.openings.plies_of_theory
                terms.append(("skip_theory" if theory else "skip", 1.0))
                terms.append(("skip_theory_plies" if theory else "skip_plies", log(1.0 + unspoken)))
                terms.append(("skip_far", max(0.0, unspoken - 4) / 10))
            known = self._skips[key] = (tuple(terms), self.prices.cost(terms))
        return known

    def _obvious_before(self, ply: int) -> int:
        """How many of the score's moves before a ply go without saying: recaptures, castling, answers to a check."""
        if self._obvious is None:
            self._obvious = [0]
            for node, move in zip(self.lines.score, self.lines.score_moves, strict=False):
                retakes = node.captured and node.move is not None and node.move.to_square == move.to_square
                board = node.board
                self._obvious.append(self._obvious[-1] + (retakes or board.is_castling(move) or board.is_check()))
        return self._obvious[ply]

    def likely(self, node: LineNode) -> list[tuple[LineNode, float]]:
        """All next positions with the cost of their plies in nats, likeliest first."""
        found = self._guesses.get(node.number)
        if found is None:
            costs = ply_costs(node, self.prices.table, self.valuation)
            found = [(self.lines.after(node, move), cost) for move, cost in costs]
            self._guesses[node.number] = found
        return found

    def obvious(self, node: LineNode) -> list[LineNode]:
        """Next positions by plies that go without saying: recaptures, and answers to a check that are nearly forced."""
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


def _nats(fit: PricedFit) -> float:
    return fit[2]


def _likelier(way: tuple[float, Chain]) -> float:
    return way[0]

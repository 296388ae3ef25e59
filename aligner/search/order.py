"""Which phrases tell the score's moves in their order: a forward and a backward pass over its plies.

A move of the game is told once in its place, and what comes before and after it in the talk are the moves before and
after it. A phrase that fits a ply only in a sideline, or in a summary at the end, seldom stands in such a row. So each
exact description of a score's move is weighed by all rows through it (the sum-product algorithm on a chain, Rabiner
1989), and the phrase carries a sign that says how surely it is one of the row.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import exp, inf

import chess

from aligner.search.evidence import Described
from aligner.search.lattice import log_sum
from aligner.search.lines import Lines
from aligner.speech.listen import Speech, Spoken

_FARTHEST = 12
"""Plies that a row may leave out at once."""
_REACH = 240
"""Plies from the end of the weightiest row so far, beyond which none is gone on with: hardly a game has more, and time
stays linear."""
_SIGNS = ((0.8, "order.sure"), (0.3, "order.likely"), (0.05, "order.maybe"))
"""Least probability of each sign."""

Hit = tuple[int, int, int]
"""Place of the stretch, number of the phrase, ply before the move."""


def in_order(speech: Speech, start_fen: str, moves: Sequence[str], prices: Mapping[str, float]) -> Speech:
    """The speech, its phrases with signs that say how surely they tell the score's moves in order.

    Args:
        speech: what was heard.
        start_fen: position the game starts from.
        moves: the game's, in UCI.
        prices: nats that a move in the row is worth ("order_told") and that a ply left out of it costs ("order_skip").
    """
    told, skip = prices.get("order_told", 0.0), prices.get("order_skip", 0.0)
    if told <= 0.0:
        return speech  # a price file of before, whose rows are worth nothing
    described = Described(Lines(chess.Board(start_fen), moves))
    hits: list[Hit] = []
    for stretch in speech.stretches:
        for spoken in stretch.spoken:
            hits += [(stretch.number, spoken.number, ply) for ply in described.plies(spoken.phrase.moves[0])]
    if not hits:
        return speech
    signs = _signs(hits, _probabilities(hits, len(moves), told, skip))
    stretches = list(speech.stretches)
    for at in {stretch for stretch, number, _ in hits if number in signs}:
        stretches[at] = replace(stretches[at], spoken=tuple(_signed(each, signs) for each in stretches[at].spoken))
    return replace(speech, stretches=tuple(stretches))


def _probabilities(hits: Sequence[Hit], plies: int, told: float, skip: float) -> list[float]:
    """For each hit the share of the rows through it, by their weights, of all rows."""
    ahead = _sums(hits, plies, told, skip)
    turned = [(-at, number, plies - 1 - ply) for at, number, ply in reversed(hits)]
    behind = _sums(turned, plies, told, skip)[::-1]
    total = log_sum([0.0, *ahead])  # every row ends somewhere, and there may be none
    return [exp(min(a + b - told - total, 0.0)) for a, b in zip(ahead, behind, strict=True)]


def _sums(hits: Sequence[Hit], plies: int, told: float, skip: float) -> list[float]:
    """For each hit the logarithm of the summed weights of all rows that end in it; a row may begin anywhere."""
    until = [-inf] * plies
    skipped = [skip * between for between in range(_FARTHEST - 1, -1, -1)]
    found: list[float] = []
    here: dict[int, float] = {}  # of the plies that phrases of this stretch tell
    waiting: list[tuple[int, float]] = []
    stretch = None
    lead, most = 0, -inf
    for at, _, ply in hits:
        if at != stretch:
            for before, value in waiting:
                old = until[before]
                value = until[before] = value if old == -inf else log_sum([old, value])
                if value > most:
                    lead, most = before, value
            waiting.clear()
            here.clear()
            stretch = at
        if abs(ply - lead) > _REACH:
            found.append(told)
            continue
        known = here.get(ply)
        if known is None:
            first = max(ply - _FARTHEST, 0)
            prices = skipped[_FARTHEST - ply + first :]
            ways = [value - price for value, price in zip(until[first:ply], prices, strict=True)]
            known = here[ply] = told + log_sum([0.0, *[way for way in ways if way > -inf]])
        found.append(known)
        waiting.append((ply, known))
    return found


def _signs(hits: Sequence[Hit], probabilities: Sequence[float]) -> dict[int, str]:
    best: dict[int, float] = {}
    for (_, number, _), probability in zip(hits, probabilities, strict=True):
        best[number] = max(best.get(number, 0.0), probability)
    signs: dict[int, str] = {}
    for number, probability in best.items():
        for least, sign in _SIGNS:
            if probability >= least:
                signs[number] = sign
                break
    return signs


def _signed(spoken: Spoken, signs: Mapping[int, str]) -> Spoken:
    sign = signs.get(spoken.number)
    return spoken if sign is None else replace(spoken, signs=(*spoken.signs, sign))

"""Which phrases tell the score's moves in order: the sums against all rows tried one by one, and what a talk shows."""

from __future__ import annotations

from itertools import combinations
from math import exp, isclose

import chess
from hypothesis import given, settings
from hypothesis import strategies as st
from search.invented_talks import QUIET, score_of, words_of

from aligner.search import order
from aligner.search.order import Hit, in_order
from aligner.speech.listen import listen

PRICES = {"order_told": 2.0, "order_skip": 0.7}


def by_hand(hits: list[Hit], told: float, skip: float) -> list[float]:
    """The share of rows through each hit, of all rows of hits that rise in the talk and in the game."""
    weights = [0.0] * len(hits)
    total = 1.0  # the row of no hit
    for length in range(1, len(hits) + 1):
        for row in combinations(range(len(hits)), length):
            pairs = [(hits[a], hits[b]) for a, b in zip(row, row[1:], strict=False)]
            if all(a[0] < b[0] and 0 < b[2] - a[2] <= 12 for a, b in pairs):
                weight = exp(told * length - skip * sum(b[2] - a[2] - 1 for a, b in pairs))
                total += weight
                for at in row:
                    weights[at] += weight
    return [weight / total for weight in weights]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 15)), min_size=1, max_size=8, unique=True))
def test_the_sums_are_those_over_all_rows(places: list[tuple[int, int]]) -> None:
    """Rows tried one by one (sum-product against enumeration)."""
    hits = [(at, number, ply) for number, (at, ply) in enumerate(sorted(places))]
    found = order._probabilities(hits, 16, 2.0, 0.7)
    assert all(isclose(a, b, abs_tol=1e-9) for a, b in zip(found, by_hand(hits, 2.0, 0.7), strict=True))


def test_moves_told_in_their_place_are_surely_of_the_row_and_a_remark_out_of_place_is_not() -> None:
    """An invented talk that tells a quiet game and once, between two of its moves, a move of its end."""
    told = [move.replace("+", "") for move in QUIET.split()]
    text = ". ".join([*told[:10], f"One day {told[-1]}", *told[10:-1]]) + "."
    score = score_of(QUIET)
    speech = in_order(listen(words_of(text)), chess.STARTING_FEN, score.moves, PRICES)
    signs = [
        [sign for spoken in stretch.spoken for sign in spoken.signs if sign.startswith("order.")]
        for stretch in speech.stretches
    ]
    sure = sum("order.sure" in row for row in signs)
    assert sure >= 0.7 * len(told)
    assert "order.sure" not in signs[10]


def test_without_a_described_move_the_speech_stays_as_it_is() -> None:
    speech = listen(words_of("A talk about the weather."))
    assert in_order(speech, chess.STARTING_FEN, score_of(QUIET).moves, PRICES) is speech


def test_a_price_file_that_knows_no_rows_leaves_the_speech_as_it_is() -> None:
    speech = listen(words_of(". ".join(QUIET.split())))
    assert in_order(speech, chess.STARTING_FEN, score_of(QUIET).moves, {}) is speech

"""What leanings cost: probabilities of what a phrase may be must add up to one (the axioms of probability)."""

from __future__ import annotations

from math import exp

import pytest

from aligner.search.state import leaning_terms
from aligner.speech.leanings import Leaning

LEANING = Leaning(none=-1.5, again=-3.0, game=0.7, back=-2.0)


def probability(group: str) -> float:
    return exp(-sum(amount for _, amount in leaning_terms(LEANING, group)))


@pytest.mark.parametrize("groups", [("none", "again", "game", "branch"), ("none", "again", "return", "line")])
def test_probabilities_add_up_in_the_game_and_in_a_sideline(groups: tuple[str, ...]) -> None:
    assert sum(map(probability, groups)) == pytest.approx(1.0)


def test_odds_are_those_of_the_leaning() -> None:
    assert probability("game") / probability("branch") == pytest.approx(exp(LEANING.game))
    assert probability("return") / probability("line") == pytest.approx(exp(LEANING.back))


def test_without_leanings_nothing_is_priced() -> None:
    assert leaning_terms(None, "game") == ()

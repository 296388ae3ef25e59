"""What the words around a phrase make of it: features, weights, and talks that the weights have not seen."""

from __future__ import annotations

import sys
from math import log
from pathlib import Path

import numpy
import pytest

from aligner.captions import parse_captions
from aligner.speech.leanings import (
    Around,
    Leaning,
    LeaningModel,
    leaning_model,
    leaning_text,
    nats,
    read_leaning_model,
    with_leanings,
)
from aligner.speech.listen import Speech, listen

ROOT = Path(__file__).parents[2]
JUDGES = sorted((ROOT / "fixtures" / "talks" / "judge").glob("*.talk"))


def heard(text: str) -> Speech:
    words = f"WEBVTT\n\n00:00:00.000 --> 00:00:09.000\n{text}\n"
    return listen(parse_captions(words, "talk.vtt").words)


def place(speech: Speech, text: str) -> int:
    return [token.text for token in speech.tokens].index(text)


def test_words_before_count_by_how_near_they_stand() -> None:
    speech = heard("Nobody expected it. In the game she went knight f6, a quiet move.")
    found = set(Around(speech.tokens).before(place(speech, "knight")))
    assert {"near she", "near went", "-1 went", "-2 she", "before in", "before nobody", "any nobody"} <= found
    assert not {"near in", "before went", "-2 went"} & found


def test_a_sentence_is_known_by_how_it_begins() -> None:
    speech = heard("Nobody expected it. In the game she went knight f6, a quiet move.")
    found = set(Around(speech.tokens).before(place(speech, "knight")))
    assert {"begins in", "begins with in the", "pair in the", "pair the game"} <= found
    assert "begins nobody" not in found


def test_stops_stand_between_pairs() -> None:
    speech = heard("He stood well. Then knight f6.")
    found = set(Around(speech.tokens).before(place(speech, "knight")))
    assert {"pair well .", "pair . then"} <= found
    assert "pair well then" not in found


def test_squares_count_alike_and_so_do_pieces() -> None:
    one, other = heard("after rook e1 he played queen d5"), heard("after bishop g3 he played queen d5")
    assert set(Around(one.tokens).before(place(one, "queen"))) == set(
        Around(other.tokens).before(place(other, "queen"))
    )


def test_own_words_and_those_after() -> None:
    speech = heard("knight takes, of course, and wins")
    assert list(Around(speech.tokens).after(0, 2)) == [
        "in @",
        "in takes",
        "in @ takes",
        "then of",
        "then course",
        "then and",
        "then wins",
        "+1 of",
        "+2 course",
        "then of course",
        "ends takes comma of",
    ]


def test_weights_are_summed() -> None:
    model = LeaningModel(Leaning(0.5, 0.0, 1.0, -1.0), {"near if": Leaning(0.0, 0.0, -2.0, -0.5)})
    assert model.of(["near if", "near unknown"]) == Leaning(0.5, 0.0, -1.0, -1.5)


@pytest.mark.parametrize("odds", [-700.0, -31.0, -30.0, -2.0, 0.0, 0.3, 5.0, 40.0])
def test_nats_of_odds(odds: float) -> None:
    # reference library: numpy.logaddexp, log(exp(0) + exp(-x))
    assert nats(odds) == pytest.approx(float(numpy.logaddexp(0.0, -odds)), rel=1e-9, abs=1e-12)


def test_a_file_of_weights_is_read_as_written(tmp_path: Path) -> None:
    model = LeaningModel(
        Leaning(0.5, -0.25, 1.0, -1.0),
        {"near if": Leaning(0.0, 0.0, -2.0, -0.5), "then #": Leaning(0.01, 0.0, 0.0, 0.0)},
    )
    file = tmp_path / "leanings.txt"
    file.write_text(leaning_text(model, "Weights.", 0.02), encoding="utf-8")
    again = read_leaning_model(file)
    assert again.constant == model.constant
    assert again.weights == {"near if": model.weights["near if"]}  # the other one is too small to keep


def test_phrases_that_have_leanings_keep_them() -> None:
    speech = heard("in the game he played knight f6")
    flat = LeaningModel(Leaning(1.0, 2.0, 3.0, 4.0), {})
    once = with_leanings(speech, flat)
    assert all(one.leaning == flat.constant for stretch in once.stretches for one in stretch.spoken)
    assert with_leanings(once) is once


def test_every_reading_of_a_stretch_has_the_words_before_it() -> None:
    speech = heard("in the game he played knight takes f6")
    model = LeaningModel(Leaning(0.0, 0.0, 0.0, 0.0), {"near played": Leaning(1.0, 2.0, 3.0, 4.0)})
    (stretch,) = (one for one in with_leanings(speech, model).stretches if one.start == place(speech, "knight"))
    assert len(stretch.spoken) > 1
    assert {one.leaning for one in stretch.spoken} == {Leaning(1.0, 2.0, 3.0, 4.0)}


def test_a_condition_leans_to_a_sideline() -> None:
    played = with_leanings(heard("And so in the game she played knight f6, and he took."))
    supposed = with_leanings(heard("But suppose that instead she had tried knight f6, then he could have taken."))
    in_game, aside = (
        next(stretch.spoken[0] for stretch in one.stretches if stretch.start == place(one, "knight")).leaning
        for one in (played, supposed)
    )
    assert in_game is not None and aside is not None
    assert in_game.game > 0 > aside.game


def test_talks_not_fitted_on_are_leant_to_the_right_side() -> None:
    """Held-out talks (invented): game or sideline, for each true mention, with what went before it known."""
    sys.path.insert(0, str(ROOT / "tests" / "measure"))
    try:
        from leaning_cases import cases_of
        from truth import read_talk
    finally:
        sys.path.pop(0)
    model, left, right, often = leaning_model(), 0.0, 0, 0
    cases = [case for file in JUDGES[::4] for case in cases_of(read_talk(file)) if case.what in ("game", "back")]
    for case in cases:
        leaning = model.of(case.features)
        odds = leaning.game if case.what == "game" else leaning.back
        left += nats(odds if case.true else -odds)
        right += (odds > 0) == case.true
        often += case.true
    share = often / len(cases)
    chance = -share * log(share) - (1 - share) * log(1 - share)
    assert len(cases) > 300
    assert left / len(cases) < 0.35 * chance
    assert right / len(cases) > 0.9

"""Do a talk and a score belong together: the longest chain against brute force, and what a wrong score looks like."""

from __future__ import annotations

import random

import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from search.invented_talks import OTHER, QUIET, TRADES, score_of, spoken, words_of

from aligner.search.evidence import Evidence, agreement, learn_cast
from aligner.speech.listen import Speech, listen


def heard(text: str) -> Speech:
    return listen(words_of(text))


def plies_named(san: str, sans: list[str]) -> list[int]:
    """Plies at which the game plays a move that a symbol names: python-chess decides."""
    board, plies = chess.Board(), []
    for ply, played in enumerate(sans):
        move = board.parse_san(played)
        try:
            if board.parse_san(san) == move and (board.is_capture(move) or "x" not in san):
                plies.append(ply)
        except ValueError:
            pass
        board.push(move)
    return plies


def longest(choices: list[list[int]]) -> int:
    """The longest rising chain with at most one of each list, by trying all ends."""
    best: dict[int, int] = {-1: 0}  # last ply to length
    for plies in choices:
        grown = dict(best)
        for ply in plies:
            reach = 1 + max(length for last, length in best.items() if last < ply)
            grown[ply] = max(grown.get(ply, 0), reach)
        best = grown
    return max(best.values())


# An invented game in which the same squares are visited again and again.
SHUFFLE = "Nf3 Nf6 Nc3 Nc6 Rg1 Rg8 Rh1 Rh8 Ng5 Ng4 Nf3 Nf6 Rg1 Rg8 Nb5 Nb4 Nc3 Nc6 Rh1 Rh8 Ng5 Ng4"


@settings(max_examples=30, deadline=None)
@given(st.sampled_from([QUIET, OTHER, TRADES, SHUFFLE]), st.integers(0, 2**32), st.integers(0, 18))
def test_the_chain_is_the_longest_there_is(game: str, seed: int, count: int) -> None:
    sans = game.split()
    chance = random.Random(seed)
    talk = [san for san in chance.choices(sans, k=count) if len(san) > 2]  # squares alone may name any move to them
    if seed % 2:
        talk.sort(key=sans.index)
    evidence = agreement(heard(" and so on. ".join([*talk, ""])), *start_and_moves(game))
    assert evidence.matched == longest([plies_named(san, sans) for san in talk])
    assert (evidence.plies, evidence.spoken) == (len(sans), len(talk))
    assert evidence.share == evidence.matched / max(min(len(sans), len(talk)), 1)


def start_and_moves(sans: str) -> tuple[str, tuple[str, ...]]:
    score = score_of(sans)
    return score.start_fen, score.moves


SEPARATE = " The crowd was quiet. "


def recital(sans: str) -> str:
    """Each move in plain words, with other words between."""
    return SEPARATE.join(spoken(san) for san in sans.split())


def test_a_talk_fits_its_own_score_and_no_other() -> None:
    for own, other in ((QUIET, OTHER), (OTHER, QUIET), (TRADES, OTHER), (OTHER, TRADES)):
        speech = heard(recital(own))
        assert agreement(speech, *start_and_moves(own)).fits
        assert not agreement(speech, *start_and_moves(other)).fits
        assert agreement(speech, *start_and_moves(own)).matched > 0.8 * len(own.split())


@pytest.mark.parametrize("own", [QUIET, OTHER])
def test_moves_told_in_a_row_are_evidence(own: str) -> None:
    evidence = agreement(heard(spoken(own)), *start_and_moves(own))
    assert evidence.spoken >= 10 and evidence.matched >= 0.8 * len(own.split())


def test_a_wrong_score_is_seen_where_moves_are_told_in_a_row() -> None:
    assert not agreement(heard(spoken(OTHER)), *start_and_moves(QUIET)).fits


def spelt(text: str) -> str:
    """The text as a recogniser may spell squares: "f 3"."""
    return " ".join(f"{w[0]} {w[1:]}" if len(w.rstrip(".")) == 2 and w[1].isdigit() else w for w in text.split())


def test_squares_in_two_words_are_evidence_too() -> None:
    evidence = agreement(heard(spelt(recital(QUIET))), *start_and_moves(QUIET))
    assert evidence.spoken >= 10 and evidence.matched >= 10


def test_with_little_to_go_by_nothing_is_said_against_a_score() -> None:
    assert agreement(heard(""), *start_and_moves(QUIET)).fits
    assert agreement(heard("Ra8. Qh5. Nothing else."), *start_and_moves(QUIET)).fits
    assert agreement(heard(recital(QUIET)), chess.STARTING_FEN, ()).fits


def test_the_sentence_gives_the_numbers() -> None:
    assert "3 of the score's 40 moves" in Evidence(3, 40, 22, {}).sentence()
    assert "22" in Evidence(3, 40, 22, {}).sentence()


def test_who_is_who_is_learnt_from_the_moves() -> None:
    """A word stands for a side when it does so three times, and four times in five."""
    told = [("he", True)] * 4 + [("he", False), ("she", False), ("she", False)] + [("i", False)] * 3 + [("", True)] * 9
    assert learn_cast(told) == {"white": True, "black": False, "he": True, "i": False}
    assert learn_cast([("we", True)] * 3 + [("we", False)] * 3) == {"white": True, "black": False}
    assert learn_cast([("white", False)] * 9) == {"white": True, "black": False}
    assert learn_cast([]) == {"white": True, "black": False}


def test_a_talk_shows_by_itself_who_plays_white() -> None:
    sans = QUIET.split()
    talk = [f"{'she' if ply % 2 == 0 else 'he'} played {spoken(san)}" for ply, san in enumerate(sans)]
    evidence = agreement(heard(" ".join(talk)), *start_and_moves(QUIET))
    assert evidence.cast["she"] is True and evidence.cast["he"] is False

"""Stretches and signs: where a talk may speak of a move, and what is said around it."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aligner.captions.words import Word
from aligner.speech.listen import Speech, Spoken, listen
from aligner.speech.numbers import spoken_number


def speech_of(text: str, *names: str, rest: int = 50) -> Speech:
    """Words of 350 ms with silence between them, in milliseconds."""
    step = 350 + rest
    return listen([Word(word, step * i, step * i + 350, 0) for i, word in enumerate(text.split())], names)


def at(speech: Speech, words: str) -> Spoken:
    """The phrase with just these tokens."""
    return next(
        spoken for stretch in speech.stretches for spoken in stretch.spoken
        if " ".join(t.text for t in speech.tokens[spoken.phrase.start : spoken.phrase.end]) == words
    )  # fmt: skip


def signs(text: str, words: str, *names: str) -> set[str]:
    return set(at(speech_of(text, *names), words).signs)


# Common practice: what such words tell of the talk's way through the tree (the task's table).
@pytest.mark.parametrize(("text", "words", "sign"), [
    ("instead knight c3", "knight c3", "near.instead"),
    ("what if knight c3", "knight c3", "near.instead"),
    ("better was knight c3", "knight c3", "near.better"),
    ("if knight c3", "knight c3", "near.suppose"),
    ("white wants to play knight c3", "knight c3", "near.plan"),
    ("back to the game knight c3", "knight c3", "near.back"),
    ("in that same line knight c3", "knight c3", "near.partway"),
    ("you can't play knight c3", "knight c3", "near.refuse"),
    ("remember knight c3", "knight c3", "near.remember"),
    ("he played knight c3", "knight c3", "near.played"),
    ("and then knight c3", "knight c3", "near.then"),
    ("instead of all these things there was perhaps knight c3", "knight c3", "far.instead"),
    ("knight c3 was possible", "knight c3", "then.after_hypothetical"),
    ("the c3 square", "c3", "article"),
    ("the knight c3", "the knight c3", "definite"),
    ("a hole on c3", "c3", "preposition"),
    ("knight c3 e5", "e5", "after.move"),
    ("knight c3 e5", "c3", "piece_left_out"),
    ("the c3 square", "c3", "then.noun"),
    ("bishop b5 check", "bishop b5 check", "check"),
    ("knight c3, e5", "e5", "comma"),
    ("now. knight c3", "knight c3", "pause"),
    ("knight c3", "knight c3", "form.piece_square"),
    ("she could have gone knight c3", "knight c3", "by.gone"),
    ("if he had then gone knight c3", "knight c3", "ago.if"),
    ("knight c3 would be met", "knight c3", "next.would"),
    ("but so knight c3", "knight c3", "near.turn"),
    ("he took on c3", "took on c3", "past_tense"),
    ("in the game he takes on d4 and then bishop b5", "bishop b5", "said.back"),
    ("if he takes on d4 and i play bishop b5", "bishop b5", "said.suppose"),
    ("instead of all that. perhaps knight c3", "knight c3", "past.instead"),
])  # fmt: skip
def test_signs(text: str, words: str, sign: str) -> None:
    assert sign in signs(text, words)


def test_a_cue_of_the_sentence_before_is_not_near() -> None:
    assert "near.instead" not in signs("he had nothing instead. knight c3", "knight c3")


def test_the_game_named_says_all_that_a_little_word_would() -> None:
    assert {"near.turn", "far.turn", "past.turn"}.isdisjoint(signs("but back to the game knight c3", "knight c3"))


def test_a_lasting_cue_ends_with_its_sentence_and_stands_once() -> None:
    assert "said.back" not in signs("in the game he takes on d4. then bishop b5", "bishop b5")
    assert "said.back" not in signs("in the game bishop b5", "bishop b5")
    assert "past_tense" not in signs("he takes on c3", "takes on c3")


def test_single_words_count_inside_the_sentence_and_only_common_ones() -> None:
    found = signs("he had that. then a marmalade knight c3. would you", "knight c3")
    assert {sign for sign in found if sign.partition(".")[0] in ("by", "ago", "next")} == {"by.then", "by.a"}


def test_silence_parts_sentences_where_captions_have_no_full_stops() -> None:
    assert "pause" in set(at(speech_of("so quiet knight c3", rest=500), "knight c3").signs)
    assert "pause" not in signs("so quiet knight c3", "knight c3")


def test_a_cue_does_not_reach_across_another_move() -> None:
    assert not {"near.instead", "far.instead"} & signs("instead knight c3 and then bishop b5", "bishop b5")


@pytest.mark.parametrize(("text", "who"), [
    ("and he plays knight c3", "he"), ("she's got knight c3", "she"), ("white plays knight c3", "white"),
    ("black's knight c3", "black"), ("then marl plays knight c3", "marl"), ("then Marl's knight c3", "marl's"),
    ("i tried knight c3", "i"), ("there came knight c3", ""), ("he was late. knight c3", ""),
])  # fmt: skip
def test_who_moves(text: str, who: str) -> None:
    assert at(speech_of(text, "Marl, Ada", "Fenn"), "knight c3").who == who


@pytest.mark.parametrize(("text", "number"), [
    ("on move 14 knight c3", 14), ("on move fourteen knight c3", 14), ("at move number 7 knight c3", 7),
    ("knight c3 on move twenty two", 22), ("move 14. knight c3", 0), ("good move knight c3", 0),
])  # fmt: skip
def test_move_numbers(text: str, number: int) -> None:
    assert at(speech_of(text), "knight c3").at_move == number


@pytest.mark.parametrize(("texts", "number"), [
    ("", 0), ("one", 1), ("nineteen", 19), ("twenty", 20), ("twenty one", 21), ("ninety nine", 99), ("14", 14),
    ("#14", 14), ("number 3", 3), ("199", 199), ("200", 0), ("0", 0), ("zero", 0), ("forty move", 40),
    ("ten two", 10), ("tea", 0),
])  # fmt: skip
def test_numbers_in_words_and_figures(texts: str, number: int) -> None:
    assert spoken_number(texts.split()) == number


@pytest.mark.parametrize("text", [
    "1" * 5000, "00000199999", "000001" + "0" * 5000,
])  # fmt: skip
def test_a_number_too_long_is_none(text: str) -> None:
    assert spoken_number([text]) == 0


_WORDS = (
    "knight bishop queen rook king pawn takes e4 e5 f3 d d5 castles short check with the a to on from instead if "
    "back game of three four be see queen's king's light squared other equals queens recaptures trades and now, then. "
    "Nf3 exd5 O-O e8=Q F-3 move 14 he white sicilian again"
)
VOCABULARY = _WORDS.split()


@settings(max_examples=80, deadline=None)
@given(st.lists(st.one_of(st.sampled_from(VOCABULARY), st.text(st.characters(exclude_categories=["Z", "C"]), min_size=1,
                                                               max_size=6)), max_size=25))  # fmt: skip
def test_stretches_are_in_order_and_phrases_lie_inside_the_talk(words: list[str]) -> None:
    speech = speech_of(" ".join(words))
    assert [stretch.number for stretch in speech.stretches] == list(range(len(speech.stretches)))
    starts = [stretch.start for stretch in speech.stretches]
    assert starts == sorted(set(starts))
    numbers = [spoken.number for stretch in speech.stretches for spoken in stretch.spoken]
    assert numbers == list(range(len(numbers)))
    for stretch in speech.stretches:
        ends = [spoken.phrase.end for spoken in stretch.spoken]
        assert ends == sorted(ends, reverse=True)
        for spoken in stretch.spoken:
            assert spoken.phrase.start == stretch.start < spoken.phrase.end <= len(speech.tokens)
            first, last = speech.span(spoken.phrase)
            assert 0 <= first < last <= len(speech.words)
            said = [token.text for token in speech.tokens[spoken.phrase.start : spoken.phrase.end]]
            within = "".join(word.text for word in speech.words[first:last]).lower()
            assert all(text[:1] in within for text in said if text.isascii())
    assert listen(speech.words) == speech

"""Sentences restored in captions without punctuation, measured against the script's punctuation (invented talks)."""

from __future__ import annotations

import pytest
from fit_sentences import measure, scripted
from hypothesis import given
from hypothesis import strategies as st
from scripted_records import SCRIPTS

from aligner.chapters.sentences import is_punctuated, sentences
from aligner.record.model import SpokenWord

SAID = "so he plays and it is a knight. Why? but of the e4 you i white !".split()
WORDS = st.lists(st.sampled_from(SAID), max_size=120)


@given(WORDS, st.data())
def test_every_word_is_in_one_sentence_and_no_move_is_cut(texts: list[str], data: st.DataObject) -> None:
    words = [SpokenWord(text, at * 0.4, at * 0.4 + 0.3) for at, text in enumerate(texts)]
    starts = sorted(data.draw(st.sets(st.integers(0, max(0, len(texts) - 3)), max_size=8))) if len(texts) > 3 else []
    moves = [(at, at + 2) for at, after in zip(starts, [*starts[1:], 10**9], strict=False) if after >= at + 2]
    found = sentences(words, moves)
    assert [at for sentence in found for at in range(sentence.first, sentence.past)] == list(range(len(words)))
    if not is_punctuated(words):
        cuts = {sentence.past for sentence in found}
        assert not any(first < cut < past for first, past in moves for cut in cuts)
        assert all(sentence.past - sentence.first <= 40 for sentence in found)


def test_a_pause_and_another_speaker_end_sentences() -> None:
    texts = "we looked at the board for some time the clock was running down".split()
    starts = [at * 0.4 + (2.0 if at > 7 else 0.0) for at in range(len(texts))]
    words = [SpokenWord(text, start, start + 0.3) for text, start in zip(texts, starts, strict=True)]
    assert [sentence.past for sentence in sentences(words, [])] == [8, 13]
    two = [SpokenWord(text, at * 0.4, at * 0.4 + 0.4, "Ada" if at < 8 else "Ola") for at, text in enumerate(texts)]
    assert [sentence.past for sentence in sentences(two, [])] == [8, 13]


@pytest.mark.parametrize("name", sorted(path.stem for path in SCRIPTS.glob("b-*.talk")))
def test_how_well_they_are_restored(name: str) -> None:
    right, found, true, clauses = measure(SCRIPTS / f"{name}.talk")
    # without any pause to go by: most cuts stand where the script has at least a comma
    assert clauses / found > 0.75
    assert right / true > 0.4
    assert 0.5 < found / true < 1.4


def test_the_script_has_the_punctuation_it_is_measured_by() -> None:
    words, moves = scripted(SCRIPTS / "b-trainer.talk")
    assert sum(word.endswith((".", "?", "!")) for word in words) > 60 and len(moves) > 80

"""When words are said: inside their cue, in order, never absurdly slow."""

from __future__ import annotations

from itertools import pairwise

import pytest

from aligner.captions import Captions, parse_captions
from aligner.captions.timing import LETTER, WORD


def vtt(*cues: tuple[str, str]) -> Captions:
    return parse_captions("WEBVTT\n\n" + "\n\n".join(f"{times}\n{text}" for times, text in cues), "talk.vtt")


def times(captions: Captions) -> list[tuple[str, int, int]]:
    return [(word.text, word.start, word.end) for word in captions.words]


def test_the_pace_is_that_of_an_ordinary_talk() -> None:
    # Common practice: 150 to 170 words a minute, five characters a word.
    assert 150 <= 60_000 / (WORD + 5 * LETTER) <= 170


def test_words_fill_their_cue_by_length() -> None:
    found = times(vtt(("00:01.000 --> 00:03.000", "a bishop a bishop")))
    assert (found[0][1], found[-1][2]) == (1000, 3000)
    assert all(a[2] == b[1] for a, b in pairwise(found))
    short, long = found[0][2] - found[0][1], found[1][2] - found[1][1]
    assert long > 1.5 * short
    assert abs(found[2][1] - 2000) <= 1


def test_a_cue_that_stays_on_screen_through_a_silence() -> None:
    captions = vtt(("00:01.000 --> 01:01.000", "and knight takes pawn"))
    assert captions.duration < 1000 + 4 * 900


def test_a_cue_that_runs_into_the_next_keeps_its_words_together() -> None:
    captions = vtt(("00:00.000 --> 00:05.000", "one two three"), ("00:02.000 --> 00:06.000", "four five"))
    assert [word.text for word in captions.words] == ["one", "two", "three", "four", "five"]
    assert captions.words[2].end == 2000 == captions.words[3].start
    assert [problem.line for problem in captions.problems] == [3]


def test_cues_that_begin_together_follow_each_other() -> None:
    captions = vtt(("00:00.000 --> 00:02.000", "<v Ada>one two"), ("00:00.000 --> 00:02.000", "<v Bo>three four"))
    assert [(word.text, word.speaker) for word in captions.words] == [
        ("one", "Ada"),
        ("two", "Ada"),
        ("three", "Bo"),
        ("four", "Bo"),
    ]
    assert captions.words[-1].end == 2000
    assert [word.start for word in captions.words] == sorted({word.start for word in captions.words})


def test_cues_out_of_order_are_put_in_order_and_told() -> None:
    captions = vtt(("00:09.000 --> 00:10.000", "last"), ("00:01.000 --> 00:02.000", "first"))
    assert [(word.text, word.cue) for word in captions.words] == [("first", 1), ("last", 0)]
    assert [problem.line for problem in captions.problems] == [6]
    assert [cue.text for cue in captions.cues] == ["last", "first"]


def test_words_between_inline_times_share_what_is_between() -> None:
    captions = vtt(("00:00.000 --> 00:04.000", "one <00:01.000>two tri <00:02.000>four"))
    assert [word.start for word in captions.words] == [0, 1000, 1500, 2000]


def test_an_inline_time_inside_a_word_is_not_the_next_words() -> None:
    captions = vtt(("00:00.000 --> 00:02.000", "kni<00:01.500>ght f3"))
    assert [word.text for word in captions.words] == ["knight", "f3"]
    assert captions.words[1].start < 1500


def test_problems_of_a_kind_are_listed_up_to_a_number_and_then_counted() -> None:
    captions = vtt(*((f"00:00:{second:02d},000 --> 00:00:{second:02d},500", "one") for second in range(30)))
    assert len(captions.problems) == 11
    assert "in 19 more places" in captions.problems[-1].message


@pytest.mark.parametrize("end", ["00:01.000", "00:00.000"])
def test_a_cue_without_length(end: str) -> None:
    captions = vtt((f"00:01.000 --> {end}", "one two"))
    assert 1000 == captions.words[0].start < captions.words[1].start < captions.words[1].end < 3000

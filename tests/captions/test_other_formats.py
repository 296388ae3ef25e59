"""SubRip, SBV and plain text. None has a standard: what is checked is common practice unless a source is named."""

from __future__ import annotations

from pathlib import Path

import pytest
import webvtt

from aligner.captions import Captions, parse_captions, read_captions

FIXTURES = Path(__file__).parents[2] / "fixtures" / "captions"


def cues(captions: Captions) -> list[tuple[int, int, str]]:
    return [(cue.start, cue.end, cue.text) for cue in captions.cues]


def test_subrip() -> None:
    captions = read_captions(FIXTURES / "lesson.srt")
    assert (captions.format, captions.problems) == ("subrip", ())
    assert cues(captions) == [
        (1000, 3000, "White begins with\ne4,"),
        (3500, 6000, "- Knight to f3\n- and the knight to c6"),
        (6000, 8000, "move number\n3"),
    ]
    assert [cue.line for cue in captions.cues] == [2, 7, 13]


@pytest.mark.parametrize("name", ["lesson.srt", "lesson.sbv"])
def test_cue_times_are_those_of_webvtt_py(name: str) -> None:
    # Outside opinion: PyPI webvtt-py.
    theirs = (webvtt.from_srt if name.endswith("srt") else webvtt.from_sbv)(str(FIXTURES / name)).captions
    assert [(cue.start, cue.end) for cue in read_captions(FIXTURES / name).cues] == [
        (cue.start_time.in_milliseconds(), cue.end_time.in_milliseconds()) for cue in theirs
    ]


@pytest.mark.parametrize(
    "text",
    [
        "1\n00:00:01,000 --> 00:00:02,000\none\n\n2\n00:00:03,000 --> 00:00:04,000\ntwo\n",
        "1\n00:00:01.000 --> 00:00:02.000\none\n2\n00:00:03.000 --> 00:00:04.000\ntwo",
        "00:00:01,000 --> 00:00:02,000\none\n\n00:00:03,000 --> 00:00:04,000\ntwo",
        "\n\n1\n\n0:00:01,000-->0:00:02,000\n\none\n\n\n2\n\n0:00:03,000 --> 0:00:04,000\n\ntwo\n\n\n",
        "\ufeff1\r\n00:00:01,000 --> 00:00:02,000\r\none\r\n\r\n2\r\n00:00:03,000 --> 00:00:04,000\r\ntwo",
    ],
)
def test_subrip_as_it_is_found(text: str) -> None:
    captions = parse_captions(text, "talk.srt")
    assert cues(captions) == [(1000, 2000, "one"), (3000, 4000, "two")]
    assert captions.problems == ()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (r"{\an8}Nf3 is <b>strong</b>", ["Nf3", "is", "strong"]),
        ('<font color="#ff0000">Nf3</font>', ["Nf3"]),
        ("one<br>two<br/>three", ["one", "two", "three"]),
        ("<I>one</I>", ["one"]),
        (r"{\i1}one{\i0} two", ["one", "two"]),
        ("{set} of [braces]", ["{set}", "of", "[braces]"]),
        ("Tom &amp; Jerry", ["Tom", "&", "Jerry"]),
        (">> hello >>> there >>you", ["hello", "there", "you"]),
        ("check!", ["check!"]),
        ("♪ la", ["♪", "la"]),
    ],
)
def test_subrip_markup(text: str, words: list[str]) -> None:
    captions = parse_captions(f"1\n00:00:01,000 --> 00:00:02,000\n{text}\n", "talk.srt")
    assert [word.text for word in captions.words] == words


def test_a_number_that_is_text_stays() -> None:
    captions = parse_captions(
        "1\n00:00:01,000 --> 00:00:02,000\nin the year\n1984\n\n2\n00:00:03,000 --> 00:00:04,000\ntwo", "talk.srt"
    )
    assert captions.cues[0].text == "in the year\n1984"


@pytest.mark.parametrize(
    ("time", "start"),
    [
        ("-00:00:01,000 --> 00:00:02,000", 0),
        ("00:01,000 --> 00:02,000", 1000),
        ("00:00:01 --> 00:00:02", 1000),
        ("00:00:01,0 -> 00:00:02,0", 1000),
    ],
)
def test_subrip_times_that_are_mended_and_told(time: str, start: int) -> None:
    captions = parse_captions(f"1\n{time}\none\n", "talk.srt")
    assert captions.words[0].start == start
    assert {problem.line for problem in captions.problems} == {2}


def test_subrip_times_that_cannot_be_read_are_told() -> None:
    captions = parse_captions("1\n00:00:01,000 --> 00:00:02,000\none\n\n2\n00:00:xx --> soon\nlost\n", "talk.srt")
    assert [word.text for word in captions.words] == ["one"]
    assert [(problem.line, "passed over" in problem.message) for problem in captions.problems] == [(6, True)]


def test_sbv() -> None:
    captions = read_captions(FIXTURES / "lesson.sbv")
    assert (captions.format, captions.problems) == ("sbv", ())
    assert cues(captions) == [(1000, 3000, "White begins with e4,\nand Black"), (3500, 6000, "answers e5.")]


def test_plain_text() -> None:
    captions = read_captions(FIXTURES / "lesson.txt")
    assert (captions.format, captions.problems) == ("text", ())
    assert [(cue.start, cue.text) for cue in captions.cues] == [
        (1000, "White begins with e4,"),
        (3000, "and Black\nanswers e5."),
        (3_600_000, "An hour later: knight f3."),
    ]
    # The end is the next line's time, and for the last line what its words take.
    assert [cue.end for cue in captions.cues[:2]] == [3000, 3_600_000]
    assert 3_601_000 < captions.cues[2].end == captions.duration < 3_606_000


def test_plain_text_with_a_heading_and_short_lines() -> None:
    captions = parse_captions("A talk\n\n[0:01]one\n[ 0:02]\n[0:03.5]  two\n[75:00] three", "talk.txt")
    assert [(word.text, word.start) for word in captions.words if word.text in ("one", "two", "three")] == [
        ("one", 1000),
        ("two", 3500),
        ("three", 4_500_000),
    ]
    assert [problem.line for problem in captions.problems] == [1]


@pytest.mark.parametrize("name", ["lesson.vtt", "lesson.srt", "lesson.sbv", "lesson.txt"])
def test_the_format_is_told_from_the_text_not_the_name(name: str) -> None:
    text = (FIXTURES / name).read_bytes().decode()
    assert parse_captions(text, "unknown").words == read_captions(FIXTURES / name).words

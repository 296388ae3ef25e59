"""The chapter file against the W3C WebVTT specification (Candidate Recommendation, sections as numbered there)."""

from __future__ import annotations

import html
import io
import re

import pytest
import webvtt
from hypothesis import given
from hypothesis import strategies as st

from aligner.chapters import Chapter, chapter_list, chapter_track

THREE = (
    Chapter(0.0, 75.0, "Introduction"),
    Chapter(75.0, 3725.5, "The sacrifice <19.Bxh7+> & what follows -->"),
    Chapter(3725.5, 3800.25, "Closing words"),
)
# 4.1, "WebVTT timestamp": hours of two or more digits, two digits each, three decimals
TIMESTAMP = r"(?:\d{2,}:)?[0-5]\d:[0-5]\d\.\d{3}"


def cues(track: str) -> list[tuple[float, float, str]]:
    """The cues as webvtt-py, a parser of others, reads them."""
    read = webvtt.from_buffer(io.StringIO(track))
    return [(c.start_time.in_milliseconds() / 1000, c.end_time.in_milliseconds() / 1000, c.raw_text) for c in read]


def check_chapter_file(track: str) -> list[tuple[float, float, str]]:
    """4.6.2: only nested cues (4.5.1), each payload chapter title text (4.2.3); returns the cues."""
    blocks = track.removesuffix("\n").split("\n\n")
    assert blocks[0] == "WEBVTT"
    found = []
    for block in blocks[1:]:
        identifier, timing, *payload = block.split("\n")
        assert "-->" not in identifier
        assert re.fullmatch(rf"{TIMESTAMP} --> {TIMESTAMP}", timing)
        assert len(payload) == 1 and payload[0].strip()  # 4.2.3: normally one line
        assert "-->" not in payload[0] and "<" not in payload[0]
        assert re.search(r"&(?!amp;|lt;|gt;)", payload[0]) is None
        found.append(payload[0])
    assert len({block.split("\n")[0] for block in blocks[1:]}) == len(blocks) - 1
    read = cues(track)
    assert [title for _, _, title in read] == found
    for (start, end, _), (following, _, _) in zip(read, read[1:], strict=False):
        assert start < end <= following  # 4.5.1: of any two cues one lies in the other, or they are apart
    assert all(start < end for start, end, _ in read)
    return read


def test_another_parser_reads_the_same_chapters() -> None:
    read = check_chapter_file(chapter_track(THREE))
    assert [(start, end) for start, end, _ in read] == [(0.0, 75.0), (75.0, 3725.5), (3725.5, 3800.25)]
    assert [html.unescape(title) for _, _, title in read] == [chapter.title for chapter in THREE]


def test_hours_beyond_two_digits() -> None:
    assert "100:00:00.000 --> 100:00:10.000" in chapter_track([Chapter(360_000.0, 360_010.0, "Late")])


@given(st.text(min_size=1))
def test_no_title_breaks_the_file(title: str) -> None:
    track = chapter_track([Chapter(0.0, 10.0, f"A{title}"), Chapter(10.0, 20.0, "B")])
    assert len(check_chapter_file(track)) == 2


def test_the_list_has_minutes_and_titles_or_hours_throughout() -> None:
    short = (THREE[0], Chapter(75.0, 700.0, "The end: 40.Kf2"))
    assert chapter_list(short) == "0:00 Introduction\n1:15 The end: 40.Kf2\n"
    assert chapter_list(THREE).splitlines()[0] == "0:00:00 Introduction"
    assert chapter_list(THREE).splitlines()[2] == "1:02:05 Closing words"


@pytest.mark.parametrize("sign", ["\n", "\r", "\u2028", "\x00", "\u202e", "\u2066"])
def test_titles_stay_on_their_line_and_in_their_direction(sign: str) -> None:
    listed = chapter_list([Chapter(0.0, 10.0, f"one{sign}two")])
    assert listed.count("\n") == 1 and (sign == "\n" or sign not in listed)

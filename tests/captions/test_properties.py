"""What holds for any input: an answer or one sentence, spans that point at their words, time that does not run back."""

from __future__ import annotations

import subprocess
import sys
import time
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aligner.captions import Captions, parse_captions, read_captions
from aligner.captions.decoding import decode
from aligner.errors import CaptionsError

# Pieces of which captions are made, so that chance finds the corners between them.
PARTS = st.sampled_from(
    [
        "WEBVTT",
        "\n",
        "\n\n",
        "\r\n",
        "\r",
        "00:00.000 --> 00:01.000",
        "00:00:05,000 --> 00:00:04,000",
        "-->",
        "->",
        "0:00:01.000,0:00:02.000",
        "[0:01]",
        "[1:00:00] ",
        "-00:00:01,000 --> 00:00:09,000",
        "NOTE",
        "STYLE",
        "1",
        " ",
        "e4",
        "knight f3",
        "<v Ada>",
        "</v>",
        "<c>",
        "</c>",
        "<00:00:00.500>",
        "<99:00.000>",
        "<",
        ">",
        ">>",
        "&gt;&gt;",
        "&amp;",
        "&",
        "&#27;",
        "&nbsp;",
        r"{\an8}",
        "[br]",
        "<br>",
        "<rt>",
        "</ruby>",
        "\x1b",
        "\x00",
        "\u2028",
        "\u200d",
        "\ud800",
        "\ufeff",
    ]
)


def check(captions: Captions) -> None:
    assert captions.words
    places: set[tuple[int, int]] = set()
    before = 0
    for word in captions.words:
        assert before <= word.start <= word.end <= captions.duration
        before = word.start
        assert word.text and not any(sign.isspace() for sign in word.text)
        assert "\x1b" not in word.text and "\x00" not in word.text
        assert 0 <= word.cue < len(captions.cues)
        for span in (word.span, *word.echoes):
            raw = captions.source[slice(*span)]
            assert raw and not raw[0].isspace() and not raw[-1].isspace()
            assert span not in places
            places.add(span)
    assert all(0 <= cue.start <= cue.end for cue in captions.cues)
    lines = [problem.line for problem in captions.problems]
    assert lines == sorted(lines) and all(
        1 <= line <= captions.source.count("\n") + captions.source.count("\r") + 1 for line in lines
    )


def read(text: str) -> None:
    try:
        captions = parse_captions(text, "talk.vtt")
    except CaptionsError as error:
        assert str(error).isprintable() and str(error).endswith(".")
    else:
        check(captions)


@given(st.lists(PARTS, max_size=40).map("".join))
@settings(max_examples=400, deadline=None)
def test_anything_made_of_the_parts_of_captions(text: str) -> None:
    read(text)
    read("WEBVTT\n\n00:00.000 --> 00:05.000\n" + text)
    read("1\n00:00:00,000 --> 00:00:05,000\n" + text)


@given(st.text(max_size=200))
@settings(deadline=None)
def test_any_text(text: str) -> None:
    read(text)
    read("WEBVTT\n\n00:00.000 --> 00:05.000\n" + text)


HEADS = st.sampled_from([b"", b"WEBVTT\n\n00:00.000 --> 00:05.000\nx", b"\xff\xfe", b"[0:01] x"])


@given(st.binary(max_size=300), HEADS)
@settings(deadline=None)
def test_any_bytes(tail: bytes, head: bytes) -> None:
    try:
        text, _ = decode(head + tail, "talk.vtt")
    except CaptionsError as error:
        assert str(error).isprintable()
    else:
        read(text)


WORDS = st.lists(st.text("abcdefgh12345678Nx+=-.,'é", min_size=1, max_size=9), min_size=1, max_size=8)


@given(st.lists(WORDS, min_size=1, max_size=12), st.sampled_from(["vtt", "srt", "sbv"]))
@settings(deadline=None)
def test_what_is_written_is_read(cues: list[list[str]], form: str) -> None:
    blocks = []
    for at, words in enumerate(cues):
        a, b = f"00:{at:02d}:00", f"00:{at:02d}:04"
        times = {"vtt": f"{a}.000 --> {b}.000", "srt": f"{a},000 --> {b},000", "sbv": f"{a}.000,{b}.000"}[form]
        blocks.append(f"{times}\n- {' '.join(words)}")
    captions = parse_captions("WEBVTT\n\n" * (form == "vtt") + "\n\n".join(blocks), "talk")
    check(captions)
    assert [cue.text for cue in captions.cues] == [f"- {' '.join(words)}" for words in cues]
    for word in captions.words:
        assert captions.source[slice(*word.span)] == word.text
        assert captions.cues[word.cue].start <= word.start <= word.end <= captions.cues[word.cue].end


def seconds(text: str) -> float:
    started = time.process_time()
    parse_captions(text, "talk.vtt")
    return time.process_time() - started


# Bounds are several times what an ordinary machine takes: they catch a square, not a slow day.
@pytest.mark.parametrize(
    "junk",
    [
        "word ",
        "<",
        "&",
        "{\\",
        "[",
        "<v ",
        "<v a>",
        "<c.",
        "<b ",
        "<00:",
        "&a",
        "00:00 -",
        "1\n",
        "<c></c>",
        ">>",
        " ",
        "<br><0:00.1>",
        "\n",
        "\r",
        "\n\n--> ",
        "\n0:01",
    ],
)
@pytest.mark.parametrize("head", ["WEBVTT\n\n00:00.000 --> 09:00:00.000\nx ", "1\n00:00:00,000 --> 09:00:00,000\nx "])
def test_a_great_many_of_anything_take_linear_time(head: str, junk: str) -> None:
    assert seconds(head + junk * 30_000) < max(1.0, 50 * seconds(head + junk * 3_000))  # quadratic: 100 times


def test_a_cue_of_a_hundred_thousand_words() -> None:
    assert seconds("WEBVTT\n\n00:00.000 --> 09:00:00.000\n" + "<b>word</b> " * 100_000) < 5


def test_ten_hours_of_captions() -> None:
    stamps = [f"{second // 3600:02d}:{second // 60 % 60:02d}:{second % 60:02d}.000" for second in range(0, 36_004, 4)]
    line = "and now the knight takes on e5 with check"
    cues = [f"{a} --> {b}\n{line} {a}" for a, b in pairwise(stamps)]
    assert seconds("WEBVTT\n\n" + "\n\n".join(cues)) < 6


def test_importing_the_room_is_quick() -> None:
    code = (
        "import sys, time, webvtt, html, unicodedata, dataclasses, typing\n"
        "started = time.process_time()\nimport aligner.captions\nprint(time.process_time() - started)\n"
        "assert 'spacy' not in sys.modules and 'chess' not in sys.modules"
    )
    runs = [
        float(subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True).stdout)
        for _ in range(3)
    ]
    assert min(runs) < 0.05


def test_a_file_is_only_read(tmp_path: Path) -> None:
    path = tmp_path / "talk.vtt"
    path.write_bytes(b"\xef\xbb\xbfWEBVTT\r\n\r\n00:00.000 --> 00:01.000\r\nknight f3\r\n")
    before = path.read_bytes()
    captions = read_captions(path)
    assert path.read_bytes() == before == b"\xef\xbb\xbf" + captions.source.encode()

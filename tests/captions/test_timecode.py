"""Times as captions write them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from webvtt.models import Timestamp

from aligner.captions.timecode import clock, loose_time, subrip_time, webvtt_time


# W3C WebVTT, "collect a WebVTT timestamp"; web-platform-tests webvtt/parsing/file-parsing: timings-omitted-hours,
# timings-too-long (000:00:00.000 is read), timings-60 (60:00:00.000 is 216000 seconds).
@pytest.mark.parametrize(
    ("text", "milliseconds"),
    [
        ("00:00.000", 0),
        ("00:01.000", 1_000),
        ("00:00:01.000", 1_000),
        ("000:00:00.000", 0),
        ("0:00:01.000", 1_000),
        ("59:59.999", 3_599_999),
        ("01:00:00.000", 3_600_000),
        ("60:00:00.000", 216_000_000),
        ("00:59.999", 59_999),
    ],
)
def test_a_webvtt_timestamp(text: str, milliseconds: int) -> None:
    assert webvtt_time(text) == milliseconds


# web-platform-tests, the same folder: timings-too-long, timings-too-short, timings-60.
@pytest.mark.parametrize(
    "text",
    [
        "00::00:00.000",
        "00:000:00.000",
        "00:00::00.000",
        "00:00:000.000",
        "00:00:00..000",
        "00:00:00.0000",
        "00:00.0000",
        "000:00.000",
        "00:000.000",
        "0000:00.000",
        "00:0:00.000",
        "00:00:0.000",
        "00:00:00.00",
        "00:00:00.0",
        "00:00:00.",
        "00:00:00",
        "00:00",
        "00",
        "0",
        "",
        ".",
        "0:00.000",
        "00:0.000",
        "60:00.000",
        "00:60.000",
        "00:60:00.000",
        "00:00:60.000",
        "00:00:00,000",
        "-00:00.000",
        "\u0661\u0661:00.000",
    ],
)
def test_no_webvtt_timestamp(text: str) -> None:
    assert webvtt_time(text) is None


@given(st.integers(0, 10**13))
def test_webvtt_times_are_those_of_webvtt_py(milliseconds: int) -> None:
    # Outside opinion: PyPI webvtt-py writes the timestamp.
    hours, rest = divmod(milliseconds, 3_600_000)
    text = str(Timestamp(hours, rest // 60_000, rest // 1000 % 60, rest % 1000))
    assert webvtt_time(text) == milliseconds == subrip_time(text.replace(".", ","))
    assert loose_time(text) == milliseconds


# SubRip has no standard: hh:mm:ss,ttt is common practice, and so is the point for the comma.
@pytest.mark.parametrize(
    ("text", "milliseconds"),
    [
        ("00:00:01,500", 1_500),
        ("0:00:01,500", 1_500),
        ("01:02:03.004", 3_723_004),
        ("00:01,500", None),
        ("1,500", None),
    ],
)
def test_a_subrip_timestamp(text: str, milliseconds: int | None) -> None:
    assert subrip_time(text) == milliseconds


@pytest.mark.parametrize(
    ("text", "milliseconds"),
    [
        ("0:01", 1_000),
        ("75:30", 4_530_000),
        ("1:02:03", 3_723_000),
        ("0:59.9996", 60_000),
        ("0:59.9994", 59_999),
        ("0:59.9995", 60_000),
        ("0:01.5", 1_500),
        ("0:01.", 1_000),
        ("-0:00:01,250", -1_250),
        ("0:61", None),
        ("1:60:00", None),
        ("1:2:3:4", None),
        ("one", None),
        ("", None),
        ("1:02:03.1234567899", None),
    ],
)
def test_what_is_readable_as_a_time(text: str, milliseconds: int | None) -> None:
    assert loose_time(text) == milliseconds


@pytest.mark.parametrize(
    ("milliseconds", "text"),
    [
        (0, "0:00.000"),
        (59_999, "0:59.999"),
        (3_599_999, "59:59.999"),
        (3_600_000, "1:00:00.000"),
        (-5, "0:00.000"),
    ],
)
def test_a_time_for_people(milliseconds: int, text: str) -> None:
    assert clock(milliseconds) == text


@given(st.integers(0, 10**12))
def test_a_time_for_people_reads_back(milliseconds: int) -> None:
    assert loose_time(clock(milliseconds)) == milliseconds

"""Times as captions write them, to and from whole milliseconds.

Everything in this package counts in integer milliseconds; fractions finer than that are rounded half up.
"""

from __future__ import annotations

import re
from functools import lru_cache

from webvtt.models import Timestamp

HOUR, MINUTE, SECOND = 3_600_000, 60_000, 1_000

# WebVTT, "collect a WebVTT timestamp": a first number that is not two digits or is above 59 counts hours.
_WEBVTT = re.compile(r"(?:[0-9]{1,10}:)?[0-5][0-9]:[0-5][0-9]\.[0-9]{3}")
_SUBRIP = re.compile(r"[0-9]{1,10}:[0-5][0-9]:[0-5][0-9][,.][0-9]{3}")
_LOOSE = re.compile(r"(-?)(?:([0-9]{1,10}):)?([0-9]{1,4}):([0-9]{1,2})(?:[.,]([0-9]{0,9}))?")


@lru_cache(maxsize=1024)  # one cue's end is mostly the next one's start
def webvtt_time(text: str) -> int | None:
    """Milliseconds of a WebVTT timestamp ([h..:]mm:ss.ttt), or None where the standard does not allow it."""
    return _milliseconds(text) if _WEBVTT.fullmatch(text) else None


@lru_cache(maxsize=1024)
def subrip_time(text: str) -> int | None:
    """Milliseconds of a SubRip or SBV timestamp (h:mm:ss,ttt or h:mm:ss.ttt), or None."""
    return _milliseconds(text.replace(",", ".")) if _SUBRIP.fullmatch(text) else None


def loose_time(text: str) -> int | None:
    """Milliseconds of anything readable as a time; below zero where it has a minus sign; None where it is no time.

    Hours and the fraction may be missing, numbers may be short, and minutes may run past 59 where there are no hours.
    """
    match = _LOOSE.fullmatch(text)
    if match is None:
        return None
    hours, minutes, seconds = int(match[2] or 0), int(match[3]), int(match[4])
    if seconds > 59 or (match[2] is not None and minutes > 59):
        return None
    fraction = ((match[5] or "") + "0000")[:4]
    total = hours * HOUR + minutes * MINUTE + seconds * SECOND + (int(fraction) + 5) // 10
    return -total if match[1] else total


def clock(milliseconds: int) -> str:
    """A time for people: 1:02:03.004, or 2:03.004 in the first hour."""
    seconds, thousandths = divmod(max(milliseconds, 0), SECOND)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    head = f"{hours}:{minutes:02d}" if hours else f"{minutes}"
    return f"{head}:{seconds:02d}.{thousandths:03d}"


def _milliseconds(text: str) -> int:
    hours, minutes, seconds, thousandths = Timestamp.from_string(text).to_tuple()
    return hours * HOUR + minutes * MINUTE + seconds * SECOND + thousandths

"""Chapters as a WebVTT file (W3C WebVTT, 4.6.2 "WebVTT file using chapter title text") and as a plain list."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

from aligner.chapters.chapters import Chapter


def chapter_track(chapters: Sequence[Chapter]) -> str:
    """The chapters as WebVTT: one cue each, numbered, end to end, so that they nest trivially (4.5.1).

    Titles are chapter title text (4.2.3): one line, no tags, with character references for what would be markup.
    """
    blocks = ["WEBVTT"]
    for number, chapter in enumerate(chapters, start=1):
        title = one_line(chapter.title).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
        blocks.append(f"{number}\n{_timestamp(chapter.start)} --> {_timestamp(chapter.end)}\n{title}")
    return "\n\n".join(blocks) + "\n"


def chapter_list(chapters: Sequence[Chapter]) -> str:
    """The chapters as lines "m:ss title" (h:mm:ss where the talk lasts an hour), as descriptions of films have them.

    Common practice of the places that read such lists: the first at 0:00, in order, at least ten seconds each.
    """
    long = bool(chapters) and chapters[-1].end >= 3600
    return "".join(f"{_clock(chapter.start, long)} {one_line(chapter.title)}\n" for chapter in chapters)


def one_line(text: str) -> str:
    """The text on one line, without control characters and without what could turn its writing direction."""
    spaced = (" " if unicodedata.category(sign) in ("Cc", "Zl", "Zp") else sign for sign in text)
    return " ".join("".join(sign for sign in spaced if unicodedata.category(sign) not in ("Cf", "Cs")).split())


def _timestamp(seconds: float) -> str:
    """Hours of two or more digits, and exactly three decimals (WebVTT, 4.1, "WebVTT timestamp")."""
    minutes, milliseconds = divmod(round(seconds * 1000), 60_000)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{milliseconds // 1000:02d}.{milliseconds % 1000:03d}"


def _clock(seconds: float, long: bool) -> str:
    minutes, rest = divmod(int(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if long else f"{hours * 60 + minutes}:{rest:02d}"

"""Captions from WebVTT to SubRip and back: times, texts and order stay, what the other format lacks is left out."""

from __future__ import annotations

import html
from pathlib import PurePath

from aligner.captions.reading import parse_captions
from aligner.captions.timecode import HOUR, MINUTE, SECOND
from aligner.captions.words import Captions
from aligner.errors import InputError

_FORMATS = {".vtt": "webvtt", ".webvtt": "webvtt", ".srt": "subrip", ".sbv": "sbv", ".txt": "text"}
_WRITTEN = ("webvtt", "subrip")


def format_of_name(name: str, own: str) -> str:
    """The format a file of this name should have; `own`, the captions' format, where the name tells nothing.

    Raises:
        InputError: it is neither the captions' own format nor one that captions can be turned into.
    """
    wanted = _FORMATS.get(PurePath(name).suffix.lower(), own)
    if wanted != own and wanted not in _WRITTEN:
        raise InputError("captions can be turned into WebVTT (.vtt) and SubRip (.srt) only; name such a file.", name)
    return wanted


def converted(text: str, name: str, wanted: str) -> str:
    """The text of a captions file in another format; unchanged where it is in that format already.

    Args:
        text: of the file.
        name: what messages call it.
        wanted: "webvtt", "subrip", or the format it has.

    Raises:
        CaptionsError: the text is no captions.
    """
    captions = parse_captions(text, name)
    if captions.format == wanted:
        return text
    return _webvtt(captions) if wanted == "webvtt" else _subrip(captions)


def _webvtt(captions: Captions) -> str:
    """W3C WebVTT, "WebVTT file body"; cue text escapes & and < and >."""
    cues = [
        f"{_time(cue.start, '.')} --> {_time(cue.end, '.')}\n{html.escape(cue.text, quote=False)}\n"
        for cue in captions.cues
        if cue.text
    ]
    return "\n".join(["WEBVTT\n", *cues])


def _subrip(captions: Captions) -> str:
    """SubRip has no standard; common practice: number, times with a comma, text, empty line."""
    shown = [cue for cue in captions.cues if cue.text]
    return "\n".join(
        f"{number}\n{_time(cue.start, ',')} --> {_time(cue.end, ',')}\n{cue.text}\n"
        for number, cue in enumerate(shown, start=1)
    )


def _time(milliseconds: int, point: str) -> str:
    hours, rest = divmod(milliseconds, HOUR)
    minutes, rest = divmod(rest, MINUTE)
    seconds, thousandths = divmod(rest, SECOND)
    return f"{hours:02d}:{minutes:02d}:{seconds:02d}{point}{thousandths:03d}"

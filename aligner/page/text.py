"""Untrusted text made fit for a page: what steers instead of being read is taken out; escaping is the template's."""

from __future__ import annotations

import json
import re

# Control characters (C0, DEL, C1), line and paragraph separators, byte order marks, non-characters, half surrogates.
_CONTROLS = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff\ud800-\udfff]")
# Bidirectional formatting characters (Unicode Standard Annex 9, section 2): they would reorder what stands around them.
_DIRECTIONS = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")

NO_BREAK_SPACE = "\xa0"
UNREADABLE = "\ufffd"


def printable(text: str) -> str:
    """The text on one line, single spaces between its words, without control and direction characters."""
    if text.isascii() and text.isprintable() and "  " not in text:
        return text.strip()
    return " ".join(_CONTROLS.sub(" ", _DIRECTIONS.sub("", text)).split())


def word_text(text: str) -> str:
    """One word of the talk: `printable`, never empty, no plain space in it, so that words can be told apart again."""
    return printable(text).replace(" ", NO_BREAK_SPACE) or UNREADABLE


def clock(milliseconds: int) -> str:
    """A time as m:ss, or h:mm:ss from one hour on; fractions are cut, so that the moment is never missed."""
    minutes, seconds = divmod(max(0, milliseconds) // 1000, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{seconds:02d}" if hours else f"{minutes}:{seconds:02d}"


def fragment(milliseconds: int) -> str:
    """A moment as a temporal fragment of W3C Media Fragments URI 1.0 (4.2.1), "t=271.2"."""
    seconds, thousandths = divmod(max(0, milliseconds), 1000)
    return f"t={seconds}.{thousandths:03d}".rstrip("0").rstrip(".")


def embedded_json(value: object) -> str:
    """JSON that may stand in a `script` element: pure ASCII, and no sign in it can begin or end markup.

    The HTML standard (4.12.1.3) forbids "<!--", "<script" and "</script" there; none has a "<" left to begin with.
    """
    text = json.dumps(value, separators=(",", ":"), allow_nan=False)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")

"""Text and times as people may read them on a terminal or a page: nothing steers the reader's screen."""

from __future__ import annotations

import unicodedata


def clean(text: str) -> str:
    """The text on one line, without what could steer a terminal or turn its writing direction.

    Control characters and line and paragraph separators become spaces, format and surrogate characters are dropped
    (Unicode categories Cc, Zl, Zp, Cf, Cs), and runs of white space become one space.
    """
    if text.isprintable() and "  " not in text:
        return text.strip()
    kept = (" " if unicodedata.category(sign) == "Cc" else sign for sign in text)
    return " ".join("".join(sign for sign in kept if unicodedata.category(sign) not in ("Cf", "Cs")).split())


def clock(seconds: float) -> str:
    """A time as m:ss, or h:mm:ss from one hour on; fractions are cut, so that the moment is never missed."""
    whole = max(0, int(seconds))
    minutes, rest = divmod(whole, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"

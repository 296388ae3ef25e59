"""Links to moments of the recording, and text from strangers made harmless."""

from __future__ import annotations

import unicodedata
from urllib.parse import urlsplit

_SCHEMES = frozenset(("http", "https", "file", ""))
_JOINERS = "\u200c\u200d"


def moment_link(url: str | None, seconds: float) -> str | None:
    """The address of a moment: the recording's with a temporal fragment (W3C Media Fragments 1.0, 4.2.1), or None.

    An address that is none, or that would run a program ("javascript:"), makes no link.
    """
    if url is None or not url.strip():
        return None
    address = plain(url).strip()
    try:
        scheme = urlsplit(address).scheme.lower()
    except ValueError:
        return None
    if scheme not in _SCHEMES:
        return None
    for sign, code in ((" ", "%20"), ('"', "%22"), ("<", "%3C"), (">", "%3E"), ("\\", "%5C"), ("`", "%60")):
        address = address.replace(sign, code)
    return f"{address.partition('#')[0]}#t={npt(seconds)}"


def npt(seconds: float) -> str:
    """Seconds in normal play time, digits and at most three decimals: "271", "271.2"."""
    whole, milliseconds = divmod(max(0, round(seconds * 1000)), 1000)
    return f"{whole}.{milliseconds:03d}".rstrip("0").rstrip(".")


def clock(seconds: float) -> str:
    """Seconds as m:ss, or h:mm:ss from one hour on, fractions cut."""
    minutes, rest = divmod(max(0, int(seconds)), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"


def plain(text: str) -> str:
    """The text on one line, without control characters and what turns the direction of writing."""
    spaced = (" " if unicodedata.category(sign) in ("Cc", "Zl", "Zp") else sign for sign in text)
    kept = (sign for sign in spaced if sign in _JOINERS or unicodedata.category(sign) not in ("Cf", "Cs"))
    return " ".join("".join(kept).split())

"""The recording that a page plays: its address, what plays it, and what the page's policy must allow for it."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path, PurePath
from urllib.parse import quote, urlsplit

from aligner.errors import InputError

FILMS = {".mp4", ".m4v", ".mov", ".webm", ".ogv", ".mkv"}
SOUNDS = {".mp3", ".m4a", ".aac", ".ogg", ".oga", ".opus", ".wav", ".flac", ".weba"}

_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.-]+:")


@dataclass(frozen=True, slots=True)
class Media:
    """A recording.

    Attributes:
        address: as the page names it: absolute, or relative to the page.
        film: whether there is something to see.
        source: what the Content Security Policy of the page allows as source of media.
    """

    address: str
    film: bool
    source: str


def is_address(text: str) -> bool:
    """Whether this is an address (http or https) and not a file."""
    return text.lower().startswith(("http://", "https://"))


def is_relative(text: str) -> bool:
    """Whether this is a relative address, so that it names no scheme and no host."""
    return not _SCHEME.match(text) and not text.startswith(("//", "\\\\"))


def media(text: str, page: Path) -> Media:
    """The recording for a page.

    Args:
        text: address (http or https) or path of a file, from the working folder.
        page: path of the page.

    Raises:
        InputError: it is an address of another kind, or one that names no host.
    """
    if is_address(text):
        return _from_address(text)
    if _SCHEME.match(text) and not PurePath(text).drive:
        raise InputError(f"the recording {text!r} is neither a file nor an address of the web; give one of these.")
    # Not `resolve`: a link beside the page is meant to be reached through the link.
    relative = os.path.relpath(os.path.abspath(text), os.path.abspath(page.parent))
    address = quote(relative.replace(os.sep, "/"))
    # Chromium takes a page from disk for an origin of its own, which 'self' does not cover.
    return Media(address, _is_film(text), "'self' file:")


def recorded(address: str | None) -> Media | None:
    """The recording a record names, where it is an address of a sound or film; a page about it cannot be played."""
    if address is None or not is_address(address) or "@" in urlsplit(address).netloc:
        return None
    suffix = PurePath(urlsplit(address).path).suffix.lower()
    return _from_address(address) if suffix in FILMS | SOUNDS else None


def _from_address(address: str) -> Media:
    try:
        parts = urlsplit(address)
        named = bool(parts.hostname) and re.fullmatch(r"[A-Za-z0-9.-]+(?::[0-9]+)?", parts.netloc)
    except ValueError:
        named = None
    if not named:
        raise InputError(f"the address {address!r} names no host; write it as https://HOST/PATH.")
    # Content Security Policy, level 3, 2.3.1: a path may hold neither ";" nor ","; a query is never part of it.
    path = quote(parts.path, safe="/%:@!$&'()*+=~-._").replace("'", "%27")
    source = f"{parts.scheme.lower()}://{parts.netloc}{path or '/'}"
    return Media(quote(address, safe="/%:@!$&'()*+,;=~-._?#[]"), _is_film(parts.path), source)


def _is_film(path: str) -> bool:
    return PurePath(path).suffix.lower() in FILMS

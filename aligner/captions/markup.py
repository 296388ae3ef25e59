"""The text of one cue: markup taken out, character references resolved, cut into words that know their place.

Tags are those of WebVTT cue text (W3C WebVTT, "cue text tokenizer") and the HTML and brace tags that SubRip files
carry (common practice). A `<` that begins no tag is text: the standard would swallow the rest of the cue there.
Tags inside a word do not part it (so a word's span may hold some), inline timestamps neither; white space does.
"""

from __future__ import annotations

import html
import re
import unicodedata
from functools import lru_cache
from typing import NamedTuple

from aligner.captions.timecode import loose_time
from aligner.captions.words import Span


class Piece(NamedTuple):
    """A word in the text of a cue.

    Attributes:
        text: as in `Word.text`.
        span: as in `Word.span`.
        row: 0-based line of the cue's text.
        time: milliseconds from an inline timestamp before it, or None.
        speaker: as in `Word.speaker`.
    """

    text: str
    span: Span
    row: int
    time: int | None = None
    speaker: str | None = None


class CueText(NamedTuple):
    """The words of a cue, and the inline timestamp after the last of them (milliseconds, or None)."""

    pieces: list[Piece]
    tail: int | None = None


# Tags that only change how a word looks: most of the markup in captions made by recognisers.
_LOOK = r"</?[bciu](?:\.[^\s<>]*)?>"
# b, c, i, lang, ruby, rt, u and v are WebVTT's; the others stand in SubRip files (common practice).
_TAG = r"</?(?:b|br|c|em|font|i|lang|p|rt|ruby|s|span|strong|u|v)(?:\.[^\s<>]*+)?"
_TOKEN = re.compile(
    r"(?P<gap>\s++)?+(?P<text>[^\s<&{\[]++)"
    r"|(?P<space>\s+)"
    rf"|(?P<time>(?:{_LOOK})*+<(?P<at>[0-9]+:[0-9:.,]+)>(?:{_LOOK})*+)"
    rf"|(?P<look>(?:{_LOOK})+)"
    rf"|(?P<tag>(?i:{_TAG})(?:(?:\s[^<>]*+|/)?>|\Z)|</?>)"
    r"|(?P<brace>\{\\[^{}\r\n]*\})"
    r"|(?P<br>\[br\])"
    r"|(?P<ref>&(?:[A-Za-z][A-Za-z0-9]{1,31}|#[0-9]{1,7}|#[xX][0-9A-Fa-f]{1,6});)"
    r"|(?P<sign>[<&{\[])"
)
_BLACK = re.compile(r"\S+")
_NAME = re.compile(r"<(/?)([A-Za-z]*)[^\s>]*")
_LINE_END = re.compile(r"\r\n|[\r\n]")
_JOINERS = "\u200c\u200d"


def cue_text(source: str, start: int, end: int) -> CueText:
    """The words in `source[start:end]`, in linear time; their spans are those of `source`."""
    plain = source[start:end]
    if "<" in plain or "&" in plain or "{" in plain or "[br]" in plain:
        return _marked(source, start, end)
    pieces: list[Piece] = []
    row, last = 0, start
    for match in _BLACK.finditer(source, start, end):
        a, b = match.span()
        if (gap := source[last:a]) != " ":
            row += _line_ends(gap)
        last = b
        if text := printable(match[0]):
            pieces.append(Piece(text, (a, b), row))
    return CueText(pieces)


def printable(text: str) -> str:
    """The text without control, format and surrogate characters (a terminal or a page would obey some of them).

    The zero-width joiners stay inside it: words of several scripts need them.
    """
    if text.isprintable():
        return text
    kept = [sign for sign in text if sign in _JOINERS or unicodedata.category(sign) not in ("Cc", "Cf", "Cs")]
    return "".join(kept).strip(_JOINERS)


def _marked(source: str, start: int, end: int) -> CueText:
    pieces: list[Piece] = []
    parts: list[str] = []  # of the word being read, from source[first] to source[last]
    first = last = row = 0
    time: int | None = None  # of the next word
    word_time: int | None = None
    voices: list[str | None] = []
    word_voice: str | None = None
    hidden = False  # inside the annotation of a ruby text, which nobody says
    for match in _TOKEN.finditer(source, start, end):
        kind = match.lastgroup
        if kind == "look":
            continue
        if kind == "time":
            time = loose_time(match["at"])
            continue
        gap: str | None = None
        word: str | None = None
        if kind == "text":
            gap, word = match.group("gap", "text")
        elif kind == "space":
            gap = match[0]
        elif kind == "sign":
            word = match[0]
        elif kind == "ref":
            word = html.unescape(match[0])
            if word.isspace():
                gap, word = " ", None
        elif kind == "br":
            gap = "\n"
        elif kind == "tag":
            name, closing, note = _tag(match[0])
            if name == "v" and not closing:
                voices.append(note or None)
            elif name == "v" and voices:
                voices.pop()
            elif name in ("rt", "ruby"):
                hidden = name == "rt" and not closing
            elif name in ("br", "p"):
                gap = "\n"
        if gap is not None:
            if parts and (text := printable("".join(parts))):
                pieces.append(Piece(text, (first, last), row, word_time, word_voice))
            parts = []
            if gap != " ":
                row += _line_ends(gap)
        if word and not hidden:
            last = match.end()
            if parts:
                time = None  # a timestamp inside a word is not the time of the next one
            else:
                first = match.start(kind or 0)
                word_time, time = time, None
                word_voice = voices[-1] if voices else None
            parts.append(word)
    if parts and (text := printable("".join(parts))):
        pieces.append(Piece(text, (first, last), row, word_time, word_voice))
    return CueText(pieces, time)


@lru_cache(maxsize=512)
def _tag(raw: str) -> tuple[str, bool, str]:
    """Name of a tag, whether it closes, and its annotation."""
    match = _NAME.match(raw)
    if match is None:
        return "", False, ""
    note = html.unescape(raw[match.end() :].removesuffix(">"))
    return match[2].lower(), bool(match[1]), " ".join(printable(note).split())


def _line_ends(text: str) -> int:
    """How many line ends (CR LF, LF or CR) the text holds."""
    return sum(1 for _ in _LINE_END.finditer(text)) if "\n" in text or "\r" in text else 0

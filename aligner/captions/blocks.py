"""Where the cues stand in a captions file: the lines of each format sorted into blocks.

WebVTT follows the standard's parser (W3C WebVTT, "WebVTT parser algorithm" and "collect a WebVTT block"), and beyond
it reads times and arrows that are written a little wrong. SubRip, SBV and plain text have no standard: common practice.
webvtt-py is not used here, because it gives no line or place in the file and drops without a word what it cannot read.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import NamedTuple

from aligner.captions.timecode import loose_time, subrip_time, webvtt_time
from aligner.captions.words import Span


class Line(NamedTuple):
    """One line of the file: its text without line end, where that begins in the source, and its 1-based number."""

    text: str
    start: int
    number: int

    @property
    def end(self) -> int:
        """Where its text ends in the source."""
        return self.start + len(self.text)


class Block(NamedTuple):
    """One cue before its text is read.

    Attributes:
        line: 1-based line on which its time stands.
        start: milliseconds as written; below zero where the file says so.
        end: milliseconds as written, or None in a format without ends.
        span: where its text stands in the source.
    """

    line: int
    start: int
    end: int | None
    span: Span


class Remark(NamedTuple):
    """What was mended or passed over in one line; `message` is the same for all remarks of its kind."""

    line: int
    message: str


class Times(NamedTuple):
    """What a line says about time: milliseconds, whether it had to be mended, and where the text after it begins."""

    start: int
    end: int | None
    mended: bool
    offset: int


Found = tuple[list[Block], list[Remark]]

UNREADABLE = "The times of this cue cannot be read, so its text was passed over."
MENDED = "The times of this cue are not written as the format asks; they were read all the same."
UNTIMED = "This text has no time, so it was passed over."

_LINE_END = re.compile(r"\r\n|[\r\n]")
# One arrow as the standards ask, then what people and programs write for it.
_ARROW = re.compile(
    r"[ \t\f]*+(-?[0-9][0-9:.,]*+)[ \t\f]*+(-->|-{1,4} ?>|[\u2013\u2014]>?|\u2192)[ \t\f]*+(-?[0-9][0-9:.,]*+)(?=\s|\Z)"
)
_SBV = re.compile(r"\s*+([0-9]{1,10}:[0-9]{1,2}:[0-9]{1,2}[.][0-9]{1,3})\s*+,\s*+([0-9]{1,10}:[0-9:.]++)\s*+\Z")
_STAMP = re.compile(r"\s*+\[([0-9]{1,10}:[0-9]{1,2}(?::[0-9]{1,2})?(?:[.,][0-9]{1,9})?)\]")
_SIGNATURE = re.compile(r"WEBVTT(?=[ \t]|\Z)")


def lines_of(source: str) -> list[Line]:
    """The lines of the file; they end with LF, CR LF or CR, and with nothing else (as WebVTT has it)."""
    lines: list[Line] = []
    start = 0
    for number, match in enumerate(_LINE_END.finditer(source), start=1):
        end, following = match.span()
        lines.append(Line(source[start:end], start, number))
        start = following
    if start < len(source):
        lines.append(Line(source[start:], start, len(lines) + 1))
    return lines


def format_of(lines: list[Line]) -> str | None:
    """The format, told from the signature or from the first line that holds a time; None where no line does."""
    if lines and lines[0].text[:6].upper() == "WEBVTT":
        return "webvtt"
    for line in lines:
        if arrow_times(line.text, subrip_time):
            return "subrip"
        if sbv_times(line.text):
            return "sbv"
        if stamp_time(line.text):
            return "text"
    return None


def arrow_times(text: str, strict: Callable[[str], int | None]) -> Times | None:
    """The times of a WebVTT or SubRip timing line; None where it holds no two times with an arrow between them."""
    if ":" not in text or (match := _ARROW.match(text)) is None:
        return None
    start, end = strict(match[1]), strict(match[3])
    if start is not None and end is not None and match[2] == "-->":
        return Times(start, end, False, len(text))
    start, end = loose_time(match[1]), loose_time(match[3])
    return None if start is None or end is None else Times(start, end, True, len(text))


def sbv_times(text: str) -> Times | None:
    """The times of an SBV timing line (h:mm:ss.ttt,h:mm:ss.ttt), or None."""
    if "," not in text or (match := _SBV.match(text)) is None:
        return None
    strict = subrip_time(match[1]), subrip_time(match[2])
    start, end = loose_time(match[1]), loose_time(match[2])
    return None if start is None or end is None else Times(start, end, None in strict, len(text))


def stamp_time(text: str) -> Times | None:
    """The time of a line of plain text that begins with [m:ss] or [h:mm:ss], or None."""
    if "[" not in text or (match := _STAMP.match(text)) is None:
        return None
    start = loose_time(match[1])
    return None if start is None else Times(start, None, False, match.end())


def webvtt_blocks(lines: list[Line]) -> Found:
    """The cues of a WebVTT file."""
    blocks: list[Block] = []
    remarks: list[Remark] = []
    if not _SIGNATURE.match(lines[0].text):
        remarks.append(Remark(1, "The first line should be WEBVTT alone or with a space after it."))
    at = 1
    while at < len(lines) and lines[at].text and "-->" not in lines[at].text:
        at += 1
    while at < len(lines):
        if not lines[at].text:
            at += 1
            continue
        at = _webvtt_block(lines, at, blocks, remarks)
    return blocks, remarks


def _webvtt_block(lines: list[Line], at: int, blocks: list[Block], remarks: list[Remark]) -> int:
    """Read the block that begins at index `at`; the index after it."""
    first = at
    word = lines[first].text.split(maxsplit=1)[:1]
    # In a comment or a style sheet only the standard's own arrow begins a cue.
    aside = word in (["NOTE"], ["STYLE"], ["REGION"]) and lines[first].text.startswith(word[0])
    times: Times | None = None
    timing: Line | None = None
    while at < len(lines) and lines[at].text:
        line = lines[at]
        arrow = "-->" in line.text
        found = arrow_times(line.text, webvtt_time) if arrow or not aside else None
        if arrow or found:
            if timing is not None or at - first > 1:
                break
            timing, times = line, found
        at += 1
    if timing is None:
        if not aside and any(not line.text.isspace() for line in lines[first:at]):
            remarks.append(Remark(lines[first].number, UNTIMED))
    elif times is None or times.end is None:
        remarks.append(Remark(timing.number, UNREADABLE))
    else:
        if times.mended:
            remarks.append(Remark(timing.number, MENDED))
        last = lines[at - 1].end
        begin = lines[timing.number].start if at > timing.number else last
        blocks.append(Block(timing.number, times.start, times.end, (begin, last)))
    return at


def subrip_blocks(lines: list[Line]) -> Found:
    """The cues of a SubRip file; an empty line inside a cue's text does not end it."""
    return _by_times(lines, lambda text: arrow_times(text, subrip_time), numbered=True)


def sbv_blocks(lines: list[Line]) -> Found:
    """The cues of an SBV file."""
    return _by_times(lines, sbv_times)


def text_blocks(lines: list[Line]) -> Found:
    """The cues of plain text whose lines begin with a time in brackets; a line without one goes on with the last."""
    return _by_times(lines, stamp_time)


def _by_times(lines: list[Line], read: Callable[[str], Times | None], numbered: bool = False) -> Found:
    blocks: list[Block] = []
    remarks: list[Remark] = []
    for head, times, body in _cues(lines, read, numbered):
        if head is None or times is None:
            remarks.extend([Remark(head.number, UNREADABLE)] if head else [Remark(body[0].number, UNTIMED)])
            continue
        if times.mended:
            remarks.append(Remark(head.number, MENDED))
        start = head.start + times.offset
        blocks.append(Block(head.number, times.start, times.end, (start, body[-1].end if body else head.end)))
    return blocks, remarks


def _cues(
    lines: list[Line], read: Callable[[str], Times | None], numbered: bool
) -> Iterator[tuple[Line | None, Times | None, list[Line]]]:
    """Timing line, its times and the lines of text below it; no timing line for text above the first."""
    head: Line | None = None
    times: Times | None = None
    body: list[Line] = []
    for line in lines:
        found = read(line.text)
        if found or (numbered and "-->" in line.text):
            if numbered:
                _drop_number(body, first=head is None)
            if head or body:
                yield head, times, body
            head, times, body = line, found, []
        elif body or not (line.text.isspace() or not line.text):
            body.append(line)
    while body and not body[-1].text.strip():
        body.pop()
    if head or body:
        yield head, times, body


def _drop_number(body: list[Line], first: bool) -> None:
    """Take the next cue's number, and the empty lines around it, off the end of a cue's text."""
    at = len(body)
    last = [line.text.strip() for line in body[-3:]]
    if last and last[-1].isdecimal():
        at -= 1
    elif len(last) > 1 and not last[-1] and last[-2].isdecimal() and (not last[0] if len(last) == 3 else first):
        at -= 2
    while at and not body[at - 1].text.strip():
        at -= 1
    del body[at:]

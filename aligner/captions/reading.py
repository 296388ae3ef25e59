"""A captions file of any supported kind into `Captions`."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

from aligner.captions.blocks import (
    Block,
    Found,
    Line,
    Remark,
    format_of,
    lines_of,
    sbv_blocks,
    subrip_blocks,
    text_blocks,
    webvtt_blocks,
)
from aligner.captions.decoding import decode, read_bytes
from aligner.captions.markup import CueText, Piece, cue_text, printable
from aligner.captions.rolling import Echoes, new_words
from aligner.captions.timing import Spoken, timed_words
from aligner.captions.words import Captions, Cue, Problem, Word
from aligner.errors import CaptionsError

PROBLEMS_OF_A_KIND = 10
"""Problems of one kind that are listed one by one; the rest are counted in one more."""

_READERS: dict[str, Callable[[list[Line]], Found]] = {
    "webvtt": webvtt_blocks,
    "subrip": subrip_blocks,
    "sbv": sbv_blocks,
    "text": text_blocks,
}
_CHANGE_OF_SPEAKER = re.compile(r"(?:>|&gt;){2,}")

NEGATIVE = "This cue begins before the recording does; it was moved to the start."
BACKWARDS = "This cue ends before it begins; its end was passed over."


def read_captions(path: Path) -> Captions:
    """Read a captions file: WebVTT, SubRip, SBV, or plain text whose lines begin with [m:ss] or [h:mm:ss].

    Raises:
        CaptionsError: the file is missing, is not text, is not captions, or none of its cues has text.
    """
    name = printable(path.name) or "captions"
    text, problems = decode(read_bytes(path, name), name)
    return _captions(text, name, problems)


def parse_captions(text: str, name: str) -> Captions:
    """Read the text of a captions file; `name` is what messages call it.

    Raises:
        CaptionsError: it is empty, is not captions, or none of its cues has text.
    """
    return _captions(text, printable(name) or "captions", [])


def _captions(text: str, name: str, problems: list[Problem]) -> Captions:
    source = text.removeprefix("\ufeff")
    if not source.strip():
        raise CaptionsError("the file is empty.", name)
    lines = lines_of(source)
    form = format_of(lines)
    if form is None:
        what = "no line holds a time, so these are no captions; use WebVTT, SubRip, SBV or lines that begin [m:ss]."
        raise CaptionsError(what, f"{name}, line 1")
    blocks, remarks = _READERS[form](lines)
    texts = [cue_text(source, *block.span) for block in blocks]
    if not any(text.pieces for text in texts):
        line = blocks[0].line if blocks else 1
        raise CaptionsError("no cue has any text; check that the export was complete.", f"{name}, line {line}")
    cues = tuple(_cue(block, text.pieces, remarks) for block, text in zip(blocks, texts, strict=True))
    words, more = timed_words(*_spoken(source, blocks, texts, cues))
    if not words:
        where = f"{name}, line {blocks[0].line}"
        raise CaptionsError("no cue has any words; check that the export was complete.", where)
    problems = sorted([*problems, *_problems([*remarks, *more])], key=lambda problem: problem.line)
    return Captions(
        name=name,
        format=form,
        source=source,
        words=tuple(words),
        cues=_with_ends(blocks, cues, words),
        problems=tuple(problems),
        duration=max(word.end for word in words),
    )


def _cue(block: Block, pieces: list[Piece], remarks: list[Remark]) -> Cue:
    start = max(block.start, 0)
    if block.start < 0:
        remarks.append(Remark(block.line, NEGATIVE))
    if block.end is not None and block.end < block.start:
        remarks.append(Remark(block.line, BACKWARDS))
    rows: dict[int, list[str]] = {}
    for piece in pieces:
        rows.setdefault(piece.row, []).append(piece.text)
    text = "\n".join(" ".join(row) for row in rows.values())
    return Cue(start, max(start, block.end or 0), text, block.line)


def _with_ends(blocks: list[Block], cues: tuple[Cue, ...], words: list[Word]) -> tuple[Cue, ...]:
    """The cues, those without a usable end lasting to the next one's start, or to the last word where none follows."""
    if all(block.end is not None and block.end >= block.start for block in blocks):
        return cues
    starts = sorted(cue.start for cue in cues)
    last = {word.cue: word.end for word in words}
    ended: list[Cue] = []
    for at, (block, cue) in enumerate(zip(blocks, cues, strict=True)):
        if block.end is None or block.end < block.start:
            following = bisect_right(starts, cue.start)
            end = starts[following] if following < len(starts) else last.get(at, cue.start)
            cue = replace(cue, end=end)
        ended.append(cue)
    return tuple(ended)


def _spoken(
    source: str, blocks: list[Block], texts: list[CueText], cues: tuple[Cue, ...]
) -> tuple[list[Spoken], Echoes | None]:
    if ">>" in source or "&gt;" in source:
        texts = [text._replace(pieces=list(_heard(source, text.pieces))) for text in texts]
    fresh, echoes = new_words(texts)
    spoken = [
        Spoken(at, cue.line, cue.start, None if block.end is None else cue.end, words, text.tail)
        for at, (block, cue, words, text) in enumerate(zip(blocks, cues, fresh, texts, strict=True))
    ]
    return spoken, echoes


def _heard(source: str, pieces: Iterable[Piece]) -> Iterable[Piece]:
    """The pieces without the sign >> for a change of speaker (common practice), which nobody says."""
    for piece in pieces:
        if not piece.text.startswith(">>"):
            yield piece
        elif text := piece.text.lstrip(">"):
            start, end = piece.span
            match = _CHANGE_OF_SPEAKER.match(source, start, end)
            yield piece._replace(text=text, span=(match.end() if match else start, end))


def _problems(remarks: list[Remark]) -> list[Problem]:
    """The remarks as problems: of each kind the first few, then how many more there are."""
    kinds: dict[str, list[int]] = {}
    for remark in sorted(remarks):
        kinds.setdefault(remark.message, []).append(remark.line)
    problems: list[Problem] = []
    for message, found in kinds.items():
        problems.extend(Problem(line, message) for line in found[:PROBLEMS_OF_A_KIND])
        if rest := found[PROBLEMS_OF_A_KIND:]:
            problems.append(Problem(rest[0], f"{message} (And in {len(rest) - 1} more places after this.)"))
    return problems

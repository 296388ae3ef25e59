"""When each word is said, from the times of its cue and the inline timestamps, in order of time.

Between two known times words are spread by their length. Where a cue stands much longer than its words take, the
words are put at its beginning: captions stay on screen through a silence.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate, groupby, pairwise
from typing import NamedTuple

from aligner.captions.blocks import Remark
from aligner.captions.markup import Piece
from aligner.captions.rolling import Echoes
from aligner.captions.words import Word

WORD, LETTER = 165, 40
"""Milliseconds that a word takes, and each of its characters on top: a word of five characters then takes 365, which
is 165 words a minute, an ordinary talk (common practice)."""

SLOWEST = 2.4
"""How much slower than that a cue is read at most: some 0.9 seconds for a word of five characters."""


class Spoken(NamedTuple):
    """The words a cue is the first to show, and its times (milliseconds; `end` None where unknown)."""

    cue: int
    line: int
    start: int
    end: int | None
    words: list[Piece]
    tail: int | None


LATE = "An inline timestamp lies outside its cue or goes back, so it was passed over."
OVERLAP = "This cue runs into the next one; its words were placed before that."
DISORDER = "This cue begins before the one above it; cues were put in order of time."


def timed_words(cues: Sequence[Spoken], echoes: Echoes | None) -> tuple[list[Word], list[Remark]]:
    """All words in order of time, none beginning before the one ahead of it; and what had to be mended."""
    spoken = [cue for cue in cues if cue.words]
    remarks: list[Remark] = []
    remarks.extend(Remark(cue.line, DISORDER) for above, cue in pairwise(spoken) if cue.start < above.start)
    spoken.sort(key=lambda cue: cue.start)
    # Cues that begin together share their time, in order of the file.
    groups = [list(group) for _, group in groupby(spoken, key=lambda cue: cue.start)]
    words: list[Word] = []
    for at, group in enumerate(groups):
        following = groups[at + 1][0].start if at + 1 < len(groups) else None
        last = max(group, key=lambda cue: cue.end or 0)
        if following is not None and last.end is not None and last.end > following and echoes is None:
            remarks.append(Remark(last.line, OVERLAP))
        words.extend(_group_words(group, following, echoes or {}, remarks))
    return words, remarks


def _group_words(group: Sequence[Spoken], following: int | None, echoes: Echoes, remarks: list[Remark]) -> list[Word]:
    start = group[0].start
    paces = [WORD + LETTER * len(piece.text) for cue in group for piece in cue.words]
    ends = [cue.end for cue in group if cue.end is not None and cue.end > start]
    end = max(ends) if ends else start + int(SLOWEST * sum(paces))
    if following is not None:
        end = min(end, following)
    anchors = [(0, start)]
    at = 0
    for cue in group:
        for piece in cue.words:
            if (time := piece.time) is not None:
                index, before = anchors[-1]
                if before <= time <= end:
                    if index == at:
                        anchors.pop()
                    anchors.append((at, time))
                else:
                    remarks.append(Remark(cue.line, LATE))
            at += 1
    tail = group[-1].tail
    anchors.append((at, tail if tail is not None and anchors[-1][1] <= tail <= end else end))
    bounds: list[tuple[int, int]] = []
    for (a, begin), (b, finish) in pairwise(anchors):
        if b - a == 1:
            bounds.append((begin, min(finish, begin + int(SLOWEST * paces[a]))))
        else:
            bounds.extend(_spread(paces[a:b], begin, finish))
    times = iter(bounds)
    return [
        Word(piece.text, *next(times), cue.cue, piece.speaker, piece.span, tuple(echoes.get(piece.span, ())))
        for cue in group
        for piece in cue.words
    ]


def _spread(paces: Sequence[int], begin: int, finish: int) -> list[tuple[int, int]]:
    """Start and end of the words between two known times, each as long as its pace asks."""
    total = sum(paces)
    length = min(finish - begin, int(SLOWEST * total))
    return list(pairwise(begin + length * done // total for done in accumulate(paces, initial=0)))

"""Where settled words stand in a talk, whose captions may have changed since they were settled."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from statistics import median

from rapidfuzz.distance import Levenshtein

from aligner.captions.words import Word
from aligner.pins.pin import Anchor, plain

Span = tuple[int, int]
"""Half-open range of words."""

_SLACK = 40
"""Milliseconds by which times may differ in unchanged captions; formats round differently."""
_REACH = 15_000
"""Milliseconds around the expected time in which changed words are looked for."""
_LEAST_SHARE = 0.5
"""Of the words around the settled ones, the share that must be found again where the settled ones have changed."""
_LEAST_SHARE_FAR = 0.65
"""The same, where they are not near the expected time."""
_LEAST_CONTEXT = 0.25
"""The same, where the settled words themselves are found unchanged in another place."""


def place(anchors: Sequence[Anchor], words: Sequence[Word]) -> list[Span | None]:
    """For each anchor the words it is about, None where they cannot be found again.

    First the same words at the same time. What is left is looked for by the words around it, near the time that
    the found ones suggest: new captions may begin later, and spell the words otherwise.
    """
    plains = [plain(word.text) for word in words]
    starts = [word.start for word in words]
    found = [_same(anchor, plains, starts) for anchor in anchors]
    missing = [index for index, span in enumerate(found) if span is None]
    if not missing:
        return found
    by_word: dict[str, list[int]] = {}
    for index, text in enumerate(plains):
        by_word.setdefault(text, []).append(index)
    for index in missing:
        found[index] = _moved(anchors[index], plains, by_word)
    shifts = [starts[span[0]] - anchor.at for anchor, span in zip(anchors, found, strict=True) if span is not None]
    shift = round(median(shifts)) if shifts else 0
    for index in missing:
        if found[index] is None:
            found[index] = _changed(anchors[index], shift, plains, starts, False)
            found[index] = found[index] or _changed(anchors[index], shift, plains, starts, True)
    return found


def _same(anchor: Anchor, plains: Sequence[str], starts: Sequence[int]) -> Span | None:
    said = anchor.words.split()
    first = bisect_left(starts, anchor.at - _SLACK)
    while said and first + len(said) <= len(plains) and starts[first] <= anchor.at + _SLACK:
        if all(plains[first + k] == plain(text) for k, text in enumerate(said)):
            return first, first + len(said)
        first += 1
    return None


def _moved(anchor: Anchor, plains: Sequence[str], by_word: dict[str, list[int]]) -> Span | None:
    """The same words elsewhere, where the words around them are the same too and no other place is as good."""
    said = [plain(text) for text in anchor.words.split()]
    if not said:
        return None
    before, after = plain(anchor.before).split(), plain(anchor.after).split()
    rated: list[tuple[float, int]] = []
    for first in by_word.get(said[0], ()):
        past = first + len(said)
        if list(plains[first:past]) == said:
            rated.append((_alike(before, after, plains, first, past), first))
    rated.sort(reverse=True)
    if not rated or rated[0][0] < _LEAST_CONTEXT or (len(rated) > 1 and rated[1][0] >= rated[0][0] - 0.05):
        return None
    return rated[0][1], rated[0][1] + len(said)


def _alike(before: list[str], after: list[str], plains: Sequence[str], first: int, past: int) -> float:
    kept = len(before) + len(after)
    if not kept:
        return 1.0
    lead = [text for text in plains[max(first - len(before), 0) : first] if text]
    tail = [text for text in plains[past : past + len(after)] if text]
    lost = Levenshtein.distance(before, lead) + Levenshtein.distance(after, tail)
    return 1.0 - lost / (2 * kept) if lost <= kept else 0.0


def _changed(anchor: Anchor, shift: int, plains: Sequence[str], starts: Sequence[int], everywhere: bool) -> Span | None:
    """Other words in the same surroundings, near the time where they should be, or everywhere."""
    before, said, after = (plain(text).split() for text in (anchor.before, anchor.words, anchor.after))
    if not before and not after:
        return None
    least = _LEAST_SHARE_FAR if everywhere else _LEAST_SHARE
    first, past = 0, len(plains)
    if not everywhere:
        first = bisect_left(starts, anchor.at + shift - _REACH)
        past = bisect_left(starts, anchor.until + shift + _REACH)
    best: tuple[float, Span] | None = None
    for begin in range(first, past):
        lead = plains[max(begin - len(before), 0) : begin]
        matched = Levenshtein.similarity(before, lead)
        if before and matched < len(before) * least:
            continue
        for end in range(begin + 1, min(begin + len(said) + 4, past + 1)):
            tail = plains[end : end + len(after)]
            behind = Levenshtein.similarity(after, tail)
            if after and behind < len(after) * least:
                continue
            late = abs(starts[begin] - anchor.at - shift) / 1000
            alike = Levenshtein.similarity(said, plains[begin:end])
            score = matched + behind + 0.1 * alike - min(0.01 * late, 0.5)
            if best is None or score > best[0]:
                best = (score, (begin, end))
    return best[1] if best is not None else None

"""Passages: the talk's words in pieces of a few lines, the unit in which words are looked for."""

from __future__ import annotations

from dataclasses import dataclass

from aligner.catalogue.words import Timed

_LEAST, _MOST = 40, 64
"""Words in a passage: it ends where a sentence ends or the speaker pauses, once it is long enough."""
_PAUSE = 0.7
"""Seconds."""
_STOPS = (".", "?", "!")
OVERLAP = 6
"""Words of the next passage that count for this one too, so that no phrase is lost where two of them meet."""


@dataclass(frozen=True, slots=True)
class Passage:
    """Words in a row.

    Attributes:
        first: index of the first word.
        past: index after the last word.
        heard: index after the last word that is searched with it.
    """

    first: int
    past: int
    heard: int


def passages(words: Timed) -> list[Passage]:
    """The talk in passages; every word is in exactly one."""
    found: list[Passage] = []
    texts, starts, ends = words.texts, words.starts, words.ends
    first = 0
    count = len(texts)
    while first < count:
        past = min(first + _LEAST, count)
        while past < count and past - first < _MOST:
            if texts[past - 1][-1:] in _STOPS or starts[past] - ends[past - 1] >= _PAUSE:
                break
            past += 1
        found.append(Passage(first, past, min(count, past + OVERLAP)))
        first = past
    return found

"""A part of a talk that tells of one game, heard as if the recording ended with it."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, replace

from aligner.speech.listen import Speech


@dataclass(frozen=True, slots=True)
class Part:
    """Words of a talk that tell of one game.

    Attributes:
        first: of its words.
        past: after its last word.
    """

    first: int
    past: int


def heard(speech: Speech, part: Part) -> Speech:
    """What is heard in a part; words keep their places in the recording, so those before it stay, but tell nothing."""
    if part.first == 0 and part.past == len(speech.words):
        return speech
    words_of_tokens = [token.word for token in speech.tokens]
    first, past = bisect_left(words_of_tokens, part.first), bisect_left(words_of_tokens, part.past)
    kept = [stretch for stretch in speech.stretches if first <= stretch.start < past]
    whole = [replace(one, spoken=tuple(s for s in one.spoken if s.phrase.end <= past)) for one in kept]
    entries = tuple(entry for entry in speech.entries if first <= entry.start and entry.end <= past)
    stated = tuple(one for one in speech.statements if first <= one.start and one.end <= past)
    return Speech(speech.words[: part.past], speech.tokens[:past], entries, (), stated).with_stretches(whole)

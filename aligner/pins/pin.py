"""Decisions of a person, tied to words and to a time, so that they survive new captions of the same talk."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from aligner.captions.words import Word

MOVE, NO_MOVE, BACK, RIGHT, WRONG, INFERRED = "move", "no move", "back in the game", "right", "wrong", "inferred"
DECISIONS = (MOVE, NO_MOVE, BACK, RIGHT, WRONG, INFERRED)
"""What can be settled: the words speak of a move; of none; from these words on the talk is back in the game; the
finding about these words is right, or wrong; before these words a move goes unspoken."""

_AROUND = ".,;:!?\u2026\"'\u201c\u201d\u2018\u2019()[]"
CONTEXT = 6
"""Words kept before and after the settled ones, to find them again by."""


@dataclass(frozen=True, slots=True)
class Anchor:
    """The words that a decision is about.

    Attributes:
        at: milliseconds, start of the first word.
        until: milliseconds, end of the last word.
        words: the words as in the captions, separated by spaces.
        before: up to six words that come before.
        after: up to six words that follow.
    """

    at: int
    until: int
    words: str
    before: str = ""
    after: str = ""


@dataclass(frozen=True, slots=True)
class Pin:
    """One decision.

    Attributes:
        anchor: the words it is about.
        decision: one of `DECISIONS`.
        line: for "move" and "inferred": the moves in SAN from the start position up to and including the last
            that is spoken of; else empty.
        spoken: how many moves at the end of `line` the words speak of.
        in_game: whether the last of them is a move of the game.
        again: whether it was spoken of before and is only looked back at; None leaves that to the search.
        number: 1 for the first decision about a talk, one more for each later one.
    """

    anchor: Anchor
    decision: str
    line: tuple[str, ...] = ()
    spoken: int = 1
    in_game: bool = True
    again: bool | None = None
    number: int = 0

    @property
    def about(self) -> tuple[int, str, str]:
        """What the decision is about; a later one about the same replaces it."""
        subject = {RIGHT: "finding", WRONG: "finding", BACK: "gap", INFERRED: "gap"}.get(self.decision, "words")
        return self.anchor.at, plain(self.anchor.words), subject


def plain(text: str) -> str:
    """Words as they are compared: lower case, without the punctuation around them."""
    bare = (word.strip(_AROUND).lower() for word in text.split())
    return " ".join(word for word in bare if word)


def anchor(words: Sequence[Word], first: int, past: int) -> Anchor:
    """The anchor of the words `first` up to `past`."""
    joined = [word.text for word in words[max(first - CONTEXT, 0) : past + CONTEXT]]
    lead = first - max(first - CONTEXT, 0)
    size = past - first
    return Anchor(
        at=words[first].start,
        until=words[past - 1].end,
        words=" ".join(joined[lead : lead + size]),
        before=" ".join(joined[:lead]),
        after=" ".join(joined[lead + size :]),
    )


def with_pin(pins: Sequence[Pin], pin: Pin) -> tuple[Pin, ...]:
    """The pins with one more, in order of time, numbered as the latest; it takes the place of one about the same words.

    Words that were settled as something else and overlap in time are no longer settled: the later decision counts.
    """
    kept = [old for old in pins if not _replaces(pin, old)]
    latest = replace(pin, number=1 + max((old.number for old in pins), default=0))
    return in_order([*kept, latest])


def in_order(pins: Iterable[Pin]) -> tuple[Pin, ...]:
    """The pins in order of time."""
    return tuple(sorted(pins, key=lambda pin: (pin.anchor.at, pin.about)))


def _replaces(new: Pin, old: Pin) -> bool:
    if new.about[2] != old.about[2]:
        return False
    return new.about == old.about or (
        new.about[2] == "words" and new.anchor.at < old.anchor.until and old.anchor.at < new.anchor.until
    )

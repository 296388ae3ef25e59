"""The chapters of a talk: which moments open one, where exactly they begin, how many there are."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from aligner.chapters.moments import moments, vocabulary
from aligner.chapters.sentences import Sentence, apart, bare, sentences
from aligner.record.model import Game, Record

SHORTEST = 10
"""Seconds of the shortest chapter: common practice of the places that read chapter lists."""
_LEAD_IN = 12.0
"""Seconds by which a chapter may begin before its move, so that it begins with the sentence."""
_SPARSE = 2.2
"""Times the usual length a chapter may have before a lesser moment is let in to part it."""
_FILLS = 20
"""Weight below which a moment only fills a gap."""
_SPREAD = 0.55
"""Share of the usual length that lies between two chapters at least."""


@dataclass(frozen=True, slots=True)
class Chapter:
    """A stretch of the recording with a title.

    Attributes:
        start: seconds, whole, so that a list of times and the track say the same.
        end: seconds, exclusive; the next chapter's start.
        title: one line.
        node: the move it begins with, and
        game: the index of its game in the record; None where it is about no move.
    """

    start: float
    end: float
    title: str
    node: int | None = None
    game: int | None = None


def usual_number(seconds: float) -> int:
    """How many chapters a talk of this length has: 7 in eight minutes, 12 in twenty, 20 in an hour, 35 in three."""
    return max(1, round(2.6 * math.sqrt(seconds / 60)))


def choose(record: Record, at_most: int | None = None) -> tuple[Chapter, ...]:
    """The chapters of a talk, the first at second 0, end to end; empty only where the talk lasts no time.

    Args:
        record: of the talk.
        at_most: how many, where fewer than usual are wanted; at least 1.
    """
    seconds = max(record.recording.seconds, record.words[-1].end if record.words else 0.0)
    if seconds <= 0:
        return ()
    number = usual_number(seconds) if at_most is None else max(1, at_most)
    candidates = _candidates(record, seconds)
    usual = seconds / max(number, 1)
    apart = max(SHORTEST, usual * _SPREAD)
    chosen: list[_Candidate] = [candidates[0]]
    weighty = [moment for moment in candidates[1:] if moment.weight >= _FILLS]
    for candidate in sorted(weighty, key=lambda one: (-one.weight, one.at)):
        near = SHORTEST if candidate.weight >= 90 or candidate.node is None else apart
        if len(chosen) < number and _fits(candidate, chosen, near, seconds):
            chosen.append(candidate)
    _fill(chosen, candidates, number, usual, apart, seconds)
    chosen.sort(key=lambda one: one.at)
    ends = [one.at for one in chosen[1:]] + [seconds]
    return tuple(
        Chapter(float(one.at), float(end), one.title, one.node, one.game) for one, end in zip(chosen, ends, strict=True)
    )


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A moment moved to the beginning of its sentence, in whole seconds."""

    at: int
    weight: float
    title: str
    node: int | None
    game: int | None


def _candidates(record: Record, seconds: float) -> list[_Candidate]:
    """All that may open a chapter, in order of time; the first is at second 0."""
    found: list[_Candidate] = []
    moves = apart(mention.words for game in record.games for mention in game.mentions)
    spoken = sentences(record.words, moves)
    starts = [record.words[sentence.first].start for sentence in spoken]
    for number, game in enumerate(record.games):
        for moment in moments(game, record.words):
            at = _sentence_start(starts, moment.at)
            found.append(_Candidate(at, moment.weight, moment.title, moment.node, number))
        found.extend(_between_games(record, number, game))
    found.extend(_closing(record, spoken, seconds))
    found.sort(key=lambda one: (one.at, -one.weight))
    if not found:
        return [_Candidate(0, 100, record.recording.title or "The talk", None, None)]
    if found[0].at >= SHORTEST:
        return [_Candidate(0, 100, "Introduction", None, None), *found]
    # no time for an introduction: what matters most in the first seconds opens the talk
    first = max((one for one in found if one.at < SHORTEST), key=lambda one: one.weight)
    rest = [one for one in found if one is not first and one.at >= SHORTEST]
    return [_Candidate(0, 100, first.title, first.node, first.game), *rest]


def _sentence_start(starts: Sequence[float], at: float) -> int:
    place = bisect_right(starts, at) - 1
    begins = starts[place] if place >= 0 and at - starts[place] <= _LEAD_IN else max(0.0, at - 1.0)
    return int(begins)


def _between_games(record: Record, number: int, game: Game) -> list[_Candidate]:
    """Where the talk turns to another game."""
    if number == 0:
        return []
    white, black = game.headers.get("White", "?"), game.headers.get("Black", "?")
    named = {white, black}.isdisjoint({"?", "", "White", "Black"})
    title = f"{white} \u2013 {black}" if named else f"Game {number + 1}"
    return [_Candidate(int(game.start), 99, title, None, number)]


def _closing(record: Record, spoken: Sequence[Sentence], seconds: float) -> list[_Candidate]:
    """The talk after its last new move, where that is long enough."""
    told = [mention for game in record.games for mention in game.mentions if mention.kind in ("move", "slip")]
    if not told or not spoken:
        return []
    last = max(mention.words[1] for mention in told)
    ends = max(mention.end for mention in told)
    # what is said at once belongs to the move still
    later = (sentence for sentence in spoken if sentence.first >= last)
    after = next((sentence for sentence in later if record.words[sentence.first].start >= ends + SHORTEST), None)
    if after is None:
        return []
    at = math.ceil(max(record.words[after.first].start, ends))
    if seconds - at < SHORTEST * 1.5:
        return []
    lessons = vocabulary()["closing"]["lessons"]
    text = f" {' '.join(bare(word.text) for word in record.words[after.first :])} "
    again = [m for game in record.games for m in game.mentions if m.kind == "again" and m.words[0] >= after.first]
    if any(f" {phrase} " in text for phrase in lessons):
        return [_Candidate(at, 70, "Lessons", None, None)]
    return [_Candidate(at, 70, "Looking back" if len(again) > 1 else "Closing words", None, None)]


def _fits(candidate: _Candidate, chosen: Sequence[_Candidate], apart: float, seconds: float) -> bool:
    if candidate.at < SHORTEST or seconds - candidate.at < SHORTEST:
        return False
    if any(one.title == candidate.title for one in chosen):
        return False
    return all(abs(one.at - candidate.at) >= apart for one in chosen)


def _fill(
    chosen: list[_Candidate],
    candidates: Sequence[_Candidate],
    number: int,
    usual: float,
    apart: float,
    seconds: float,
) -> None:
    """Part what is far too long, with the best there is, while there is room."""
    while len(chosen) < number:
        times = sorted([one.at for one in chosen] + [math.floor(seconds)])
        gap, start = max((end - start, start) for start, end in pairwise(times))
        if gap < usual * _SPARSE:
            return
        between = (one for one in candidates if start < one.at < start + gap)
        inside = [one for one in between if _fits(one, chosen, apart, seconds)]
        if not inside:
            return
        chosen.append(max(inside, key=lambda one: (one.weight, -abs(one.at - start - gap / 2))))

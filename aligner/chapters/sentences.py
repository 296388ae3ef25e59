"""Where the talk's sentences begin and end, also in captions without punctuation.

Captions with full stops are cut at them. Others are cut where a sentence is likely to end: the chance of a full stop,
a comma or nothing between two words is a multinomial logistic regression over the words around (fitted on punctuated
talks by `tests/chapters/fit_sentences.py`, weights in `data/en/sentences.json`), pauses speak for an end, and a dynamic
program finds the cut of the whole talk with the highest sum, so that no sentence is endless or a stub.
"""

from __future__ import annotations

import json
import math
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from importlib.resources import files

from aligner.record.model import SpokenWord

MOVE = "<move>"
"""Stands for the words of a move in the features of the regression."""

_PUNCTUATED = 1 / 45
"""Full stops per word from which on captions count as punctuated; talks have one in 8 to 20 words."""
_LONGEST, _SHORTEST = 40, 3
"""Words of the longest sentence, and below which a sentence is a stub."""
_STUB_COST, _LONG_COST, _LONG_FROM = 1.2, 0.12, 22
"""In nats: for a stub, and for each word from the 23rd on."""
_READINESS = 0.5
"""Nats for an end anywhere: a full stop where a comma would do reads better than a sentence that runs on."""
_PAUSES = ((0.9, 2.5), (0.5, 1.2), (0.3, 0.5))
"""Seconds of silence before a word, and nats they speak for a sentence's end; common practice of transcribers."""
_INFORMATIVE = (0.04, 0.5)
"""Share of words followed by silence between which captions know when the speaker is silent, or is not."""
_UNBROKEN = -1.0
"""Nats for an end without a silence, in such captions."""
_LEADS_ON = frozenset(("article", "possessive", "be", "have", "modal", "preposition", "and", "but", "if", "verb"))
_NO_COMMA = frozenset(("subject", "side", "not", "question"))
_NEVER, _COMMA_READINESS = -5.0, -0.4
"""Nats for an end after a word that leads on; and for a comma anywhere, as too few read better than too many."""
_STOP = re.compile("[.!?…][\"'”\u2019)\\]]*$")
_ABBREVIATION = re.compile(r"^(?:vs|e\.g|i\.e|mr|mrs|ms|dr|st|no|approx|\d{1,3}|[a-z])\.$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence of the talk.

    Attributes:
        first: index of its first word.
        past: index after its last word.
        commas: indices of words inside it after which a comma belongs that the captions lack.
    """

    first: int
    past: int
    commas: frozenset[int] = frozenset()


def is_punctuated(words: Sequence[SpokenWord]) -> bool:
    """Whether captions have full stops of their own."""
    stops = sum(bool(_STOP.search(word.text)) for word in words)
    return stops > len(words) * _PUNCTUATED


def sentences(words: Sequence[SpokenWord], moves: Sequence[tuple[int, int]]) -> tuple[Sentence, ...]:
    """The sentences of a talk, one after the other, all words in them.

    Args:
        words: of the talk.
        moves: half-open ranges of words that name moves, in order, apart from each other; never cut inside.
    """
    return _sentences(tuple(words), tuple(moves))


# chapters and notes of one talk ask for the same sentences
@lru_cache(maxsize=2)
def _sentences(words: tuple[SpokenWord, ...], moves: tuple[tuple[int, int], ...]) -> tuple[Sentence, ...]:
    if not words:
        return ()
    if is_punctuated(words):
        return _cut_at_stops(words, moves)
    return _cut_by_likelihood(words, moves)


def apart(ranges: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """Half-open ranges of words in order, without empty ones and those that begin inside another."""
    kept: list[tuple[int, int]] = []
    for first, past in sorted(set(ranges)):
        if past > first and (not kept or first >= kept[-1][1]):
            kept.append((first, past))
    return kept


def bare(text: str) -> str:
    """A word in small letters, without punctuation at its ends."""
    return text.lower().strip(".,;:!?…\"“”'\u2019()[]-\u2013—")


def is_sound(word: str) -> bool:
    """Whether a bare word is none: "um", "uh"."""
    return _kinds().get(word) == "sound"


def _cut_at_stops(words: Sequence[SpokenWord], moves: Sequence[tuple[int, int]]) -> tuple[Sentence, ...]:
    inside = {index for first, past in moves for index in range(first, past - 1)}
    found: list[Sentence] = []
    first = 0
    for index, word in enumerate(words):
        last = index + 1 == len(words)
        # a move whose words run over a full stop: "the centre. Pawn to e5"
        glued = index in inside and not words[min(index + 1, len(words) - 1)].text[:1].isupper()
        ends = bool(_STOP.search(word.text)) and not _ABBREVIATION.match(word.text) and not glued
        other_speaker = not last and words[index + 1].speaker != word.speaker
        if last or ends or other_speaker:
            found.append(Sentence(first, index + 1))
            first = index + 1
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Unit:
    """A word, or all words of a move, as the regression sees them.

    Attributes:
        text: the bare word, or `MOVE`.
        first: index of the first word.
        past: index after the last word.
    """

    text: str
    first: int
    past: int


def units(texts: Sequence[str], moves: Sequence[tuple[int, int]]) -> tuple[Unit, ...]:
    """The words with each move's words as one unit."""
    found: list[Unit] = []
    at = 0
    for first, past in moves:
        if first < at or past <= first or past > len(texts):
            continue
        _add_words(found, texts, at, first)
        found.append(Unit(MOVE, first, past))
        at = past
    _add_words(found, texts, at, len(texts))
    return tuple(found)


def _add_words(found: list[Unit], texts: Sequence[str], first: int, past: int) -> None:
    """Each word as a unit; a sound of hesitation goes with the word before it, as if it were not there."""
    for index in range(first, past):
        text = bare(texts[index])
        if found and is_sound(text):
            found[-1] = replace(found[-1], past=index + 1)
        else:
            found.append(Unit(text, index, index + 1))


def features(texts: Sequence[str], at: int) -> list[str]:
    """What the regression looks at between unit `at` and the next one."""
    last, following = texts[at], texts[at + 1]
    before = texts[at - 1] if at else "<start>"
    after = texts[at + 2] if at + 2 < len(texts) else "<end>"
    kinds = _kind(before), _kind(last), _kind(following), _kind(after)
    return [
        "bias",
        f"l:{last}",
        f"n:{following}",
        f"ll:{before} {last}",
        f"nn:{following} {after}",
        f"b:{before}",
        f"a:{after}",
        f"LN:{kinds[1]} {kinds[2]}",
        f"BLN:{kinds[0]} {kinds[1]} {kinds[2]}",
        f"LNA:{kinds[1]} {kinds[2]} {kinds[3]}",
        f"BLNA:{' '.join(kinds)}",
    ]


def _kind(word: str) -> str:
    """A class of words that take the same places in a sentence."""
    return _kinds().get(word) or next((end for end in ("ing", "ed", "ly", "n't", "'s") if word.endswith(end)), "-")


@cache
def _kinds() -> Mapping[str, str]:
    text = (files("aligner.chapters") / "data" / "en" / "words.toml").read_text(encoding="utf-8")
    return {word: kind for kind, words in tomllib.loads(text)["kinds"].items() for word in words.split()}


@cache
def _joined() -> frozenset[tuple[str, str]]:
    """Pairs of words that are one name."""
    text = (files("aligner.chapters") / "data" / "en" / "words.toml").read_text(encoding="utf-8")
    pairs = (phrase.split() for phrase in tomllib.loads(text)["joined"]["phrases"])
    return frozenset((first, second) for first, second in pairs)


@cache
def _weights() -> tuple[Mapping[str, float], Mapping[str, float]]:
    text = (files("aligner.chapters") / "data" / "en" / "sentences.json").read_text(encoding="utf-8")
    weights = json.loads(text)
    return weights["stop"], weights["comma"]


def chances(texts: Sequence[str], at: int) -> tuple[float, float]:
    """Log odds of a full stop against everything else, and of a comma against nothing, in nats."""
    stops, commas = _weights()
    present = features(texts, at)
    stop = sum(stops.get(name, 0.0) for name in present)
    comma = sum(commas.get(name, 0.0) for name in present)
    return stop - math.log1p(math.exp(comma)) + _READINESS, comma


def _leads_on(last: str, following: str) -> bool:
    """Whether two words belong together so closely that no sentence ends between them."""
    kinds = _kinds()
    last_kind, kind = kinds.get(last), kinds.get(following)
    if last_kind == "verb":
        return following == MOVE
    if last_kind == "number" and (kind == "number" or following in _AFTER_NUMBERS):
        return True
    if (last, following) in _joined():
        return True
    if following == "of" or (last in _PIECES and _SQUARE.match(following)):
        return True
    return last_kind in _LEADS_ON


_AFTER_NUMBERS = frozenset(("and", "a", "half", "year", "years", "minutes", "moves", "seconds", "hundred", "o'clock"))
_PIECES = frozenset(("king", "queen", "rook", "bishop", "knight", "pawn", "takes", "to", "on"))
_SQUARE = re.compile(r"^[a-h][1-8]?$")


def _cut_by_likelihood(words: Sequence[SpokenWord], moves: Sequence[tuple[int, int]]) -> tuple[Sentence, ...]:
    parts = units([word.text for word in words], moves)
    texts = [part.text for part in parts]
    odds: list[tuple[float, float]] = []
    silences = [words[parts[at + 1].first].start - words[parts[at].past - 1].end for at in range(len(parts) - 1)]
    known = sum(silence > 0.05 for silence in silences) / max(1, len(silences))
    unbroken = _UNBROKEN if _INFORMATIVE[0] <= known <= _INFORMATIVE[1] else 0.0
    for at, silence in enumerate(silences):
        stop, comma = chances(texts, at)
        last, following = words[parts[at].past - 1], words[parts[at + 1].first]
        stop += next((nats for seconds, nats in _PAUSES if silence >= seconds), unbroken if silence < 0.05 else 0.0)
        comma += _COMMA_READINESS
        if _leads_on(texts[at], texts[at + 1]):
            stop, comma = stop + _NEVER, comma + _NEVER
        if _kinds().get(texts[at]) in _NO_COMMA:
            comma += _NEVER
        if following.speaker != last.speaker:
            stop += 20.0
        odds.append((stop, comma))
    cuts = _best_cuts([part.past - part.first for part in parts], [stop for stop, _ in odds])
    found: list[Sentence] = []
    start = 0
    for cut in cuts:
        commas = frozenset(parts[at].past - 1 for at in range(start, cut - 1) if odds[at][1] > 0.0)
        found.append(Sentence(parts[start].first, parts[cut - 1].past, commas))
        start = cut
    return tuple(found)


def _best_cuts(lengths: Sequence[int], stops: Sequence[float]) -> list[int]:
    """Ends of the sentences, as numbers of units, that together score best.

    Args:
        lengths: words of each unit.
        stops: log odds of a full stop after each unit but the last.
    """
    count = len(lengths)
    before = [0]
    for length in lengths:
        before.append(before[-1] + length)
    best = [0.0] + [-math.inf] * count
    came_from = [0] * (count + 1)
    for end in range(1, count + 1):
        gain = stops[end - 1] if end < count else 0.0
        for start in range(end - 1, -1, -1):
            size = before[end] - before[start]
            if size > _LONGEST and start < end - 1:
                break
            score = best[start] + gain
            if size < _SHORTEST:
                score -= _STUB_COST
            elif size > _LONG_FROM:
                score -= _LONG_COST * (size - _LONG_FROM)
            if score > best[end]:
                best[end], came_from[end] = score, start
    cuts = []
    at = count
    while at:
        cuts.append(at)
        at = came_from[at]
    return cuts[::-1]

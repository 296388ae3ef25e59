"""What sounds like the parts of a spoken move: words heard for others, parts confused with one another, misspellings.

Nothing here decides: every answer is a reading with a cost, and the board has the last word. The costs are phoneme
distances of about the size of nats (0 is the same sound, 2 is far); the search multiplies them by a fitted price.
The table is data, one file a language (`data/<language>/sounds.toml`); a language without the file has no readings.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from itertools import pairwise
from types import MappingProxyType
from typing import Any, Literal, get_args

from rapidfuzz.distance import OSA

Kind = Literal["file", "rank", "piece", "verb", "square", "piece_file"]
"""What a word is read as. A "piece_file" is a piece with the letter after it, run together ("rookie": "rook e")."""

KINDS: tuple[Kind, ...] = get_args(Kind)

Respelling = tuple[re.Pattern[str], str]
"""A spelling and the one it is levelled to, applied in order, as in `re.sub`."""

SHORTEST_WORD, SHORTEST_WITH_MISTAKES, LONGEST_WORD = 3, 4, 20
"""Letters: of a word that may be a misspelling, that may have a letter wrong, and that is still compared."""


@dataclass(frozen=True, slots=True)
class SoundAlike:
    """One reading of a word heard.

    Attributes:
        kind: what part of a move the word is read as.
        target: "a" to "h", "1" to "8", a piece's or a verb's name, a square such as "b4", or piece and file ("rook e").
        cost: 0 where both sound the same, growing with the distance.
    """

    kind: Kind
    target: str
    cost: float


@dataclass(frozen=True, slots=True)
class MisspellingPrices:
    """What a misspelling costs.

    Attributes:
        same_sound: cost of a word that is levelled to the same spelling as the target.
        letter: cost added for each letter put in, left out, changed, or swapped with its neighbour.
        letters_allowed: for targets of at least so many letters (as spelt), how many such mistakes are followed.
    """

    same_sound: float
    letter: float
    letters_allowed: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class SoundTable:
    """One language's table.

    Attributes:
        alike: word heard (lower case) to its readings, cheapest first.
        confusions: (kind, one, other) to cost, in both directions.
        digits: how a digit is said, "4" to "four".
        respellings: how spellings that sound the same are levelled.
        spelt: what may be misspelt, as kind, name, and name levelled.
        ordinary: words that look like a misspelling and are words of their own.
        prices: what a misspelling costs.
    """

    alike: Mapping[str, tuple[SoundAlike, ...]]
    confusions: Mapping[tuple[str, str, str], float]
    digits: Mapping[str, str]
    respellings: tuple[Respelling, ...]
    spelt: tuple[tuple[Kind, str, str], ...]
    ordinary: frozenset[str]
    prices: MisspellingPrices


@lru_cache
def sound_table(language: str = "en") -> SoundTable:
    """The table of a language, read once; empty for a language without one."""
    file = resources.files("aligner.speech").joinpath("data", language, "sounds.toml")
    return table_from(tomllib.loads(file.read_text("utf-8")) if file.is_file() else {})


def table_from(data: Mapping[str, Any]) -> SoundTable:
    """The table of a parsed `sounds.toml`."""
    alike: dict[str, list[SoundAlike]] = {}
    for kind in KINDS:
        for target, words in data.get(kind, {}).items():
            for word, cost in words.items():
                alike.setdefault(word, []).append(SoundAlike(kind, target, float(cost)))
    confusions: dict[tuple[str, str, str], float] = {}
    for kind, rows in data.get("confusion", {}).items():
        for one, others in rows.items():
            for other, cost in others.items():
                confusions[kind, one, other] = confusions[kind, other, one] = float(cost)
    spelling = data.get("spelling", {})
    respellings = tuple((re.compile(pattern), level) for pattern, level in spelling.get("respellings", ()))
    return SoundTable(
        alike=MappingProxyType({word: tuple(sorted(rows, key=_by_cost)) for word, rows in alike.items()}),
        confusions=MappingProxyType(confusions),
        digits=MappingProxyType(dict(data.get("digits", {}))),
        respellings=respellings,
        spelt=tuple(
            (kind, name, respell(name, respellings))
            for kind in KINDS
            for name in spelling.get("targets", {}).get(kind, ())
        ),
        ordinary=frozenset(spelling.get("ordinary", ())),
        prices=MisspellingPrices(
            float(spelling.get("same_sound", math.inf)),
            float(spelling.get("letter", math.inf)),
            tuple((length, mistakes) for length, mistakes in spelling.get("letters_allowed", ())),
        ),
    )


def sounds_like(word: str, language: str = "en") -> tuple[SoundAlike, ...]:
    """The parts of a move that a word may have been, cheapest first; case is ignored, digits are read aloud.

    A part is never listed under its own name, nor one file, rank or piece under another's: see `confusion`.
    """
    table = sound_table(language)
    heard = word.casefold()
    return table.alike.get(table.digits.get(heard, heard), ())


def spelt_number(word: str, language: str = "en") -> str:
    """The rank, "1" to "8", that a word is said as: "four" and what sounds the same ("for"); "" for none."""
    alike = (row.target for row in sounds_like(word, language) if row.kind == "rank" and row.cost == 0.0)
    return _rank_words(language).get(word) or next(alike, "")


def confusion(kind: str, said: str, meant: str, language: str = "en") -> float:
    """How far apart two files ("a" to "h"), ranks ("1" to "8") or pieces ("knight") sound; `inf` where not alike.

    Cheap pairs are a recogniser's mistakes; where it is `inf`, it was the speaker who said the wrong one.
    """
    return 0.0 if said == meant else sound_table(language).confusions.get((kind, said, meant), math.inf)


def how_alike(said: str, meant: str, language: str = "en") -> float:
    """How far apart two spoken moves sound, part by part: "knight f4" and "knight f3", "be five" and "b5".

    Both are plain words, small letters or capitals; `inf` where a part of one has no counterpart in the other.
    """
    heard, target = (_parts(text, language) for text in (said, meant))
    costs = {(0, 0): 0.0}  # (parts heard, parts of the target) accounted for, to the cheapest way there
    for i, part in enumerate(heard):
        for j in range(len(target)):
            so_far = costs.get((i, j), math.inf)
            for length, cost in _counterparts(part, target[j : j + 2], language) if so_far < math.inf else ():
                costs[i + 1, j + length] = min(so_far + cost, costs.get((i + 1, j + length), math.inf))
    return costs.get((len(heard), len(target)), math.inf)


@lru_cache(maxsize=65536)
def misspelt(word: str, language: str = "en") -> tuple[SoundAlike, ...]:
    """The pieces and verbs that an unknown word may be a misspelling of, cheapest first.

    For words that neither the lexicon nor `sounds_like` knows. Words of three letters must level to the very same
    spelling, longer ones may be a letter or two off; the first letter must agree. Ordinary words have no readings.
    """
    table = sound_table(language)
    heard = word.casefold()
    if not SHORTEST_WORD <= len(heard) <= LONGEST_WORD or not heard.isalpha():
        return ()
    if heard in table.ordinary or heard in table.alike:
        return ()
    levelled = respell(heard, table.respellings)
    found = (
        SoundAlike(kind, name, spelling_cost(heard, levelled, name, level, table.prices))
        for kind, name, level in table.spelt
    )
    return tuple(sorted((row for row in found if row.cost < math.inf), key=_by_cost))


def respell(word: str, respellings: Sequence[Respelling]) -> str:
    """A word with the spellings that sound the same levelled: "knight" and "nite" both become "nyt"."""
    for pattern, level in respellings:
        word = pattern.sub(level, word)
    return word


def spelling_cost(heard: str, levelled: str, name: str, level: str, prices: MisspellingPrices) -> float:
    """Cost of `heard` as a misspelling of `name`, both given as spelt and levelled; `inf` where it is none.

    Compared both ways, for slips of the hand and of the ear. The measure is the optimal string alignment
    distance: letters put in, left out, changed or swapped with the next.
    """
    allowed = max((mistakes for length, mistakes in prices.letters_allowed if len(name) >= length), default=0)
    if len(heard) < SHORTEST_WITH_MISTAKES:
        allowed = 0
    mistakes = min(_mistakes(heard, name, allowed), _mistakes(levelled, level, allowed))
    return math.inf if heard == name else prices.same_sound + prices.letter * mistakes


def _mistakes(word: str, name: str, allowed: int) -> float:
    """Letters wrong, `inf` where more than allowed or where the first letter differs."""
    if word[:1] != name[0] or abs(len(word) - len(name)) > allowed:
        return math.inf
    mistakes = OSA.distance(word, name, score_cutoff=allowed)
    return mistakes if mistakes <= allowed else math.inf


def _by_cost(row: SoundAlike) -> tuple[float, int, str]:
    return row.cost, KINDS.index(row.kind), row.target


def _parts(text: str, language: str) -> list[str]:
    """Words in lower case, spoken digits as digits, squares as two parts: "Knight f three" to knight, f, 3."""
    digit_of = _rank_words(language)
    parts: list[str] = []
    for word in text.casefold().split():
        if re.fullmatch("[a-h][1-8]", word):
            parts += word
        else:
            parts.append(digit_of.get(word, word))
    return parts


@lru_cache
def _rank_words(language: str) -> Mapping[str, str]:
    """Words for the ranks, "four" to "4"."""
    return {said: digit for digit, said in sound_table(language).digits.items() if digit in "12345678"}


def _counterparts(part: str, target: Sequence[str], language: str) -> Iterator[tuple[int, float]]:
    """How many of the next parts of the target one part heard may stand for, and at what cost."""
    one = target[0]
    yield 1, 0.0 if part == one else min(confusion(kind, part, one, language) for kind in ("file", "rank", "piece"))
    names = {one: 1} | {f"{one}{mark}{other}": 2 for one, other in pairwise(target) for mark in ("", " ")}
    for row in (*sounds_like(part, language), *misspelt(part, language)):
        if row.target in names:
            yield names[row.target], row.cost

"""Names of openings by what they sound like: "the Roy Lopez", "a caro can", "the night door variation".

Recognisers seldom know these names and write other words for them. The names that this happens to are given by their
sound as well (`heard` in `aligner/openings/data/<language>/names.toml`); words are levelled alike and compared.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache

from rapidfuzz.distance import OSA

from aligner.openings.names import names_by_sound
from aligner.speech.lexicon import Context, Entry
from aligner.speech.sounds import respell, sound_table
from aligner.speech.tokens import Token

_WORDS = 3
"""Words that a name may be broken into, at most."""
_ALIKE, _ALIKE_BEFORE_NOUN = 0.87, 0.78
"""How alike the sounds must be, 0 to 1: one less the optimal string alignment distance over the longer's letters."""
_FEWER = 2
"""Letters that one of two names alike may have more than the other."""


def heard_openings(
    tokens: Sequence[Token], entries: Sequence[Entry], context: Context, language: str = "en"
) -> list[Entry]:
    """Names of openings that the tokens sound like, where the lexicon found none; none of them overlap.

    Args:
        tokens: of the talk.
        entries: what the lexicon found.
        context: common words, which no name is heard as but for its last: "a caro can".
        language: whose names.
    """
    names = names_by_sound(language)
    taken = {place for one in entries if one.kind == "opening" for place in range(one.start, one.end)}
    found = []
    for place, token in enumerate(tokens):
        before_noun = token.text in names.nouns and place not in taken and place - 1 not in taken
        spans = _spans_before(tokens, place) if before_noun else _spans_from(tokens, place, names.first_letters)
        alike = [
            (*_likest(" ".join(one.text for one in tokens[start:end]), not before_noun, language), start, end)
            for start, end in spans
            if taken.isdisjoint(range(start, end)) and _uncommon(tokens[start:end], context)
        ]
        _, value, start, end = max(alike, default=(0.0, "", 0, 0))
        if value:
            taken.update(range(start, end))
            found.append(Entry("opening", value, start, end))
    return found


def _uncommon(words: Sequence[Token], context: Context) -> bool:
    return words[-1].text not in context.articles and not any(word.text in context.words for word in words[:-1])


def _spans_before(tokens: Sequence[Token], place: int) -> Iterator[tuple[int, int]]:
    for start in range(place - 1, max(place - _WORDS, 0) - 1, -1):
        if tokens[start].stop or tokens[start].comma:
            return
        yield start, place


def _spans_from(tokens: Sequence[Token], place: int, letters: frozenset[str]) -> Iterator[tuple[int, int]]:
    """Most words begin no name, and are not looked at any further."""
    if tokens[place].text[:1] not in letters:
        return
    for end in range(place + 1, min(place + _WORDS, len(tokens)) + 1):
        yield place, end
        if tokens[end - 1].stop or tokens[end - 1].comma:
            return


@lru_cache(maxsize=65536)
def _likest(words: str, whole: bool, language: str) -> tuple[float, str]:
    """The opening whose name is most alike, with how alike it is, 0 to 1; "" where none is.

    Args:
        words: heard, in lower case.
        whole: whether no noun behind them says that they are a name.
        language: whose names.
    """
    heard = _level(words, language)
    least = _ALIKE if whole else _ALIKE_BEFORE_NOUN
    best = (0.0, "")
    for name, value in _levelled(language, whole).items():
        longest = max(len(heard), len(name))
        if heard[:1] != name[0] or longest - min(len(heard), len(name)) > _FEWER:
            continue
        best = max(best, (1.0 - OSA.distance(heard, name) / longest, value))
    return best if best[0] >= least else (0.0, "")


@lru_cache(maxsize=4)
def _levelled(language: str, whole: bool) -> Mapping[str, str]:
    names = names_by_sound(language)
    return {_level(sound, language): moves for sound, moves in (names.alone if whole else names.sounds).items()}


def _level(words: str, language: str) -> str:
    """Words in one, with spellings that sound the same made the same."""
    names = names_by_sound(language)
    return respell(respell(words.replace(" ", ""), sound_table(language).respellings), names.levels)

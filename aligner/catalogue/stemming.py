"""Porter's stemmer, step for step as SQLite's FTS5 has it, so that PostgreSQL can be given the same stems.

M. F. Porter, An algorithm for suffix stripping, Program 14(3), 1980, with the two departures of the author's own later
program ("bli", "logi"). PostgreSQL's Snowball dictionaries stem some words otherwise. As in FTS5 a word of fewer than
three or more than 64 bytes stays as it is, and bytes outside ASCII count as consonants.
"""

from __future__ import annotations

from functools import lru_cache

_LONGEST = 64

# Suffix and what takes its place, by the last letter but one; the first that is there decides.
_STEP_2 = {
    "a": (("ational", "ate"), ("tional", "tion")),
    "c": (("enci", "ence"), ("anci", "ance")),
    "e": (("izer", "ize"),),
    "g": (("logi", "log"),),
    "l": (("bli", "ble"), ("alli", "al"), ("entli", "ent"), ("eli", "e"), ("ousli", "ous")),
    "o": (("ization", "ize"), ("ation", "ate"), ("ator", "ate")),
    "s": (("alism", "al"), ("iveness", "ive"), ("fulness", "ful"), ("ousness", "ous")),
    "t": (("aliti", "al"), ("iviti", "ive"), ("biliti", "ble")),
}
_STEP_3 = {
    "a": (("ical", "ic"),),
    "s": (("ness", ""),),
    "t": (("icate", "ic"), ("iciti", "ic")),
    "u": (("ful", ""),),
    "v": (("ative", ""),),
    "z": (("alize", "al"),),
}
_STEP_4 = {
    "a": ("al",),
    "c": ("ance", "ence"),
    "e": ("er",),
    "i": ("ic",),
    "l": ("able", "ible"),
    "n": ("ant", "ement", "ment", "ent"),
    "o": ("ion", "ou"),
    "s": ("ism",),
    "t": ("ate", "iti"),
    "u": ("ous",),
    "v": ("ive",),
    "z": ("ize",),
}


def stemmed(text: str) -> str:
    """Folded text with every word stemmed."""
    return " ".join([stem(word) for word in text.split(" ")])


@lru_cache(maxsize=50_000)
def stem(word: str) -> str:
    """A folded word's stem."""
    if not 3 <= len(word.encode("utf-8")) <= _LONGEST:
        return word
    # one character a byte, as FTS5 counts
    text = word if word.isascii() else word.encode("utf-8").decode("latin-1")
    text = _inflection(text)
    if text[-1] == "y" and _has_vowel(text[:-1]):
        text = text[:-1] + "i"
    for table in (_STEP_2, _STEP_3):
        text = _replaced(text, table)
    text = _without(text)
    if text[-1] == "e":
        measure = _measure(text[:-1])
        if measure > 1 or (measure == 1 and not _ends_short(text[:-1])):
            text = text[:-1]
    if text.endswith("ll") and _measure(text[:-1]) > 1:
        text = text[:-1]
    return text if word.isascii() else text.encode("latin-1").decode("utf-8", "replace")


def _shape(text: str) -> str:
    """Vowels and consonants; a y after a consonant is a vowel."""
    shape = ""
    for letter in text:
        vowel = letter in "aeiou" or (letter == "y" and shape[-1:] == "c")
        shape += "v" if vowel else "c"
    return shape


def _measure(text: str) -> int:
    """Porter's m: how often a consonant follows a vowel."""
    return _shape(text).count("vc")


def _has_vowel(text: str) -> bool:
    return any(letter in "aeiou" or (letter == "y" and place > 0) for place, letter in enumerate(text))


def _ends_short(text: str) -> bool:
    """Porter's *o: consonant, vowel, consonant, the last one not w, x or y."""
    return text[-1:] not in ("w", "x", "y") and _shape(text)[-3:] == "cvc"


def _inflection(text: str) -> str:
    """Steps 1a and 1b: plurals, -ed, -ing."""
    if text[-1] == "s":
        if text[-2] == "e":
            text = (
                text[:-2]
                if (len(text) > 4 and text[-4:-2] == "ss") or (len(text) > 3 and text[-3] == "i")
                else text[:-1]
            )
        elif text[-2] != "s":
            text = text[:-1]
    if len(text) > 3 and text.endswith("eed"):
        return text[:-1] if _measure(text[:-3]) > 0 else text
    for suffix in ("ed", "ing"):
        if len(text) > len(suffix) and text.endswith(suffix) and _has_vowel(text[: -len(suffix)]):
            return _restored(text[: -len(suffix)])
    return text


def _restored(text: str) -> str:
    if len(text) > 2 and text.endswith(("at", "bl", "iz")):
        return text + "e"
    last = text[-1]
    if last not in "aeioulsz" and last == text[-2:-1]:
        return text[:-1]
    return text + "e" if _measure(text) == 1 and _ends_short(text) else text


def _replaced(text: str, table: dict[str, tuple[tuple[str, str], ...]]) -> str:
    for suffix, instead in table.get(text[-2:-1], ()):
        if len(text) > len(suffix) and text.endswith(suffix):
            rest = text[: -len(suffix)]
            return rest + instead if _measure(rest) > 0 else text
    return text


def _without(text: str) -> str:
    for suffix in _STEP_4.get(text[-2:-1], ()):
        if len(text) > len(suffix) and text.endswith(suffix):
            rest = text[: -len(suffix)]
            fits = _measure(rest) > 1 and (suffix != "ion" or rest[-1] in "st")
            return rest if fits else text
    return text

"""How far apart two pronunciations sound: a weighted edit distance over ARPAbet phonemes.

The distance is that of Wagner and Fischer 1974 ("The string-to-string correction problem", from memory). Its weights
follow the features of Miller and Nicely 1955 ("An analysis of perceptual confusions among some English consonants",
from memory): place of articulation is lost first, then voicing and manner, nasality last. Vowels are priced by how far
apart they stand on the vowel chart of the International Phonetic Association. The numbers are by judgement: the order
is meant, and a size of about a nat.
"""

from __future__ import annotations

import math
from functools import cache
from itertools import accumulate

Phonemes = tuple[str, ...]
"""ARPAbet, vowels with their stress digit, as in the CMU Pronouncing Dictionary."""

# ---------------------------------------------------------------- consonants

PLACE = {
    **dict.fromkeys(("P", "B", "M", "F", "V", "W"), 0),  # lips
    **dict.fromkeys(("TH", "DH"), 1),  # teeth
    **dict.fromkeys(("T", "D", "S", "Z", "N", "L"), 2),  # tooth ridge
    **dict.fromkeys(("CH", "JH", "SH", "ZH", "R"), 3),  # behind the ridge
    **dict.fromkeys(("Y",), 4),  # hard palate
    **dict.fromkeys(("K", "G", "NG"), 5),  # soft palate
    **dict.fromkeys(("HH",), 6),  # glottis
}
MANNER = {
    **dict.fromkeys(("P", "B", "T", "D", "K", "G"), "stop"),
    **dict.fromkeys(("CH", "JH"), "affricate"),
    **dict.fromkeys(("F", "V", "TH", "DH", "S", "Z", "SH", "ZH", "HH"), "fricative"),
    **dict.fromkeys(("M", "N", "NG"), "nasal"),
    **dict.fromkeys(("L", "R"), "liquid"),
    **dict.fromkeys(("W", "Y"), "glide"),
}
VOICELESS = frozenset(("P", "T", "K", "CH", "F", "TH", "S", "SH", "HH"))

PLACE_CHANGED, PLACE_STEP = 0.2, 0.05
VOICING_CHANGED = 0.35
MANNER_CHANGED = {
    frozenset(("stop", "affricate")): 0.3,
    frozenset(("affricate", "fricative")): 0.3,
    frozenset(("stop", "fricative")): 0.4,
    frozenset(("liquid", "glide")): 0.5,
    frozenset(("stop", "nasal")): 0.7,
    frozenset(("nasal", "liquid")): 0.8,
    frozenset(("nasal", "glide")): 0.8,
    frozenset(("nasal", "fricative")): 1.0,
}
MANNER_FAR = 1.3
FAR = 2.5  # a consonant for a vowel

# A phoneme lost or gained: stops, affricates and h fade at the edge of a word, nothing else does.
EDGE_STOP, EDGE_OTHER, INSIDE = 0.5, 0.8, 1.0

# ---------------------------------------------------------------- vowels

# (closeness, backness) where the vowel begins and where it ends, each 0 to 1.
Point = tuple[float, float]
VOWELS: dict[str, tuple[Point, Point]] = {
    "IY": ((1.0, 0.0), (1.0, 0.0)),
    "IH": ((0.8, 0.25), (0.8, 0.25)),
    "EY": ((0.65, 0.05), (0.9, 0.15)),
    "EH": ((0.4, 0.15), (0.4, 0.15)),
    "AE": ((0.1, 0.25), (0.1, 0.25)),
    "AH": ((0.4, 0.55), (0.4, 0.55)),
    "AA": ((0.0, 0.8), (0.0, 0.8)),
    "AO": ((0.3, 0.95), (0.3, 0.95)),
    "OW": ((0.6, 0.8), (0.85, 0.85)),
    "UH": ((0.8, 0.75), (0.8, 0.75)),
    "UW": ((1.0, 0.9), (1.0, 0.9)),
    "AY": ((0.05, 0.5), (0.85, 0.15)),
    "AW": ((0.05, 0.5), (0.85, 0.85)),
    "OY": ((0.4, 0.95), (0.85, 0.15)),
}
VOWEL_SCALE = 1.8
BEGINNING, ENDING = 0.6, 0.4  # how much of a vowel is heard in its beginning and in its end
UNSTRESSED = 0.7  # two vowels without stress, both half swallowed
VOWEL_LOST, SCHWA_LOST = 1.6, 0.8
MERGED = {frozenset(("AA", "AO")): 0.2}  # "cot" and "caught", one vowel for many American speakers
HALF_VOWELS = {frozenset(("Y", "IY")): 0.5, frozenset(("W", "UW")): 0.5}


def bare(phoneme: str) -> str:
    """A phoneme without its stress digit."""
    return phoneme.rstrip("012")


@cache
def substitution(meant: str, heard: str) -> float:
    """Cost of hearing one phoneme for another (ARPAbet, vowels with their stress digit); 0 for the same."""
    one, other = bare(meant), bare(heard)
    if one == other:
        return 0.0
    if one in VOWELS and other in VOWELS:
        if frozenset((one, other)) in MERGED:
            return MERGED[frozenset((one, other))]
        beginning, ending = (math.dist(VOWELS[one][i], VOWELS[other][i]) for i in (0, 1))
        cost = VOWEL_SCALE * (BEGINNING * beginning + ENDING * ending)
        return cost * (UNSTRESSED if meant[-1] == heard[-1] == "0" else 1.0)
    if one in VOWELS or other in VOWELS:
        return HALF_VOWELS.get(frozenset((one, other)), FAR)
    steps = abs(PLACE[one] - PLACE[other])
    cost = PLACE_CHANGED + PLACE_STEP * steps if steps else 0.0
    cost += VOICING_CHANGED if (one in VOICELESS) != (other in VOICELESS) else 0.0
    return cost + (
        MANNER_CHANGED.get(frozenset((MANNER[one], MANNER[other])), MANNER_FAR) if MANNER[one] != MANNER[other] else 0.0
    )


@cache
def indel(phoneme: str, edge: bool) -> float:
    """Cost of a phoneme lost or gained, at the edge of what was said or inside it."""
    plain = bare(phoneme)
    if plain in VOWELS:
        return SCHWA_LOST if phoneme == "AH0" else VOWEL_LOST
    if not edge:
        return INSIDE
    return EDGE_STOP if MANNER[plain] in ("stop", "affricate") or plain == "HH" else EDGE_OTHER


def next_row(meant: Phonemes, lost: list[float], row: list[float], phoneme: str, edge: bool) -> list[float]:
    """The next row of the edit distance's table, after one more phoneme heard (Wagner and Fischer 1974)."""
    gained = indel(phoneme, edge)
    fresh = [row[0] + gained]
    for i, said in enumerate(meant):
        fresh.append(min(row[i] + substitution(said, phoneme), row[i + 1] + gained, fresh[i] + lost[i]))
    return fresh


def distance(meant: Phonemes, heard: Phonemes) -> float:
    """Weighted edit distance of two pronunciations. Symmetric."""
    lost = [indel(phoneme, i in (0, len(meant) - 1)) for i, phoneme in enumerate(meant)]
    row = [0.0, *accumulate(lost)]
    for j, phoneme in enumerate(heard):
        row = next_row(meant, lost, row, phoneme, j in (0, len(heard) - 1))
    return row[-1]

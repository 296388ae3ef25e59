"""The vocabulary of editing, from `data/en/editing.toml`."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files


@dataclass(frozen=True, slots=True)
class Filler:
    """A phrase without meaning.

    Attributes:
        words: of the phrase.
        not_after: words after which it does mean something.
        not_before: words before which it does.
    """

    words: tuple[str, ...]
    not_after: frozenset[str]
    not_before: frozenset[str]


@dataclass(frozen=True, slots=True)
class Editing:
    """Words by what becomes of them; each set is described in the data file.

    Attributes:
        openers: dropped before another at the beginning of a sentence.
        empty_openers: dropped there even alone.
        stammered: one of two is dropped.
        phrases: without meaning.
        pieces: names of pieces.
        notation: other words of a move's name.
        leads: kept before a move in symbols.
        verbs: make the words of a move a sentence.
        modifiers: may stand in a move's name beside a piece.
        determiners: after which a move's name is a noun.
        subjects: after which "takes" is a verb.
        side_nouns: before which "white" is an adjective.
        question_first: with which a question begins, and
        question_helpers: what follows then.
        question_inverted: verbs with which a question begins, and
        question_subjects: what follows then.
        question_leads: may stand before.
        returns: phrases that lead from a sideline to the game.
        names: written with capitals, by their small letters.
    """

    openers: frozenset[str]
    empty_openers: frozenset[str]
    stammered: frozenset[str]
    phrases: tuple[Filler, ...]
    pieces: frozenset[str]
    notation: frozenset[str]
    leads: frozenset[str]
    verbs: frozenset[str]
    modifiers: frozenset[str]
    determiners: frozenset[str]
    subjects: frozenset[str]
    side_nouns: frozenset[str]
    question_first: frozenset[str]
    question_helpers: frozenset[str]
    question_inverted: frozenset[str]
    question_subjects: frozenset[str]
    question_leads: frozenset[str]
    returns: tuple[str, ...]
    names: dict[tuple[str, ...], str]


@cache
def editing() -> Editing:
    """The vocabulary, read once."""
    table = tomllib.loads((files("aligner.notes") / "data" / "en" / "editing.toml").read_text(encoding="utf-8"))

    def words(room: str, row: str) -> frozenset[str]:
        return frozenset(table[room][row].split())

    return Editing(
        openers=words("fillers", "openers"),
        empty_openers=words("fillers", "empty_openers"),
        stammered=words("fillers", "stammered"),
        phrases=tuple(
            Filler(
                tuple(row["text"].split()), frozenset(row["not_after"].split()), frozenset(row["not_before"].split())
            )
            for row in table["phrase"]
        ),
        pieces=words("moves", "pieces"),
        notation=words("moves", "notation"),
        leads=words("moves", "leads"),
        verbs=words("moves", "verbs"),
        modifiers=words("moves", "modifiers"),
        determiners=words("moves", "determiners"),
        subjects=words("moves", "subjects"),
        side_nouns=words("sides", "not_before"),
        question_first=words("questions", "first"),
        question_helpers=words("questions", "helpers"),
        question_inverted=words("questions", "inverted"),
        question_subjects=words("questions", "subjects"),
        question_leads=words("questions", "leads"),
        returns=tuple(table["returns"]["phrases"].split("|")),
        names=names_by_words(table["capitals"]["names"].split("|")),
    )


def names_by_words(names: list[str]) -> dict[tuple[str, ...], str]:
    """Names by their words in small letters, hyphens parting words as spaces do."""
    return {tuple(name.lower().replace("-", " ").split()): name for name in names if name.strip()}

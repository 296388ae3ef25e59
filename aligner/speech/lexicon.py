"""The lexicon of a language: its data files, and spaCy's phrase matcher to find their phrases in a talk."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import TYPE_CHECKING, Any

from aligner.openings.names import named_openings
from aligner.speech.loading import load_spacy
from aligner.speech.tokens import Token, split, vocabulary

if TYPE_CHECKING:
    from spacy.matcher import PhraseMatcher


@dataclass(frozen=True, slots=True)
class Entry:
    """A phrase of the lexicon, found among the tokens.

    Attributes:
        kind: table of the lexicon ("piece", "take", "cue", "opening", "judgement", ...).
        value: row of the table.
        start: index of its first token.
        end: index after its last token.
    """

    kind: str
    value: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Context:
    """Common words that count where they stand near a move.

    Attributes:
        words: those whose mere nearness tells something.
        articles: before what is described.
        definite: those of them that say which one is meant.
        possessives: those of them that say whose it is.
        prepositions: likewise.
        nouns: after what is described.
        past_tense: verbs of moves in it.
        pieces: words that name one.
        numbered: before the number of a move.
        numbers: words that are numbers.
        before_number: words that may stand before one ("number nine").
        movers: words that may say who moves, to the one they count as ("he's" to "he").
        before_square: words that a recogniser writes for a piece, right before its square, to the piece's letter.
        before_to: the same with "to" between, for words that are too common before a square.
        glued_ranks: words for a rank that make no other word right behind a file's letter.
    """

    words: frozenset[str]
    articles: frozenset[str]
    definite: frozenset[str]
    possessives: frozenset[str]
    prepositions: frozenset[str]
    nouns: frozenset[str]
    past_tense: frozenset[str]
    pieces: frozenset[str]
    numbered: frozenset[str]
    numbers: Mapping[str, int]
    before_number: frozenset[str]
    movers: Mapping[str, str]
    before_square: dict[str, str]
    before_to: dict[str, str]
    glued_ranks: frozenset[str]


@dataclass(frozen=True, slots=True)
class Lexicon:
    """One language's words.

    Attributes:
        matcher: finds the phrases.
        meanings: the matcher's keys to (kind, value).
        single: tokens that are phrases by themselves.
        judgements: Numeric Annotation Glyph by the value of the entries.
        context: common words around moves.
    """

    matcher: PhraseMatcher
    meanings: Mapping[int, tuple[str, str]]
    single: frozenset[str]
    judgements: Mapping[str, int]
    context: Context

    def find(self, tokens: Sequence[Token]) -> list[Entry]:
        """Every phrase of the lexicon that stands among the tokens, overlapping ones too, in order of their start."""
        from spacy.tokens import Doc

        if not tokens:
            return []
        doc = Doc(vocabulary(), words=[token.text for token in tokens])
        found = sorted((start, -end, *self.meanings[key]) for key, start, end in self.matcher(doc))
        return [Entry(kind, value, start, -minus_end) for start, minus_end, kind, value in found]


@lru_cache(maxsize=4)
def lexicon(language: str = "en") -> Lexicon:
    """The lexicon of a language, read once.

    Raises:
        FileNotFoundError: no such language.
    """
    load_spacy()
    from spacy.matcher import PhraseMatcher

    folder = resources.files("aligner.speech") / "data" / language
    tables = {
        name: tomllib.loads((folder / f"{name}.toml").read_text(encoding="utf-8"))
        for name in ("moves", "cues", "judgements", "context")
    }
    judgements = {f"{row['nag']} {row['meaning']}": int(row["nag"]) for row in tables["judgements"]["judgement"]}
    phrases: dict[tuple[str, str], list[str]] = {}
    for name in ("moves", "cues"):
        for kind, rows in tables[name].items():
            for value, row in rows.items():
                phrases[kind, value] = list(row)
    for opening in named_openings(language):
        if opening.phrases:
            phrases["opening", " ".join(opening.moves)] = list(opening.phrases)
    for row in tables["judgements"]["judgement"]:
        phrases["judgement", f"{row['nag']} {row['meaning']}"] = list(row["phrases"])

    vocab = vocabulary()
    matcher = PhraseMatcher(vocab)
    meanings: dict[int, tuple[str, str]] = {}
    single: set[str] = set()
    for (kind, value), row in phrases.items():
        split_row = [split(phrase) for phrase in row]
        single.update(tokens[0] for tokens in split_row if len(tokens) == 1)
        key = f"{kind}\t{value}"
        # as the matcher keeps phrases, and takes them when it is unpickled: a `Doc` for each takes ten times as long
        hashes: Any = [[vocab.strings.add(token) for token in tokens] for tokens in split_row if tokens]
        matcher.add(key, hashes)
        meanings[vocab.strings[key]] = (kind, value)
    return Lexicon(matcher, meanings, frozenset(single), judgements, _context(tables["context"]))


def _context(table: Mapping[str, Any]) -> Context:
    return Context(
        words=frozenset(table["words"]),
        articles=frozenset(table["articles"]),
        definite=frozenset(table["definite"]),
        possessives=frozenset(table["possessives"]),
        prepositions=frozenset(table["prepositions"]),
        nouns=frozenset(table["nouns"]),
        past_tense=frozenset(table["past_tense"]),
        pieces=frozenset(table["pieces"]),
        numbered=frozenset(table["numbered"]),
        numbers={word: value for value, word in enumerate(table["numbers"]["units"])}
        | {word: 10 * value for value, word in enumerate(table["numbers"]["tens"], 2)},
        before_number=frozenset(table["numbers"]["before"]),
        movers=_turned(table["movers"]),
        before_square=_turned(table["before_square"]),
        before_to=_turned(table["before_to"]),
        glued_ranks=frozenset(table["numbers"]["glued_ranks"]),
    )


def _turned(rows: Mapping[str, Sequence[str]]) -> dict[str, str]:
    """Each word of the rows to the name of its row."""
    return {word: name for name, words in rows.items() for word in words}

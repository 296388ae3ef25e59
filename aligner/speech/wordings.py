"""The words of statements (data, one file a language) found among the tokens of a talk."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from functools import lru_cache
from importlib import resources

from aligner.speech.lexicon import Entry
from aligner.speech.tokens import Token, split

_SUPPOSED_REACH = 10
"""Tokens before a statement within which a word shows that it is not said of the board."""
_TAKEN_BACK_REACH = 2
"""Tokens after a statement within which the speaker takes it back."""


class Wordings:
    """Every phrase of the statements' lexicon in a talk, by the token it starts at and by the one it ends before."""

    def __init__(self, tokens: Sequence[Token], language: str = "en") -> None:
        self.tokens = tokens
        known = _phrases(language)
        texts = [token.text for token in tokens]
        self.all: list[Entry] = []
        self._starts: dict[int, list[Entry]] = {}
        self._ends: dict[int, list[Entry]] = {}
        for start, text in enumerate(texts):
            for phrase, kind, value in known.get(text, ()):
                end = start + len(phrase)
                if tuple(texts[start:end]) == phrase and not any(token.stop for token in tokens[start : end - 1]):
                    wording = Entry(kind, value, start, end)
                    self.all.append(wording)
                    self._starts.setdefault(start, []).append(wording)
                    self._ends.setdefault(end, []).append(wording)

    def of(self, kind: str) -> list[Entry]:
        """The phrases of one kind, in order; of those that overlap the longest."""
        found: list[Entry] = []
        for wording in self.all:
            if wording.kind != kind:
                continue
            if found and wording.start < found[-1].end:
                if wording.end - wording.start > found[-1].end - found[-1].start:
                    found[-1] = wording
                continue
            found.append(wording)
        return found

    def at(self, start: int, kind: str) -> Entry | None:
        """The longest phrase of a kind that starts at a token."""
        found = [wording for wording in self._starts.get(start, ()) if wording.kind == kind]
        return max(found, key=lambda wording: wording.end, default=None)

    def before(self, end: int, kind: str) -> Entry | None:
        """The longest phrase of a kind that ends right before a token."""
        found = [wording for wording in self._ends.get(end, ()) if wording.kind == kind]
        return min(found, key=lambda wording: wording.start, default=None)

    def sentence(self, at: int, reach: int) -> tuple[int, int]:
        """Tokens around a token that belong to its sentence, at most `reach` on either side, half-open."""
        first = at
        while first > 0 and at - first < reach and not self.tokens[first - 1].stop:
            first -= 1
        last = at
        while last < len(self.tokens) - 1 and last - at < reach and not self.tokens[last].stop:
            last += 1
        return first, last + 1

    def any_in(self, kind: str, value: str, first: int, last: int) -> bool:
        """Whether a phrase of that row stands wholly in tokens `first` up to `last`."""
        return any(
            wording.kind == kind and wording.value == value and wording.end <= last
            for start in range(first, last)
            for wording in self._starts.get(start, ())
        )

    def supposed(self, start: int, *, negated: bool = True) -> bool:
        """Whether a statement that starts at a token is supposed, wished, denied or asked, not stated."""
        first, _ = self.sentence(start, _SUPPOSED_REACH)
        if self.any_in("supposed", "if", first, start):
            return True
        return negated and self.any_in("supposed", "not", max(first, start - 4), start)

    def taken_back(self, end: int) -> bool:
        """Whether the speaker takes back what ends before a token."""
        last = min(end + _TAKEN_BACK_REACH, len(self.tokens))
        found = (self.at(token, "taken_back") for token in range(end, last))
        return any(back is not None and back.value != "weak" for back in found)


@lru_cache(maxsize=4)
def _phrases(language: str) -> Mapping[str, list[tuple[tuple[str, ...], str, str]]]:
    file = resources.files("aligner.speech") / "data" / language / "statements.toml"
    found: dict[str, list[tuple[tuple[str, ...], str, str]]] = {}
    for kind, rows in tomllib.loads(file.read_text(encoding="utf-8")).items():
        for value, phrases in rows.items():
            for phrase in phrases:
                tokens = tuple(split(phrase))
                if tokens:
                    found.setdefault(tokens[0], []).append((tokens, kind, value))
    return found

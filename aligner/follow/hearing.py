"""What was heard so far: as the captions grow, only their end is listened to again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from aligner.captions.words import Word
from aligner.speech.lexicon import Entry
from aligner.speech.listen import Speech, Spoken, Stretch, listen
from aligner.speech.statements import Statement
from aligner.speech.tokens import Token

REACH = 40
"""Tokens after a phrase on which its reading may depend: the longest phrase, the words that still belong to it, a
phrase that follows at once. So many before the end nothing is settled yet."""

_LEAD = 64
"""Tokens before what is listened to again that are listened to as well, as context for it."""


class Hearing:
    """The speech so far. What has been heard keeps its numbers, so that what the search knows of it stays known.

    Args:
        names: of the players.
    """

    def __init__(self, names: Sequence[str] = ()) -> None:
        self.names = tuple(names)
        self.words: tuple[Word, ...] = ()
        self.tokens: list[Token] = []
        self.entries: list[Entry] = []
        self.stretches: list[Stretch] = []
        self.statements: list[Statement] = []
        self._count = 0

    def hear(self, words: Sequence[Word]) -> int:
        """Take the words as they stand now; returns the first stretch that is new or has changed."""
        old = self.words
        same = next((at for at, (one, other) in enumerate(zip(old, words, strict=False)) if one != other), None)
        if same is None:
            same = min(len(old), len(words))
            if len(old) == len(words):
                return len(self.stretches)
        self.words = tuple(words)
        first = self._token_of(same)
        keep = max(first - REACH, 0)
        # a word's tokens stay together
        while keep and self.tokens[keep - 1].word == self.tokens[min(keep, len(self.tokens) - 1)].word:
            keep -= 1
        lead = max(keep - _LEAD, 0)
        begin = self.tokens[lead].word if lead else 0
        shift = self._token_of(begin) if lead else 0
        heard = listen(self.words[begin:], self.names)
        fresh = [replace(token, word=token.word + begin) for token in heard.tokens]
        self.tokens[keep:] = fresh[keep - shift :]
        self.entries = [entry for entry in self.entries if entry.start < keep] + [
            replace(entry, start=entry.start + shift, end=entry.end + shift)
            for entry in heard.entries
            if entry.start + shift >= keep
        ]
        self.statements = [stated for stated in self.statements if stated.start < keep] + [
            replace(stated, start=stated.start + shift, end=stated.end + shift)
            for stated in heard.statements
            if stated.start + shift >= keep
        ]
        place = next((at for at, stretch in enumerate(self.stretches) if stretch.start >= keep), len(self.stretches))
        before = self.stretches[place:]
        known = {stretch.start: stretch for stretch in before}
        after = [
            self._renumbered(stretch, shift, place + at, known.get(stretch.start + shift))
            for at, stretch in enumerate(stretch for stretch in heard.stretches if stretch.start + shift >= keep)
        ]
        self.stretches[place:] = after
        for at, (one, other) in enumerate(zip(before, after, strict=False)):
            if one != other:
                return place + at
        return place + min(len(before), len(after))

    def speech(self) -> Speech:
        """All that was heard so far."""
        return Speech(
            self.words, tuple(self.tokens), tuple(self.entries), tuple(self.stretches), tuple(self.statements)
        )

    def _token_of(self, word: int) -> int:
        """The first token of a word or of those after it."""
        low, high = 0, len(self.tokens)
        while low < high:
            middle = (low + high) // 2
            if self.tokens[middle].word < word:
                low = middle + 1
            else:
                high = middle
        return low

    def settled(self) -> int:
        """How many stretches no words to come can change: those well before the last cue, whose times may move."""
        if not self.words:
            return 0
        last = self.words[-1].cue
        open_word = next((at for at in range(len(self.words) - 1, -1, -1) if self.words[at].cue != last), -1) + 1
        limit = self._token_of(open_word) - REACH
        low, high = 0, len(self.stretches)
        while low < high:
            middle = (low + high) // 2
            if self.stretches[middle].start < limit:
                low = middle + 1
            else:
                high = middle
        return low

    def _renumbered(self, stretch: Stretch, shift: int, place: int, known: Stretch | None) -> Stretch:
        """The stretch with its place in the whole talk; phrases that were heard before keep their numbers."""
        old = {spoken.phrase: spoken for spoken in known.spoken} if known is not None else {}
        row = []
        for spoken in stretch.spoken:
            phrase = replace(spoken.phrase, start=spoken.phrase.start + shift, end=spoken.phrase.end + shift)
            before = old.get(phrase)
            moved = replace(spoken, phrase=phrase, number=before.number if before is not None else -1)
            row.append(moved if moved == before else self._numbered(moved))
        return Stretch(stretch.start + shift, tuple(row), place)

    def _numbered(self, spoken: Spoken) -> Spoken:
        self._count += 1
        return replace(spoken, number=self._count)

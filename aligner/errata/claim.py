"""A statement that the board proves wrong, before it becomes a finding of the record."""

from __future__ import annotations

from dataclasses import dataclass, field

from aligner.errata.discussion import Discussion
from aligner.record.model import Meant, Mention
from aligner.speech.listen import Speech
from aligner.speech.wordings import Wordings

LEAST_MENTION = 0.5
"""Confidence below which a mention is held against nothing."""


@dataclass(frozen=True, slots=True)
class Claim:
    """A false statement.

    Attributes:
        start: index of its first token.
        end: index after its last token.
        kind: as in `Finding.kind`.
        confidence: that it is false, given that the record is right.
        message: one plain sentence.
        fen: the position it is said of.
        cause: "speaker", "caption" or "unsure".
        meant: the move it is said of, where it is said of one.
    """

    start: int
    end: int
    kind: str
    confidence: float
    message: str
    fen: str
    cause: str = "speaker"
    meant: Meant = field(default_factory=Meant)


@dataclass(frozen=True, slots=True)
class Hearing:
    """What the checks look at.

    Attributes:
        speech: the talk.
        wordings: phrases of the statements' lexicon in it.
        discussion: which positions are under discussion when.
    """

    speech: Speech
    wordings: Wordings
    discussion: Discussion

    def word(self, token: int) -> int:
        """Index of the word a token stands in."""
        return self.speech.tokens[token].word

    def said(self, start: int, end: int) -> str:
        """The words of tokens `start` up to `end`."""
        first, last = self.word(start), self.word(end - 1) + 1
        return " ".join(word.text for word in self.speech.words[first:last]).strip(" ,.;:!?")


def sure_of(mention: Mention) -> float:
    """Confidence that the words tell no other move; whether they tell any is just what a wrong name makes doubtful."""
    none = sum(rival.confidence for rival in mention.alternatives if rival.kind == "none")
    return mention.confidence + none if mention.confidence >= LEAST_MENTION else 0.0

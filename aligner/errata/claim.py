"""A statement that the board proves wrong, before it becomes a finding of the record."""

from __future__ import annotations

from dataclasses import dataclass, field

from aligner.errata.discussion import Discussion
from aligner.errata.wording import Wordings
from aligner.record.model import Meant, Mention
from aligner.speech.listen import Speech

SUPPOSED_REACH = 10
"""Tokens before a statement within which a word shows that it is not said of the board."""
LEAST_MENTION = 0.5
"""Confidence below which a mention is held against nothing."""
TAKEN_BACK_REACH = 2
"""Tokens after a statement within which the speaker takes it back."""


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

    def supposed(self, start: int, *, negated: bool = True) -> bool:
        """Whether a statement that starts at a token is supposed, wished, denied or asked, not stated."""
        first, _ = self.wordings.sentence(start, SUPPOSED_REACH)
        if self.wordings.any_in("supposed", "if", first, start):
            return True
        return negated and self.wordings.any_in("supposed", "not", max(first, start - 4), start)

    def taken_back(self, end: int) -> bool:
        """Whether the speaker takes back what ends before a token."""
        last = min(end + TAKEN_BACK_REACH, len(self.speech.tokens))
        found = (self.wordings.at(token, "taken_back") for token in range(end, last))
        return any(back is not None and back.value != "weak" for back in found)


def sure_of(mention: Mention) -> float:
    """Confidence that the words tell no other move; whether they tell any is just what a wrong name makes doubtful."""
    none = sum(rival.confidence for rival in mention.alternatives if rival.kind == "none")
    return mention.confidence + none if mention.confidence >= LEAST_MENTION else 0.0

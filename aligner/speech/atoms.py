"""What each token may be a part of: pieces, files, ranks, squares, verbs, with the cost of hearing it so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from aligner.speech.description import Terms
from aligner.speech.lexicon import Entry, Lexicon
from aligner.speech.sounds import SoundAlike, misspelt, sounds_like
from aligner.speech.tokens import Token

_PIECE_LETTER = {"king": "K", "queen": "Q", "rook": "R", "bishop": "B", "knight": "N", "pawn": "P"}
_FARTHEST = 1.8
_NEAR_SOUND = 0.35
"""Priced sounds up to here make a square without any piece before it: "be five", "see 4"."""
_FARTHEST_PIECE = 0.95
"""Sounds farther off than this are not followed: they would double the readings and never win.
Pieces are held to less: "calm" and "clean" are seldom pawn and queen."""


@dataclass(frozen=True, slots=True)
class Atom:
    """One part of a described move.

    Attributes:
        kind: table of the lexicon, or "square", or "squares" for descriptive notation.
        value: row of the table; of a square its name.
        end: index after its last token.
        terms: what hearing it so takes for granted; empty for a plain word.
    """

    kind: str
    value: str
    end: int
    terms: Terms = ()


class Atoms:
    """The atoms of a talk, by the token they start at and by kind."""

    def __init__(self, tokens: Sequence[Token], entries: Sequence[Entry], words: Lexicon) -> None:
        self.tokens = tokens
        self._at: list[dict[str, list[Atom]]] = [{} for _ in tokens]
        for entry in entries:
            self._add(entry.start, Atom(entry.kind, entry.value, entry.end))
        for index, token in enumerate(tokens):
            self._hear(index, token.text, words)
        for index in range(len(tokens)):
            self._squares(index)

    def at(self, index: int, kind: str) -> Sequence[Atom]:
        """The atoms of a kind that start at a token; none past the end."""
        return self._at[index].get(kind, ()) if 0 <= index < len(self._at) else ()

    def _add(self, index: int, atom: Atom) -> None:
        row = self._at[index].setdefault(atom.kind, [])
        if all((old.value, old.end) != (atom.value, atom.end) for old in row):
            row.append(atom)

    def _hear(self, index: int, text: str, words: Lexicon) -> None:
        """Add what the token sounds like; a word of the lexicon is heard as what it is, letters and numbers apart."""
        known = self._at[index]
        if len(text) == 2 and text[1] in "12345678" and text[0] not in "abcdefgh" and text[0].isalnum():
            spoken = {"8": "a"}.get(text[0])  # "82" is how a recogniser writes "eight two", which is how a2 sounds
            heard = (
                [SoundAlike("file", spoken, 0.5)] if spoken else [r for r in sounds_like(text[0]) if r.kind == "file"]
            )
            for reading in heard:
                self._add(index, Atom("square", reading.target + text[1], index + 1, (("sound", 0.3 + reading.cost),)))
        if any(kind in known for kind in ("piece", "take", "castle")):
            return
        heard = list(sounds_like(text))
        if not heard and text not in words.single:
            heard = list(misspelt(text))
        for reading in heard:
            if reading.cost > _FARTHEST:
                continue
            terms: Terms = (("sound", 0.3 + reading.cost),)
            match reading.kind:
                case "piece" if reading.cost <= _FARTHEST_PIECE:
                    self._add(index, Atom("piece", _PIECE_LETTER[reading.target], index + 1, terms))
                case "square":
                    self._add(index, Atom("square_heard", reading.target, index + 1, terms))
                case "file":
                    if "file" not in known:
                        self._add(index, Atom("file_heard", reading.target, index + 1, terms))
                case "rank":
                    if "rank" not in known:
                        self._add(index, Atom("rank_heard", reading.target, index + 1, terms))
                case "verb":
                    kind, value = _VERBS.get(reading.target, ("", ""))
                    if kind:
                        self._add(index, Atom(f"{kind}_heard", value, index + 1, terms))
                case "piece_file":
                    self._add(index, Atom("piece_file", reading.target, index + 1, terms))

    def _squares(self, index: int) -> None:
        text = self.tokens[index].text
        if len(text) == 2 and text[0] in "abcdefgh" and text[1] in "12345678":
            self._add(index, Atom("square", text, index + 1))
            return
        apart: Terms = (("apart", 1.0),)
        for file in [*self.at(index, "file"), *self.at(index, "file_heard")]:
            for rank in [*self.at(file.end, "rank"), *self.at(file.end, "rank_heard")]:
                if self.tokens[file.end].text in _ORDINALS or self.tokens[index].stop:
                    continue
                terms = (file.terms + rank.terms) or apart
                if sum(amount for _, amount in terms) > _FARTHEST:
                    continue
                exact = not rank.terms
                near_sound = sum(amount for _, amount in file.terms) <= _NEAR_SOUND
                kind = "square" if exact and near_sound else "square_heard"
                if file.value == "a" and text == "a" and self.tokens[file.end].text != rank.value:
                    kind = "square_heard"  # "a four" is more often "a four-pawn lead" than a4
                self._add(index, Atom(kind, file.value + rank.value, rank.end, terms))
        for file in self.at(index, "wing_file"):
            for rank in [*self.at(file.end, "rank"), *self.at(file.end, "home_rank")]:
                if file.end - index == 1 and text.endswith("s") is False and file.value not in "de":
                    continue  # "knight 4" alone is nobody's square
                self._add(index, Atom("squares", file.value + rank.value, rank.end, (("descriptive", 1.0),)))


_ORDINALS = frozenset({"first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth"})
_VERBS = {
    "take": ("take", "take"), "takes": ("take", "take"), "took": ("take", "take"), "capture": ("take", "take"),
    "captures": ("take", "take"), "castle": ("castle", "any"), "castles": ("castle", "any"),
    "castled": ("castle", "any"), "check": ("check", "check"), "checks": ("check", "check"),
    "mate": ("check", "mate"), "checkmate": ("check", "mate"),
}  # fmt: skip

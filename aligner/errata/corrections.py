"""Slips that are none: taken back at once, "knight f4, sorry, knight f3", or glued to what was said before."""

from __future__ import annotations

import chess

from aligner.errata.cause import Named, named_in
from aligner.errata.discussion import Discussion
from aligner.errata.wording import Wordings
from aligner.record.model import Finding
from aligner.speech.lexicon import lexicon
from aligner.speech.listen import Speech
from aligner.speech.neighbours import PAUSE

TAKEN_BACK_WITHIN = 2
"""Tokens between a slip and the words that take it back."""
PUT_RIGHT_WITHIN = 6
"""Tokens after these in which the right move is named."""
_STRENGTHS = ("back", "no", "weak")
"""How strongly words take back what came before; rows of the lexicon, the strongest first."""
_PARTS = frozenset({"piece", "side", "origin"})
"""Kinds of slips that a piece alone may put right."""


class Corrections:
    """Finds the slips of a talk that are put right at once.

    Args:
        speech: the talk as heard.
        wordings: of its words.
        discussion: its mentions.
    """

    def __init__(self, speech: Speech, wordings: Wordings, discussion: Discussion) -> None:
        self.tokens = speech.tokens
        self.wordings = wordings
        self.discussion = discussion
        self._first_token = speech.first_token

    def at_once(self, finding: Finding) -> bool:
        """Whether the speaker takes the slip back at once and names the right move."""
        if not finding.meant.uci or finding.kind == "garble":
            return False
        token = self._first_token(finding.words[1])
        for start in range(token, min(token + TAKEN_BACK_WITHIN, len(self.tokens))):
            strength, end = self._taken_back(start)
            if strength and self._right(finding, strength, end):
                return True
            if self.tokens[start].stop:
                break
        return self._told_after(finding, token)

    def glued(self, finding: Finding) -> bool:
        """Whether what the piece comes from belongs to something else: "trade on f6, knight takes e7", "the c6 pawn".

        A square behind a preposition ends what was said before, and no piece comes from the square that it goes to.
        """
        if finding.kind != "origin" or not finding.meant.uci:
            return False
        token = self._first_token(finding.words[0])
        squares = [named_in(word).square for word in finding.said.split()]
        first = next((square for square in squares if square), "")
        if first == finding.meant.uci[2:4]:
            return squares[-1] != first
        holds = lexicon().context.prepositions
        return bool(squares and squares[0]) and token > 0 and self.tokens[token - 1].text in holds

    def _taken_back(self, start: int) -> tuple[str, int]:
        """How strongly words from a token on take back what came before, "" for not at all, and where they end."""
        strength, end = "", start
        while (back := self.wordings.at(end, "taken_back")) is not None:
            strength = min(strength or back.value, back.value, key=_STRENGTHS.index)
            end = back.end
        return strength, end

    def _right(self, finding: Finding, strength: str, start: int) -> bool:
        """Whether the words from a token on are what should have been said."""
        named = self._named(start)
        uci = finding.meant.uci or ""
        if named.square:
            return named.square == uci[2:4] or (strength != "weak" and self._another(finding, start))
        mover = chess.Board(finding.fen).piece_type_at(chess.parse_square(uci[:2])) if finding.fen else None
        if finding.kind in _PARTS and named.piece:
            return strength != "weak" or (mover is not None and named.piece == chess.piece_name(mover))
        if finding.kind == "castling":
            return strength == "back" or any(self.wordings.at(at, "wing") for at in range(start, start + 2))
        return False

    def _another(self, finding: Finding, start: int) -> bool:
        """Whether another move is told right there: then the alignment mistook what the slip was of."""
        following = self.discussion.next(finding.words[0])
        told = following is not None and following.kind != "slip" and following.words[0]
        return start < len(self.tokens) and told == self.tokens[start].word

    def _told_after(self, finding: Finding, token: int) -> bool:
        """Whether the right move follows in the same breath, and the words that take the slip back only then."""
        if not 0 < token < len(self.tokens) or self.tokens[token - 1].stop or self.tokens[token].gap >= PAUSE:
            return False
        for end in range(token + 1, min(token + PUT_RIGHT_WITHIN, len(self.tokens)) + 1):
            named = named_in(" ".join(each.text for each in self.tokens[token:end]))
            if named.square:
                back = self.wordings.at(end, "taken_back")
                return named.square == (finding.meant.uci or "")[2:4] and back is not None and back.value == "back"
        return False

    def _named(self, start: int) -> Named:
        """Piece and first square that are named from a token on, in its sentence."""
        named = Named("", "", "")
        for end in range(start + 1, min(start + PUT_RIGHT_WITHIN, len(self.tokens)) + 1):
            named = named_in(" ".join(each.text for each in self.tokens[start:end]))
            if named.square or self.tokens[end - 1].stop:
                break
        return named

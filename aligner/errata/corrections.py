"""Slips that are none: taken back at once, "knight f4, sorry, knight f3", or glued to what was said before."""

from __future__ import annotations

from statistics import median

import chess

from aligner.captions.timing import LETTER, WORD
from aligner.errata.cause import Named, named_in
from aligner.errata.discussion import Discussion
from aligner.record.model import Finding
from aligner.speech.lexicon import lexicon
from aligner.speech.listen import Speech
from aligner.speech.neighbours import PAUSE
from aligner.speech.wordings import Wordings

TAKEN_BACK_WITHIN = 2
"""Tokens between a slip and the words that take it back."""
PUT_RIGHT_WITHIN = 6
"""Tokens after these in which the right move is named."""
_OF_A_MOVE = ("piece", "square", "file", "rank", "link", "take", "go", "castle", "which", "side", "plural", "check")
"""Parts of a move: where anything else stands between, there was more ado about the slip than a word."""
TWICE_WITHIN = 3
"""Tokens from the right square to the same again, where nothing but a piece stands between."""
PAUSE_HELD = 250
"""Milliseconds by which a word is held where a sentence ends with it; a comma takes less."""
PUT_RIGHT_REACH = 14
"""Tokens after a slip within which it is put right with some ado."""
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
        self._atoms = speech.atoms()
        self._words = speech.words
        self._pace = (
            median((word.end - word.start) / _usual(word.text) for word in speech.words) if speech.words else 1.0
        )

    def at_once(self, finding: Finding) -> bool:
        """Whether the speaker takes the slip back in the same breath, and names the right move with no more ado.

        What is put right in the next sentence, or after some words about it, stands in the captions as it was said.
        """
        if not finding.meant.uci or finding.kind == "garble":
            return False
        token = self._first_token(finding.words[1])
        if token and (self.tokens[token - 1].stop or self._held(finding.words[1] - 1) >= PAUSE_HELD):
            return False
        for start in range(token, min(token + TAKEN_BACK_WITHIN, len(self.tokens))):
            strength, end = self._taken_back(start)
            if strength and self._right(finding, strength, end):
                return strength == "weak" or not self._said_twice(finding, end)
            if self.tokens[start].stop:
                break
        return self._told_after(finding, token)

    def _held(self, word: int) -> float:
        """Milliseconds that a word takes beyond what words as long take in this talk.

        Captions that have only the time at which each word begins show a pause so.
        """
        return self._words[word].end - self._words[word].start - self._pace * _usual(self._words[word].text)

    def put_right(self, finding: Finding) -> bool:
        """Whether the speaker takes the slip back with some ado, and names the right move soon."""
        first, target = self._first_token(finding.words[1]), (finding.meant.uci or "")[2:4]
        named = self._squares(target, first, first + PUT_RIGHT_REACH)
        for at in range(first, min(first + PUT_RIGHT_REACH, len(self.tokens))):
            back = self.wordings.at(at, "taken_back")
            if back is not None and back.value == "back":
                return len(named) > 1 or any(place > at for place in named)
        return False

    def glued(self, finding: Finding) -> bool:
        """Whether what the piece comes from belongs to something else: "trade on f6, knight takes e7", "the c6 pawn".

        A square behind a preposition ends what was said before, and no piece comes from the square that it goes to:
        "and what hangs? f7! Bishop takes f7".
        """
        if finding.kind != "origin" or not finding.meant.uci:
            return False
        token = self._first_token(finding.words[0])
        squares = [named_in(word).square for word in finding.said.split()]
        first = next((square for square in squares if square), "")
        if first == finding.meant.uci[2:4]:
            return squares[-1] != first or squares.count(first) > 1
        if squares and squares[0] and squares[0] == self._gone_to_before(finding):
            return True
        if squares and squares[0] and token and self._atoms.at(token - 1, "take"):
            return True  # "knight takes a4, rook takes b4"
        holds = lexicon().context.prepositions
        return bool(squares and squares[0]) and token > 0 and self.tokens[token - 1].text in holds

    def _gone_to_before(self, finding: Finding) -> str:
        """The square that the move before went to: "g6, rook c1" tells of two moves."""
        node = self.discussion.nodes.get(finding.meant.node) if finding.meant.node is not None else None
        before = self.discussion.nodes.get(node.parent) if node is not None and node.parent is not None else None
        return before.uci[2:4] if before is not None and before.uci else ""

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
            right = named.square == uci[2:4] and self._no_more_ado(start)
            return right or (strength != "weak" and self._another(finding, start))
        mover = chess.Board(finding.fen).piece_type_at(chess.parse_square(uci[:2])) if finding.fen else None
        if finding.kind in _PARTS and named.piece and self._no_more_ado(start):
            return strength != "weak" or (mover is not None and named.piece == chess.piece_name(mover))
        if finding.kind == "castling":
            return strength == "back" or any(self.wordings.at(at, "wing") for at in range(start, start + 2))
        return False

    def _no_more_ado(self, start: int) -> bool:
        """Whether the words from a token on are of a move, up to the first piece or square."""
        for at in range(start, min(start + PUT_RIGHT_WITHIN, len(self.tokens))):
            pieces = any(atom.value != "any" for atom in self._atoms.at(at, "piece"))
            if pieces or self._atoms.at(at, "square"):
                return True
            if not any(self._atoms.at(at, kind) for kind in _OF_A_MOVE) or self._atoms.at(at, "object"):
                return False
        return False

    def _said_twice(self, finding: Finding, start: int) -> bool:
        """Whether the right move is told twice from a token on: "sorry, rook f2. Rook f2"; that is more ado."""
        named = self._squares((finding.meant.uci or "")[2:4], start, start + PUT_RIGHT_WITHIN)
        return len(named) > 1 and named[1] - named[0] <= TWICE_WITHIN

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
                right = named.square == (finding.meant.uci or "")[2:4]
                if not right or back is None or back.value != "back":
                    return False
                return not self._squares(named.square, back.end, token + PUT_RIGHT_REACH)  # named again: more ado
        return False

    def _squares(self, square: str, first: int, last: int) -> list[int]:
        """The tokens from `first` up to `last` at which a square is plainly named."""
        last = min(last, len(self.tokens))
        atoms = ((at, atom) for at in range(first, last) for atom in self._atoms.at(at, "square"))
        return [at for at, atom in atoms if atom.value == square and not atom.terms]

    def _named(self, start: int) -> Named:
        """Piece and first square that are named from a token on, in its sentence."""
        named = Named("", "", "")
        for end in range(start + 1, min(start + PUT_RIGHT_WITHIN, len(self.tokens)) + 1):
            named = named_in(" ".join(each.text for each in self.tokens[start:end]))
            if named.square or self.tokens[end - 1].stop:
                break
        return named


def _usual(text: str) -> int:
    """Milliseconds that a word takes at an ordinary pace."""
    return WORD + LETTER * len(text)

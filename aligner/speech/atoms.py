"""What each token may be a part of: pieces, files, ranks, squares, verbs, with the cost of hearing it so."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Mapping, Sequence, Set
from functools import lru_cache
from typing import NamedTuple

from aligner.speech.alphabets import own_alphabet
from aligner.speech.description import Terms
from aligner.speech.lexicon import Entry, Lexicon
from aligner.speech.sounds import misspelt, sounds_like, spelt_number
from aligner.speech.tokens import Token

_PIECE_LETTER = {"king": "K", "queen": "Q", "rook": "R", "bishop": "B", "knight": "N", "pawn": "P"}
_FARTHEST = 1.8
_NEAR_SOUND = 0.35
"""Priced sounds up to here make a square without any piece before it: "be five", "see 4"."""
_UNCOMMON_SOUND = 0.85
"""The same for words that are seldom heard beside a number: "age six"."""
_BEHIND_LETTER = 0.85
"""The same where a verb stands in a square's place: "e eat" is e8, "eat five" is e5, but "e takes" is not e6."""
LETTERS_ALONE = frozenset("bcdefgh")
"""Files that are no word of the language."""
_FARTHEST_PIECE = 0.95
"""Sounds farther off than this are not followed: they would double the readings and never win.
Pieces are held to less: "calm" and "clean" are seldom pawn and queen."""


class Atom(NamedTuple):
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
    """The atoms of a talk, by kind and by the token they start at."""

    def __init__(self, tokens: Sequence[Token], entries: Sequence[Entry], words: Lexicon) -> None:
        self.tokens = tokens
        self._of: defaultdict[str, dict[int, list[Atom]]] = defaultdict(dict)
        for entry in entries:
            if entry.kind not in _NO_PARTS:
                self._add(entry.start, Atom(entry.kind, entry.value, entry.end))
            if entry.kind == "nickname":
                self._add(entry.start, Atom("piece", entry.value, entry.end, _NICKNAME))
        named = {*self.of("take"), *self.of("castle")}
        named |= {index for index, atoms in self.of("piece").items() if any(atom.value != "any" for atom in atoms)}
        for index, token in enumerate(tokens):
            if token.text in _SQUARES:
                self._add(index, Atom("square", token.text, index + 1))
            for value, terms in _run_together(token.text, words.context.glued_ranks):
                self._add(index, Atom("square", value, index + 1, terms))
            # a word of the lexicon is heard as what it is, letters and numbers apart
            self._hear(index, token.text, token.text in words.single, index in named)
        self._spell_files(words)
        ranks = {*self.of("rank"), *self.of("rank_heard")}
        self._spell()
        self._spells_ranks = self._spelt_ranks() > sum(token.text in _SQUARES for token in tokens)
        for index in {*self.of("file"), *self.of("file_heard"), *self.of("radio"), *self.of("file_spelt")}:
            self._squares(index, ranks, words)
        for index in self.of("piece_file"):
            self._run_together_with_square(index)
        for index in self.of("wing_file"):
            self._descriptive(index)
        pieces = words.context.before_square | words.context.before_to
        for index, token in enumerate(tokens):
            if token.text in pieces:
                self._before_square(index, pieces[token.text], words.context.before_to)

    def at(self, index: int, kind: str) -> Sequence[Atom]:
        """The atoms of a kind that start at a token; none past the end."""
        return self._of[kind].get(index, ())

    def of(self, kind: str) -> Mapping[int, Sequence[Atom]]:
        """The atoms of a kind, by the token they start at."""
        return self._of.get(kind, {})

    def _add(self, index: int, atom: Atom) -> None:
        row = self._of[atom.kind].setdefault(index, [])
        for old in row:
            if old.value == atom.value and old.end == atom.end:
                return
        row.append(atom)

    def _hear(self, index: int, text: str, known: bool, named: bool) -> None:
        """Add what the token sounds like, beside what it is; of a piece or a verb only a rank that sounds the same."""
        for kind, value, terms in _heard(text, known):
            if named:
                lettered = index and self.tokens[index - 1].text in LETTERS_ALONE
                ranked = bool(self.at(index + 1, "rank"))
                most = _BEHIND_LETTER if (lettered if kind == "rank_heard" else ranked) else _NEAR_SOUND
                fits = kind == "rank_heard" or (kind == "file_heard" and ranked)
                if not fits or sum(amount for _, amount in terms) > most:
                    continue
            if kind not in ("file_heard", "rank_heard") or not self.at(index, kind.removesuffix("_heard")):
                self._add(index, Atom(kind, value, index + 1, terms))

    def _spelt_ranks(self) -> int:
        """How often a rank is written as a word behind the letter of its file: "d five"."""
        words = [index for index in self.of("rank") if index and not self.tokens[index].text.isdigit()]
        return sum(self.tokens[index - 1].text in LETTERS_ALONE for index in words)

    def _spell_files(self, words: Lexicon) -> None:
        """Add the words that the speaker calls files by, where he has an alphabet of his own."""
        own = own_alphabet(
            self.tokens, self.of("rank"), lambda word: word in words.single or word in words.context.words
        )
        if own:
            for index, token in enumerate(self.tokens):
                if token.text in own:
                    self._add(index, Atom("radio", own[token.text], index + 1))

    def _spell(self) -> None:
        """Add the letters that are spelt by a word: "f for Freddie", "d as in dog"."""
        for place, links in self.of("spelling").items():
            spelt = [*self.at(place - 1, "file"), *self.at(place - 1, "file_heard")] if place else ()
            for file in spelt:
                for link in links:
                    if link.end < len(self.tokens) and _spells(file.value, self.tokens[link.end].text):
                        self._add(place - 1, Atom("file_spelt", file.value, link.end + 1))

    def _uncommon(self, index: int, words: Lexicon) -> bool:
        """Whether a word is seldom heard beside a number but for a file: "age six", though not "at age six"."""
        context = words.context
        text, before = self.tokens[index].text, self.tokens[index - 1].text if index else ""
        return not (text in words.single or text in context.words or before in context.prepositions)

    def _squares(self, index: int, ranks: Set[int], words: Lexicon) -> None:
        """Add the squares said as a file and a rank, "f three"."""
        text = self.tokens[index].text
        if text in _SQUARES or self.tokens[index].stop:
            return
        apart: Terms = (("apart", 1.0),)
        uncommon = self._uncommon(index, words)
        files = [*self.at(index, "file"), *self.at(index, "file_spelt"), *self.at(index, "file_heard")]
        files += [file._replace(terms=_SPELT) for file in self.at(index, "radio")]
        for file in files:
            if file.end not in ranks:
                continue
            for rank in [*self.at(file.end, "rank"), *self.at(file.end, "rank_heard")]:
                if self.tokens[file.end].text in _ORDINALS:
                    continue
                terms = (file.terms + rank.terms) or apart
                if sum(amount for _, amount in terms) > _FARTHEST:
                    continue
                exact = not rank.terms
                most = _UNCOMMON_SOUND if uncommon else _NEAR_SOUND
                near_sound = sum(amount for name, amount in file.terms if name == "sound") <= most
                # "d for", but not "d for dog"; "d to" leads on to another square
                spelt = text in LETTERS_ALONE and self.tokens[file.end].text in words.context.glued_ranks
                spelt = spelt and rank.terms == _SAME_SOUND and not _spells(text, self._text(rank.end))
                kind = "square" if (exact or spelt) and near_sound else "square_heard"
                if text == "a" and not self._spells_ranks and self.tokens[file.end].text != rank.value:
                    kind = "square_heard"  # "a four" is more often "a four-pawn lead" than a4
                self._add(index, Atom(kind, file.value + rank.value, rank.end, terms))

    def _text(self, index: int) -> str:
        """The token's text; none past the end."""
        return self.tokens[index].text if index < len(self.tokens) else ""

    def _run_together_with_square(self, index: int) -> None:
        """Add a piece heard in one word with the letter of its square: "rookie one" is a rook and e1."""
        if self.tokens[index].stop or self.tokens[index].comma:
            return
        for joined in self.at(index, "piece_file"):
            heard = [rank for rank in self.at(joined.end, "rank_heard") if rank.terms == _SAME_SOUND]
            for rank in [*self.at(joined.end, "rank"), *heard]:
                if self.tokens[joined.end].text not in _ORDINALS:
                    terms = joined.terms + rank.terms
                    self._add(index, Atom("piece_square", joined.value + rank.value, rank.end, terms))

    def _before_square(self, index: int, piece: str, only_before_to: Container[str]) -> None:
        """Add the piece that is heard as another word right before its square: "queen's d4", "not to f3", "92 c3"."""
        token = self.tokens[index]
        if token.stop or token.comma:
            return
        places = [go.end for go in self.at(index + 1, "go") if go.value == "to"]
        if token.text not in only_before_to:
            places.append(index + 1)
        if any(self.at(place, "square") for place in places):
            self._add(index, Atom("piece", piece, index + 1, _OTHER_WORD))

    def _descriptive(self, index: int) -> None:
        """Add the squares said in descriptive notation, "king's bishop four"."""
        text = self.tokens[index].text
        if text in _SQUARES:
            return
        for file in self.at(index, "wing_file"):
            for rank in [*self.at(file.end, "rank"), *self.at(file.end, "home_rank")]:
                bare = file.end - index == 1 and not text.endswith("s") and file.value not in "de"
                kind = "squares_bare" if bare else "squares"  # "knight 4" alone is nobody's square
                self._add(index, Atom(kind, file.value + rank.value, rank.end, (("descriptive", 1.0),)))


def _spells(letter: str, word: str) -> bool:
    """Whether a word may spell a letter: it begins with it, and is no letter or little word itself."""
    return word.startswith(letter) and len(word) >= _SHORTEST_SPELLING


@lru_cache(maxsize=65536)
def _run_together(text: str, glued_ranks: frozenset[str]) -> list[tuple[str, Terms]]:
    """Squares written in one word whose file was heard as another letter or a number ("82", "p5"), or whose rank is
    spelt out ("efor", "dfive")."""
    if text[:1] in LETTERS_ALONE and text[1:] in glued_ranks:
        return [(text[0] + spelt_number(text[1:]), _SAME_SOUND)]
    if len(text) != 2 or text[1] not in "12345678" or text[0] in "abcdefgh" or not text[0].isalnum():
        return []
    files = [reading for reading in sounds_like(text[0]) if reading.kind == "file"]
    return [(file.target + text[1], (("sound", 0.3 + file.cost),)) for file in files]


@lru_cache(maxsize=65536)
def _heard(text: str, known: bool) -> tuple[tuple[str, str, Terms], ...]:
    """Kind, value and terms of what a token sounds like; one that the lexicon doesn't know may also be misspelt."""
    heard = []
    for reading in sounds_like(text) or (() if known else misspelt(text)):
        if reading.cost > _FARTHEST and reading.kind != "square":
            continue
        terms: Terms = (("sound", 0.3 + reading.cost),)
        match reading.kind:
            case "piece" if reading.cost <= _FARTHEST_PIECE:
                heard.append(("piece", _PIECE_LETTER[reading.target], terms))
            case "square" if reading.cost == 0.0 and not known:
                heard.append(("square", reading.target, terms))
            case "square" | "file" | "rank":
                heard.append((f"{reading.kind}_heard", reading.target, terms))
            case "verb" if reading.target in _VERBS:
                kind, value = _VERBS[reading.target]
                heard.append((f"{kind}_heard", value, terms))
            case "piece_file":
                piece, file = reading.target.split()
                heard.append(("piece_file", _PIECE_LETTER[piece] + file, terms))
    return tuple(heard)


_NICKNAME: Terms = (("nickname", 1.0),)
_SAME_SOUND: Terms = (("sound", 0.3),)
_OTHER_WORD: Terms = (("sound", 0.6),)
_SPELT: Terms = (("spelt", 1.0),)
_SHORTEST_SPELLING = 3
"""Letters of a word that spells a letter."""
_NO_PARTS = frozenset({"cue", "judgement"})
"""Tables of the lexicon that say something about moves and are no part of one."""
_SQUARES = frozenset(file + rank for file in "abcdefgh" for rank in "12345678")
_ORDINALS = frozenset({"first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth"})
_VERBS = {
    "take": ("take", "take"), "takes": ("take", "take"), "took": ("take", "take"), "capture": ("take", "take"),
    "captures": ("take", "take"), "castle": ("castle", "any"), "castles": ("castle", "any"),
    "castled": ("castle", "any"), "check": ("check", "check"), "checks": ("check", "check"),
    "mate": ("check", "mate"), "checkmate": ("check", "mate"),
}  # fmt: skip

"""A talk into stretches: places where a move may be spoken of, with every reading and with what is said around them."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence, Set
from dataclasses import dataclass, field, replace

from aligner.captions.words import Word
from aligner.speech.aims import Aim, aim_after
from aligner.speech.atoms import Atoms
from aligner.speech.description import Phrase
from aligner.speech.leanings import Leaning
from aligner.speech.lexicon import Context, Entry, lexicon
from aligner.speech.neighbours import PAUSE, VAGUE
from aligner.speech.numbers import printed, read_out, spoken_number
from aligner.speech.opening_names import heard_openings
from aligner.speech.phrases import phrases
from aligner.speech.statements import Statement, claims, statements
from aligner.speech.tokens import Token, tokenise
from aligner.speech.wordings import Wordings

Signs = tuple[str, ...]
"""Names of what is said around a phrase: cues near and far, pauses, articles; prices are looked up by them."""

_BY, _AGO = 3, 7
"""Tokens beside a phrase, and before it in its sentence, that are looked at one by one."""
_NEAR, _FAR, _AFTER, _WHO = 3, 12, 5, 8
"""Tokens before a phrase in which a cue is near, and far; tokens after it that still belong to it; and
tokens before it that may say who moves."""
_NAMED = 8
"""Tokens after a move within which an opening is named that begins with it."""
_SAID = 40
"""Tokens before a phrase, in its sentence, in which a cue of `_LASTING` counts across other moves."""
_LASTING = frozenset({"back", "suppose", "better", "could", "instead", "plan"})
"""Cues that hold for all moves of a sentence: "in the game the pawns go, d takes e4"."""
_BACK, _TURN = (frozenset(f"{where}.{cue}" for where in ("near", "far", "past")) for cue in ("back", "turn"))
"""Where the game itself is named, little words by which a talk takes a turn say nothing more."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """One phrase with its surroundings.

    Attributes:
        phrase: the reading.
        signs: what is said around it.
        number: place in `Speech.spoken`.
        inside: whether it starts inside a longer phrase.
        who: word that says who moves ("he", "i", "white", a name), or "".
        at_move: move number said in the same sentence ("on move 14"), or read out right before it, or 0.
        aim: what the move is said to attack or to guard, right after it, or None.
        named: moves (SAN) of the opening that is named right after it, or empty.
        leaning: what the words around it make of it, where that was asked for (see `leanings`).
    """

    phrase: Phrase
    signs: Signs
    number: int
    inside: bool
    who: str = ""
    at_move: int = 0
    aim: Aim | None = None
    named: tuple[str, ...] = ()
    leaning: Leaning | None = None


@dataclass(frozen=True, slots=True)
class Stretch:
    """All phrases that start at one token.

    Attributes:
        start: index of the token.
        spoken: the phrases, longest first.
        number: 0-based place among the stretches.
    """

    start: int
    spoken: tuple[Spoken, ...]
    number: int


@dataclass(frozen=True, slots=True)
class Speech:
    """A talk as the search hears it.

    Attributes:
        words: of the captions.
        tokens: of the words.
        entries: phrases of the lexicon found in it.
        stretches: in order.
        statements: what is said of positions as a whole, in order.
        parts: what each token may be a part of, where the whole talk was heard at once.
        worded: phrases of the statements' lexicon found in it, likewise.
    """

    words: tuple[Word, ...]
    tokens: tuple[Token, ...]
    entries: tuple[Entry, ...]
    stretches: tuple[Stretch, ...]
    statements: tuple[Statement, ...] = ()
    parts: Atoms | None = field(default=None, compare=False, repr=False)
    worded: Wordings | None = field(default=None, compare=False, repr=False)

    def with_stretches(self, stretches: Iterable[Stretch]) -> Speech:
        """The same with those of other stretches, numbered anew, in which anything is spoken."""
        whole = (stretch for stretch in stretches if stretch.spoken)
        return replace(self, stretches=tuple(replace(one, number=number) for number, one in enumerate(whole)))

    def span(self, phrase: Phrase) -> tuple[int, int]:
        """Half-open range of words that a phrase covers."""
        return self.tokens[phrase.start].word, self.tokens[phrase.end - 1].word + 1

    def first_token(self, word: int) -> int:
        """The first token of a word, or of the next one that has any; the number of tokens past the last."""
        return bisect_left(self.tokens, word, key=lambda token: token.word)

    def atoms(self) -> Atoms:
        """What each token may be a part of."""
        return self.parts or Atoms(self.tokens, self.entries, lexicon())

    def wordings(self) -> Wordings:
        """Phrases of the statements' lexicon found in it."""
        return self.worded or Wordings(self.tokens)


def listen(words: Sequence[Word], names: Sequence[str] = (), language: str = "en") -> Speech:
    """Find every place of a talk where a move may be spoken of.

    Args:
        words: of the captions.
        names: of the players, where they are known.
        language: whose lexicon to use.
    """
    tokens = tokenise(words)
    vocabulary = lexicon(language)
    entries = vocabulary.find(tokens)
    entries = sorted(
        [*entries, *heard_openings(tokens, entries, vocabulary.context, language)],
        key=lambda one: (one.start, -one.end),
    )
    atoms = Atoms(tokens, entries, vocabulary)
    worded = Wordings(tokens, language)
    claimed = tuple(claims(entries, worded))
    # "a pawn down" is no pawn's move; behind its last word one may begin
    taken = {token for claim in claimed for token in range(claim.said.start, claim.said.end - 1)}
    found = [phrase for phrase in phrases(tokens, atoms, vocabulary) if phrase.start not in taken]
    around = _Surroundings(tokens, entries, found, vocabulary.context)
    stretches: list[Stretch] = []
    called = frozenset(part.lower().strip(".,'") for name in names for part in name.split() if len(part) > 2)
    called = frozenset(form for name in called for form in (name, f"{name}'s"))
    number, at = 0, 0
    covered = 0
    named: dict[int, Phrase] = {}  # by its end, the first phrase there that names a piece
    while at < len(found):
        start, group = found[at].start, []
        before = around.before(start)
        at_move, who = printed(tokens, start)
        who = who or around.who(start, called)
        at_move = at_move or around.at_move(start)
        longest = found[at]  # the longest phrases come first
        while at < len(found) and found[at].start == start:
            phrase = found[at]
            inside = start < covered
            if len(phrase.moves) == 1 and phrase.moves[0].piece not in ("", "P"):
                named.setdefault(phrase.end, phrase)
            signs = before + around.after(phrase) + around.itself(phrase, longest, named.get(phrase.end))
            aim, opening = None, tuple[str, ...]()
            if len(phrase.moves) == 1:
                following = around.following(phrase)
                aim, opening = aim_after(atoms, phrase, following), around.named(phrase.end, following)
            group.append(Spoken(phrase, signs, number, inside, who, at_move, aim, opening))
            number += 1
            at += 1
        stretches.append(Stretch(start, tuple(group), len(stretches)))
        covered = max(covered, longest.end)
    stated = statements(claimed, worded)
    return Speech(tuple(words), tuple(tokens), tuple(entries), tuple(stretches), stated, atoms, worded)


def _apart(cues: Sequence[Entry]) -> list[Entry]:
    """The cues without "instead" where it is part of a way back: "he could castle, so instead he takes"."""
    ends = {cue.end for cue in cues if cue.value == "back"}
    return [cue for cue in cues if cue.value != "instead" or cue.end not in ends]


class _Surroundings:
    """What is said around a phrase."""

    def __init__(
        self, tokens: Sequence[Token], entries: Sequence[Entry], found: Sequence[Phrase], context: Context
    ) -> None:
        self.tokens = tokens
        self.context = context
        self.cues = _apart([entry for entry in entries if entry.kind == "cue"])
        self.ends = sorted({p.end for p in found if p.moves[0].form not in VAGUE})
        self.starts = sorted({p.start for p in found if p.moves[0].form not in VAGUE})
        self.cue_starts = [cue.start for cue in self.cues]
        self.lasting = [cue for cue in self.cues if cue.value in _LASTING]
        self.lasting_starts = [cue.start for cue in self.lasting]
        self.openings = [entry for entry in entries if entry.kind == "opening"]
        self.opening_starts = [entry.start for entry in self.openings]
        self.numbers = read_out(tokens, self.starts)
        self.move_words = [index for index, token in enumerate(tokens) if token.text in context.numbered]

    def before(self, start: int) -> Signs:
        tokens = self.tokens
        place = bisect_right(self.ends, start) - 1
        previous = self.ends[place] if place >= 0 else 0
        first = max(previous, start - _FAR)
        crossed = start  # the first token of the sentence that `start` stands in
        while crossed > first and not (tokens[crossed - 1].stop or tokens[crossed].gap >= PAUSE):
            crossed -= 1
        signs = set()
        for index in range(bisect_left(self.cue_starts, first - 4), bisect_left(self.cue_starts, start)):
            cue = self.cues[index]
            if cue.end > start or cue.start < first:
                continue
            where = "past" if cue.start < crossed else "near" if cue.end > start - _NEAR else "far"
            signs.add(f"{where}.{cue.value}")
        if signs:
            signs -= {f"far.{sign[5:]}" for sign in signs if sign.startswith("near.")}
            signs -= {f"past.{sign.split('.')[1]}" for sign in signs if sign.startswith(("near.", "far."))}
            if not signs.isdisjoint(_BACK):
                signs -= _TURN
        signs.update(self._said(start, signs))
        for index in range(max(crossed, start - _AGO), start):
            text = tokens[index].text
            if text in self.context.words:
                signs.add(f"{'by' if index >= start - _BY else 'ago'}.{text}")
        distance = start - previous
        signs.add(
            "after.move"
            if distance == 0
            else "apart.little"
            if distance <= 4
            else "apart.some"
            if distance <= 12
            else "apart.far"
        )
        if start and tokens[start - 1].comma:
            signs.add("comma")
        elif start and (tokens[start - 1].stop or tokens[start].gap >= PAUSE):
            signs.add("pause")
        if start and tokens[start - 1].text in self.context.articles:
            signs.add("article")
        elif start and tokens[start - 1].text in self.context.prepositions:
            signs.add("preposition")
        return tuple(sorted(signs))

    def _said(self, start: int, nearer: Set[str]) -> Iterator[str]:
        """Lasting cues of the sentence that stand before other moves; none that stands nearer as well."""
        tokens = self.tokens
        first, last = bisect_left(self.lasting_starts, start - _SAID), bisect_left(self.lasting_starts, start)
        for cue in self.lasting[first:last]:
            if cue.end > start:
                continue
            stopped = any(token.stop for token in tokens[cue.start : start])
            silent = any(token.gap >= PAUSE for token in tokens[cue.start + 1 : start + 1])
            if not stopped and not silent and {f"near.{cue.value}", f"far.{cue.value}"}.isdisjoint(nearer):
                yield f"said.{cue.value}"

    def at_move(self, start: int) -> int:
        """The number in "on move 14", shortly before or after a phrase, or read out right before it; else 0."""
        tokens = self.tokens
        if start in self.numbers:
            return self.numbers[start]
        first = bisect_left(self.move_words, start - _FAR)
        last = bisect_left(self.move_words, min(start + _FAR, len(tokens) - 1))
        for index in self.move_words[first:last]:
            if not any(token.stop for token in tokens[index:start]):
                number = spoken_number([token.text for token in tokens[index + 1 : index + 4]])
                if number:
                    return number
        return 0

    def who(self, start: int, names: frozenset[str]) -> str:
        """The word before a phrase, in its sentence, that says who moves; the nearest one."""
        tokens = self.tokens
        place = bisect_right(self.ends, start) - 1
        first = max(self.ends[place] if place >= 0 else 0, start - _WHO)
        for index in range(start - 1, first - 1, -1):
            if tokens[index].stop or tokens[index + 1].gap >= PAUSE:
                break
            text = tokens[index].text
            if text in names:
                return text
            if text in self.context.movers:
                return self.context.movers[text]
        own = self.context.movers.get(tokens[start].text, "")
        return own if own in ("white", "black") else ""

    def following(self, phrase: Phrase) -> int:
        """The token at which the next phrase begins that shows a move; the number of tokens where none does."""
        place = bisect_left(self.starts, phrase.end)
        return self.starts[place] if place < len(self.starts) else len(self.tokens)

    def named(self, end: int, following: int) -> tuple[str, ...]:
        """Moves of the opening named right after a phrase, and before the next: "c4, and that's the Panov attack"."""
        last = min(following, end + _NAMED)
        first = bisect_left(self.opening_starts, end)
        found = self.openings[first : bisect_left(self.opening_starts, last, lo=first)]
        return max((tuple(entry.value.split()) for entry in found), key=len, default=())

    def after(self, phrase: Phrase) -> Signs:
        tokens = self.tokens
        following = self.following(phrase)
        last = min(following, phrase.end + _AFTER, len(tokens))
        signs = set()
        if tokens[phrase.end - 1].stop:
            signs.add("then.pause")
            last = phrase.end
        for index in range(bisect_left(self.cue_starts, phrase.end), len(self.cues)):
            cue = self.cues[index]
            if cue.start >= last:
                break
            if any(tokens[k].stop for k in range(phrase.end, cue.start)):
                break
            signs.add(f"then.{cue.value}")
        if "then.back" in signs:
            signs.discard("then.turn")
        for index in range(phrase.end, min(last, phrase.end + _BY)):
            if tokens[index].text in self.context.words:
                signs.add(f"next.{tokens[index].text}")
            if tokens[index].stop:
                break
        if following == phrase.end:
            signs.add("then.move")
        if phrase.end < len(tokens) and tokens[phrase.end].text in self.context.nouns:
            signs.add("then.noun")
        return tuple(sorted(signs))

    def itself(self, phrase: Phrase, longest: Phrase, whole: Phrase | None) -> Signs:
        move = phrase.moves[0]
        signs = [f"form.{move.form}"]
        first = self.tokens[phrase.start].text
        if first in self.context.articles and move.piece:
            signs.append("definite")
        if phrase.end < longest.end:
            signs.append("cut")
            # "rook takes", where "rook takes f5" was said: the square speaks against a move elsewhere
            if move.target is None and longest.moves[0].target is not None and len(longest.moves) == 1:
                signs.append("cut_square")
        # "c6" in "bishop c6"
        if whole is not None and not move.piece and whole.start < phrase.start:
            signs.append("piece_left_out")
        if move.check or move.mate:
            signs.append("check")
        if any(token.text in self.context.past_tense for token in self.tokens[phrase.start : phrase.end]):
            signs.append("past_tense")
        return tuple(signs)

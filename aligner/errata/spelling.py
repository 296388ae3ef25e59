"""How the trade spells a move, part by part, and which words of a mention are parts of it misheard or broken.

A repair touches no word but those that sound like a part of the move that was meant, or that spell one in pieces.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from aligner.captions.naming import Meaning
from aligner.speech.atoms import Atom, Atoms
from aligner.speech.sounds import misspelt, sounds_like
from aligner.speech.tokens import Token

SPELLINGS = ("spoken", "symbols")

NAMES = {"K": "king", "Q": "queen", "R": "rook", "B": "bishop", "N": "knight", "P": "pawn"}
"""Of the pieces, by their letters."""
FAR, CLOSE, CLOSEST = 9.0, 1.1, 0.6
"""Amounts of "sound" (phoneme distance and 0.3) followed where a move is known to be misheard, where it is not, and
for a single letter outside the words that are known to speak of it."""
CASTLES = ("castles", "castle", "castled")
REACH = 3
"""Tokens between a piece and its square in a move that nobody seems to have spoken."""
_DESCRIBING = frozenset("on of at from the his her this that for will would can could".split())
"""Words after which a square is no pawn's move."""
PAUSE = 700
"""Milliseconds of silence after which "check" is not said of the move before."""
_BETWEEN = frozenset({"to", "on", "the", "at", "a", "back", "takes", "take", "took", "captures", "check", "x"})
"""Words that a move in symbols takes up when it stands for all that was said."""
_NAMING = ("piece", "square", "file", "rank", "castle")
_JOINED = re.compile(r"(?i)(king|queen|rook|bishop|knight|pawn)([a-h][1-8])")
_APART = re.compile(r"([A-Ha-h])[-\u2013]([1-8])")


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a move to be written in place of some tokens.

    Attributes:
        start: index of the first token.
        end: index after the last token.
        text: how the trade spells it.
        slot: "piece", "captured", "target", "takes", "check", "castles" or "origin".
    """

    start: int
    end: int
    text: str
    slot: str


def misheard(
    tokens: Sequence[Token], atoms: Atoms, start: int, end: int, meant: Meaning, known: bool = True, named: bool = False
) -> list[Part]:
    """Tokens `start` up to `end` that sound like a part of the move and are none, with the part they should be.

    A part that is named plainly somewhere in these tokens is not looked for again.

    Args:
        tokens: of the talk.
        atoms: of the talk.
        start: first token of the mention.
        end: token after it.
        meant: the move.
        known: whether the move is known to be misheard; else only what hardly can be anything else counts.
        named: whether nothing is found unless all that names the move, piece and square, stands side by side.
    """
    if named:
        start, end = _named_within(tokens, atoms, start, end, meant)
    taken = named_plainly(tokens, atoms, start, end, meant)
    found: list[Part] = []
    at = start
    while at < end:
        heard = heard_as(atoms, at, meant, FAR if known else CLOSE)
        options = [part for part in heard if part.slot not in taken and part.end <= end]
        if options:  # of a queen that takes a queen the one heard first is the one that moves
            best = max(options, key=lambda part: (part.end, part.slot == "target"))
            found.append(best)
            taken.add(best.slot)
            at = best.end
        else:
            at += 1
    return found


def _verb(heard: str, forms: Sequence[str]) -> str:
    """The form of a verb that a word sounds most like; the first where it sounds like none."""
    rows = [row for row in (*sounds_like(heard), *misspelt(heard)) if row.kind == "verb" and row.target in forms]
    return min(rows, key=lambda row: row.cost).target if rows else forms[0]


def again(tokens: Sequence[Token], atoms: Atoms, start: int, end: int, meanings: Sequence[Meaning]) -> list[Part]:
    """Verbs misheard in words that speak of several moves: "takes kicks" for "takes takes"."""
    found: list[Part] = []
    for slot, kind, asked in (
        ("takes", "take", sum(bool(meant.captured) for meant in meanings)),
        ("castles", "castle", sum(meant.castles for meant in meanings)),
    ):
        plain = sum(any(not atom.terms for atom in atoms.at(at, kind)) for at in range(start, end))
        for at in range(start, end):
            if plain + len(found) < asked and not any(atoms.at(at, known) for known in ("take", "castle")):
                heard = [part for meant in meanings for part in heard_as(atoms, at, meant, FAR) if part.slot == slot]
                found += heard[:1]
    return found


def _named_within(tokens: Sequence[Token], atoms: Atoms, start: int, end: int, meant: Meaning) -> tuple[int, int]:
    """The tokens in which piece and square of the move stand close together, misheard or not; maybe none."""
    for at in range(start, end):
        heard = [part for part in heard_as(atoms, at, meant, CLOSE) if part.slot == "target"]
        plain = [Part(at, atom.end, "", "target") for atom in atoms.at(at, "square") if atom.value == meant.target]
        for spot in [*heard, *plain]:
            bare = at == start or tokens[at - 1].stop or tokens[at - 1].text not in _DESCRIBING
            if meant.piece == "P" and bare and spot.end <= end:
                return at, spot.end
            for first in range(max(at - REACH, start), at):
                named = [atom.value for atom in atoms.at(first, "piece") if _cost(atom) <= CLOSE]
                if meant.piece in named and spot.end <= end:
                    return first, spot.end
    return start, start


def _cost(atom: Atom) -> float:
    return sum(amount for name, amount in atom.terms if name == "sound")


def heard_as(atoms: Atoms, at: int, meant: Meaning, farthest: float) -> list[Part]:
    """The parts of the move that the words from a token on sound like, within an amount of "sound"."""
    found: list[Part] = []

    def add(atom: Atom, text: str, slot: str) -> None:
        if 0 < _cost(atom) <= farthest:
            found.append(Part(at, atom.end, text, slot))

    if not meant.castles:
        for kind in ("square", "square_heard"):
            for atom in atoms.at(at, kind):
                if atom.value == meant.target:
                    add(atom, meant.target, "target")
        for atom in atoms.at(at, "piece"):
            if atom.value == meant.piece:
                add(atom, NAMES[meant.piece], "piece")
            if atom.value == meant.captured:
                add(atom, NAMES[meant.captured], "captured")
        square_follows = any(atom.value == meant.piece + meant.target for atom in atoms.at(at, "piece_square"))
        for atom in atoms.at(at, "piece_file"):
            if atom.value[0] == meant.piece:
                name = NAMES[meant.piece]
                add(atom, name if square_follows else f"{name} {atom.value[1]}", "piece")
        for atom in atoms.at(at - 1, "piece_square"):
            if atom.value == meant.piece + meant.target:
                add(atom, meant.target, "target")
    if meant.piece == "P" and (atoms.at(at + 1, "take") or atoms.at(at + 1, "take_heard")):
        for atom in atoms.at(at, "file_heard"):
            if atom.value == meant.origin:
                add(atom, meant.origin, "origin")
    text = atoms.tokens[at].text
    if meant.captured:
        for atom in atoms.at(at, "take_heard"):
            add(atom, _verb(text, ("take", "takes", "took", "capture", "captures")), "takes")
    if meant.check:
        for atom in atoms.at(at, "check_heard"):
            add(atom, "mate" if atom.value == "mate" and meant.mate else "check", "check")
    if meant.castles:
        for atom in atoms.at(at, "castle_heard"):
            add(atom, _verb(text, CASTLES), "castles")
        if any(row.kind == "verb" and row.target in CASTLES for row in sounds_like(text)):
            found.append(Part(at, at + 1, _verb(text, CASTLES), "castles"))
    return found


def named_plainly(tokens: Sequence[Token], atoms: Atoms, start: int, end: int, meant: Meaning) -> set[str]:
    """The parts of the move that are named as the trade names them."""
    found: set[str] = set()
    mover = -1  # token that names the moving piece: where both are pawns, the captured one is another
    for at in range(start, end):
        for slot, kind, value in (
            ("target", "square", meant.target), ("piece", "piece", meant.piece), ("captured", "piece", meant.captured),
            ("takes", "take", ""), ("check", "check", ""), ("castles", "castle", ""),
        ):  # fmt: skip
            for atom in atoms.at(at, kind):
                if atom.end <= end and not atom.terms and (not value or atom.value == value):
                    if slot == "captured" and meant.captured == meant.piece and at == mover:
                        continue
                    if slot == "castles" and any(row.kind == "verb" for row in sounds_like(tokens[at].text)):
                        continue  # "cassels" is in the lexicon, and spelt wrong all the same
                    if slot == "piece" and mover < 0:
                        mover = at
                    found.add(slot)
                if atom.end <= end and slot == "target" and atom.value == meant.target and _spelt(tokens, at, atom):
                    found.add(slot)
    return found


def _spelt(tokens: Sequence[Token], at: int, atom: Atom) -> bool:
    """Whether a square stands in letters and figures, or in words that are its own ("b five")."""
    return all(name != "sound" for name, _ in atom.terms) or (atom.end == at + 1 and tokens[at].text == atom.value)


def plural(tokens: Sequence[Token], atoms: Atoms, start: int, end: int, meant: Meaning) -> list[Part]:
    """One piece that the captions have as several: "bishops takes c1"; what comes after gives it away."""
    for at in range(start, end - 1):
        text, following = tokens[at].text, tokens[at + 1].text
        singular = any(atom.value == meant.piece and not atom.terms for atom in atoms.at(at, "piece"))
        if not singular or text != f"{NAMES.get(meant.piece)}s" or tokens[at].stop or tokens[at].comma:
            continue
        verb = any(atoms.at(at + 1, kind) for kind in ("take", "go")) and following.endswith("s")
        if verb or following in ("to", meant.target):
            return [Part(at, at + 1, text[:-1], "piece")]
    return []


def misnamed(tokens: Sequence[Token], atoms: Atoms, start: int, end: int, meant: Meaning, kind: str) -> list[Part]:
    """The tokens that name another square or piece than was meant, for captions that misheard one for the other."""
    for at in range(end - 1, start - 1, -1):
        if kind in ("file", "rank", "square"):
            for atom in atoms.at(at, "square"):
                if not _cost(atom) and atom.value != meant.target and atom.end <= end:
                    return [Part(at, atom.end, meant.target, "target")]
        elif kind == "piece":
            first = start + (end - 1 - at)
            for atom in atoms.at(first, "piece"):
                if atom.value in NAMES and atom.value != meant.piece and not atom.terms:
                    return [Part(first, atom.end, NAMES[meant.piece], "piece")]
    return []


def broken(tokens: Sequence[Token], start: int, end: int, meant: Meaning) -> list[Part]:
    """A square written in two pieces ("e 4"); "F-3" and "Knightf3" are words, see `mended`."""
    found = []
    for at in range(start, end - 1):
        letter, digit = tokens[at], tokens[at + 1]
        if letter.text + digit.text == meant.target and letter.word != digit.word and not letter.stop:
            found.append(Part(at, at + 2, meant.target, "target"))
    return found


def mended(text: str, meant: Meaning) -> str | None:
    """A word that is a move broken or run together, as the trade writes it; None where it is neither."""
    if (match := _APART.fullmatch(text)) and (match[1] + match[2]).lower() == meant.target:
        return meant.target
    if (match := _JOINED.fullmatch(text)) and match[2].lower() == meant.target:
        return f"{match[1]} {match[2].lower()}"
    return None


def whole(
    tokens: Sequence[Token], start: int, end: int, parts: Sequence[Part], atoms: Atoms, meant: Meaning
) -> Part | None:
    """The one part that stands for all that was said, in symbols; None where more was said than symbols can tell."""
    slots = {index for part in parts for index in range(part.start, part.end)}
    named = {part.slot for part in parts} | named_plainly(tokens, atoms, start, end, meant)
    if "target" not in named and not meant.castles:
        return None
    if meant.piece != "P" and "piece" not in named and not meant.castles:
        return None
    for at in range(start, end):
        plain = {kind: [atom.value for atom in atoms.at(at, kind) if not atom.terms] for kind in _NAMING}
        if at not in slots and not any(plain.values()) and tokens[at].text not in _BETWEEN:
            return None
        if any(value not in (meant.piece, meant.captured) for value in plain["piece"]):
            return None
        if at not in slots and any(value != meant.target for value in plain["square"]):
            return None
    return Part(start, end, meant.san, "whole")

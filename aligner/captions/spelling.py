"""How the trade spells a move, part by part, and which words of a mention are parts of it misheard or broken.

A repair touches no word but those that sound like a part of the move that was meant, or that spell one in pieces.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import chess

from aligner.speech.atoms import Atom, Atoms
from aligner.speech.symbols import square
from aligner.speech.tokens import Token

SPELLINGS = ("spoken", "symbols")

_NAMES = {"K": "king", "Q": "queen", "R": "rook", "B": "bishop", "N": "knight", "P": "pawn"}
FAR, CLOSE = 9.0, 1.1
"""Amounts of "sound" (phoneme distance and 0.3) followed where a move is known to be misheard, and where it is not."""
REACH = 3
"""Tokens between a piece and its square in a move that nobody seems to have spoken."""
SHORT_PAUSE = 150
"""Milliseconds of silence after which a square may be a move by itself."""
PAUSE = 700
"""Milliseconds of silence after which "check" is not said of the move before."""
_BETWEEN = frozenset({"to", "on", "the", "at", "a", "back", "takes", "take", "took", "captures", "check", "x"})
"""Words that a move in symbols takes up when it stands for all that was said."""
_JOINED = re.compile(r"(?i)(king|queen|rook|bishop|knight|pawn)([a-h][1-8])")
_APART = re.compile(r"([A-Ha-h])[-–]([1-8])")


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


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a move is called, part by part.

    Attributes:
        san: in SAN.
        piece: letter of the moving piece.
        captured: letter of the captured piece; "" where none is.
        target: name of the square it goes to.
        origin: file it comes from.
        check: whether it gives check.
        castles: whether it castles.
        mate: whether it mates.
    """

    san: str
    piece: str
    captured: str
    target: str
    origin: str
    check: bool
    castles: bool
    mate: bool


def meaning(board: chess.Board, move: chess.Move) -> Meaning:
    """What a legal move is called."""
    piece = board.piece_at(move.from_square)
    victim = board.piece_at(move.to_square)
    san = board.san(move)
    captured = victim.symbol().upper() if victim else "P" if board.is_en_passant(move) else ""
    return Meaning(
        san=san,
        piece=piece.symbol().upper() if piece else "",
        captured="" if board.is_castling(move) else captured,
        target=chess.square_name(move.to_square),
        origin=chess.FILE_NAMES[chess.square_file(move.from_square)],
        check=san[-1] in "+#",
        castles=board.is_castling(move),
        mate=san[-1] == "#",
    )


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
    taken = _plain(tokens, atoms, start, end, meant)
    found: list[Part] = []
    at = start
    while at < end:
        options = [part for part in _heard(atoms, at, meant, FAR if known else CLOSE) if part.slot not in taken and part.end <= end]
        if options:
            best = max(options, key=lambda part: (part.end, part.slot == "target"))
            found.append(best)
            taken.add(best.slot)
            at = best.end
        else:
            at += 1
    if start and not taken & {"piece", "origin", "castles"} and not tokens[start - 1].stop and tokens[start].gap < PAUSE:
        before = _heard(atoms, start - 1, meant, CLOSE)
        found[:0] = [part for part in before if part.slot in ("piece", "origin") and part.end == start][:1]
    if meant.check and "check" not in taken and end < len(tokens) and tokens[end].gap < PAUSE:
        found += [part for part in _heard(atoms, end, meant, CLOSE) if part.slot == "check"][:1]
    return found


def _named_within(tokens: Sequence[Token], atoms: Atoms, start: int, end: int, meant: Meaning) -> tuple[int, int]:
    """The tokens in which piece and square of the move stand close together, misheard or not; none where they do not."""
    for at in range(start, end):
        heard = [part for part in _heard(atoms, at, meant, CLOSE) if part.slot == "target"]
        plain = [Part(at, atom.end, "", "target") for atom in atoms.at(at, "square") if atom.value == meant.target]
        for spot in [*heard, *plain]:
            if meant.piece == "P":
                bare = at == start or tokens[at - 1].stop or tokens[at - 1].comma or tokens[at].gap > SHORT_PAUSE
                if spot.end <= end and (bare or at - 1 >= start and atoms.at(at - 1, "go")):
                    return at, spot.end
            for first in range(max(at - REACH, start), at):
                named = [atom.value for atom in atoms.at(first, "piece") if _cost(atom) <= CLOSE]
                if meant.piece in named and spot.end <= end:
                    return first, spot.end
    return start, start


def _cost(atom: Atom) -> float:
    return sum(amount for name, amount in atom.terms if name == "sound")


def _heard(atoms: Atoms, at: int, meant: Meaning, farthest: float) -> list[Part]:
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
                add(atom, _NAMES[meant.piece], "piece")
            elif atom.value == meant.captured:
                add(atom, _NAMES[meant.captured], "captured")
        for atom in atoms.at(at, "piece_file"):
            name, letter = atom.value.split()
            if name == _NAMES.get(meant.piece):
                add(atom, f"{name} {letter}", "piece")
    if meant.piece == "P" and (atoms.at(at + 1, "take") or atoms.at(at + 1, "take_heard")):
        for atom in atoms.at(at, "file_heard"):
            if atom.value == meant.origin:
                add(atom, meant.origin, "origin")
    if meant.captured:
        for atom in atoms.at(at, "take_heard"):
            add(atom, "takes", "takes")
    if meant.check:
        for atom in atoms.at(at, "check_heard"):
            add(atom, "mate" if atom.value == "mate" and meant.mate else "check", "check")
    if meant.castles:
        for atom in atoms.at(at, "castle_heard"):
            add(atom, "castles", "castles")
    return found


def _plain(tokens: Sequence[Token], atoms: Atoms, start: int, end: int, meant: Meaning) -> set[str]:
    """The parts of the move that are named as the trade names them."""
    found: set[str] = set()
    for at in range(start, end):
        for slot, kind, value in (
            ("target", "square", meant.target), ("piece", "piece", meant.piece), ("captured", "piece", meant.captured),
            ("takes", "take", ""), ("check", "check", ""), ("castles", "castle", ""),
        ):  # fmt: skip
            for atom in atoms.at(at, kind):
                if atom.end <= end and not atom.terms and (not value or atom.value == value):
                    if slot == "captured" and meant.captured == meant.piece and "piece" not in found:
                        continue
                    found.add(slot)
                if atom.end <= end and slot == "target" and atom.value == meant.target and _spelt(tokens, at, atom):
                    found.add(slot)
    return found


def _spelt(tokens: Sequence[Token], at: int, atom: Atom) -> bool:
    """Whether a square stands in letters and figures, or in words that are its own ("b five")."""
    return all(name != "sound" for name, _ in atom.terms) or (atom.end == at + 1 and tokens[at].text == atom.value)


def plural(tokens: Sequence[Token], atoms: Atoms, start: int, end: int, meant: Meaning) -> list[Part]:
    """One piece that the captions have as several: "bishops takes c1"; the verb or the square after it gives it away."""
    for at in range(start, end - 1):
        text, following = tokens[at].text, tokens[at + 1].text
        singular = any(atom.value == meant.piece and not atom.terms for atom in atoms.at(at, "piece"))
        if not singular or text != f"{_NAMES.get(meant.piece)}s" or tokens[at].stop or tokens[at].comma:
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
                if not any(name == "sound" for name, _ in atom.terms) and atom.value != meant.target and atom.end <= end:
                    return [Part(at, atom.end, meant.target, "target")]
        elif kind == "piece":
            first = start + (end - 1 - at)
            for atom in atoms.at(first, "piece"):
                if atom.value in _NAMES and atom.value != meant.piece and not atom.terms:
                    return [Part(first, atom.end, _NAMES[meant.piece], "piece")]
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


def whole(tokens: Sequence[Token], start: int, end: int, parts: Sequence[Part], atoms: Atoms, meant: Meaning) -> Part | None:
    """The one part that stands for all that was said, in symbols; None where more was said than symbols can tell."""
    slots = {index for part in parts for index in range(part.start, part.end)}
    named = {part.slot for part in parts} | _plain(tokens, atoms, start, end, meant)
    if "target" not in named and not meant.castles:
        return None
    if meant.piece != "P" and "piece" not in named and not meant.castles:
        return None
    for at in range(start, end):
        plain = any(not atom.terms for kind in ("piece", "square", "file", "rank", "castle") for atom in atoms.at(at, kind))
        if at not in slots and not plain and tokens[at].text not in _BETWEEN:
            return None
        if any(atom.value not in (meant.piece, meant.captured) for atom in atoms.at(at, "piece") if not atom.terms):
            return None
        if any(square(atom.value) != square(meant.target) for atom in atoms.at(at, "square") if not atom.terms and at not in slots):
            return None
    return Part(start, end, meant.san, "whole")

"""What a move is said to do, right after it is told: "b5, hitting the bishop", "knight f6, it covers e4"."""

from __future__ import annotations

from typing import NamedTuple

import chess

from aligner.speech.atoms import Atoms
from aligner.speech.description import Phrase

_BETWEEN = 3
"""Tokens between a move and what it is said to do, at most: "which of course hits"."""
_WITHIN = 3
"""Tokens before the man that is named, at most: "the poor", "her light squared"."""


class Aim(NamedTuple):
    """What a move is said to attack or to guard.

    Attributes:
        does: "hit" or "cover".
        piece: letter of the man, upper case, or "" where only a square is named.
        square: 0 to 63, or None where only a man is named.
    """

    does: str
    piece: str
    square: chess.Square | None


def aim_after(atoms: Atoms, phrase: Phrase, following: int) -> Aim | None:
    """What is said that the move of a phrase does, where it is said at once and in the same sentence.

    Args:
        atoms: of the talk.
        phrase: the move.
        following: the token at which the next move is told.
    """
    tokens = atoms.tokens
    for place in range(phrase.end, min(phrase.end + _BETWEEN + 1, following, len(tokens))):
        if place > phrase.end and tokens[place - 1].stop:
            return None
        for atom in sorted(atoms.at(place, "aim"), key=lambda atom: -atom.end):
            aim = _object(atoms, atom.value, atom.end)
            if aim is not None:
                return aim
    return None


def _object(atoms: Atoms, does: str, place: int) -> Aim | None:
    tokens = atoms.tokens
    for at in range(place, min(place + _WITHIN + 1, len(tokens))):
        if tokens[at - 1].stop or tokens[at - 1].comma:
            return None
        for square in atoms.at(at, "square"):
            return Aim(does, "", chess.parse_square(square.value))
        for piece in (*atoms.at(at, "piece"), *atoms.at(at, "plural")):
            if piece.value != "any":
                return Aim(does, piece.value, None)
    return None

"""Who is to blame for a misnamed move: the speaker, or the captions, told from how alike said and meant sound."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

import chess

from aligner.speech.sounds import confusion, sounds_like
from aligner.speech.tokens import normal

SOUNDING = frozenset({"file", "rank", "square", "piece", "origin"})
"""Kinds that a wrong ear can bring about; the others change what is said, not how it sounds."""
DEAF = 4.0
"""Phoneme distance from which two parts are not alike at all."""
_DIGITS = {"one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7", "eight": "8"}
_PIECES = ("king", "queen", "rook", "bishop", "knight", "pawn")


@dataclass(frozen=True, slots=True)
class Named:
    """What of a move stands in the words.

    Attributes:
        piece: name of the first piece; "" where none is named.
        square: the last square; "" where none is named.
        file: a single file that is named before the square ("rook f d8", "d takes c5"); "" where none is.
    """

    piece: str
    square: str
    file: str


@dataclass(frozen=True, slots=True)
class Odds:
    """Fitted: log-odds of the captions' fault, and the bounds of what is called unsure.

    Attributes:
        same: log-odds where both sound the same.
        per_distance: added for each unit of phoneme distance.
        per_step: added where said and meant are one file or one rank apart, as slips of the tongue are.
        per_prior: factor of what the talk's other findings say of the captions; see `prior_of`.
        surest_speaker: log-odds below which it is the speaker's.
        surest_caption: log-odds above which it is the captions'.
    """

    same: float
    per_distance: float
    per_step: float
    per_prior: float
    surest_speaker: float
    surest_caption: float


@lru_cache(maxsize=1)
def odds() -> Odds:
    """The fitted odds, read once."""
    file = resources.files("aligner.errata") / "data" / "cause.toml"
    return Odds(**tomllib.loads(file.read_text(encoding="utf-8"))["caption"])


def cause(said: str, kind: str, meant: str, piece: str, prior: float = 0.0) -> str:
    """ "speaker", "caption" or "unsure".

    Args:
        said: the words, as the captions have them.
        kind: of the finding.
        meant: the move in UCI.
        piece: name of the piece that moves.
        prior: log-odds of the captions' fault in this talk; see `prior_of`.
    """
    if kind == "garble":
        return "caption"
    if kind not in SOUNDING:
        return "speaker"
    if kind in ("file", "rank", "square") and misheard_square(said):
        return "caption"
    share = caption_share(distance(said, kind, meant, piece), prior, a_step(said, kind, meant))
    fitted = odds()
    if share >= fitted.surest_caption:
        return "caption"
    return "speaker" if share <= fitted.surest_speaker else "unsure"


def misheard_square(said: str) -> bool:
    """Whether the words name no square, and end in two that only sound like one: "di five"."""
    words = [normal(word).strip(".,;:!?\"'()") for word in said.split()]
    if named_in(said).square or len(words) < 2:
        return False
    file, rank = words[-2:]
    ranks = {rank, _DIGITS.get(rank, "")} & set(_DIGITS.values())
    return bool(ranks) and any(row.kind == "file" for row in sounds_like(file))


def caption_share(apart: float, prior: float = 0.0, step: bool = False) -> float:
    """Probability that the captions are to blame.

    Args:
        apart: phoneme distance of said and meant.
        prior: of the talk; see `prior_of`.
        step: whether the tongue slips so; see `a_step`.
    """
    fitted = odds()
    log_odds = fitted.same + fitted.per_distance * min(apart, DEAF) + fitted.per_prior * prior + fitted.per_step * step
    return 1 / (1 + math.exp(-log_odds))


def prior_of(garbled: int, misnamed: int) -> float:
    """Log-odds of the captions' fault in a talk: words that only sound like a move show captions that mishear.

    Args:
        garbled: findings that are moves misheard beyond doubt.
        misnamed: findings whose words name another move.
    """
    return math.log((garbled + 0.5) / (misnamed + 2.0))


def distance(said: str, kind: str, meant: str, piece: str) -> float:
    """Phoneme distance of what was said wrongly from what was meant; `DEAF` where they are not alike at all.

    Args: as for `cause`.
    """
    named = named_in(said)
    if kind == "piece":
        return min(confusion("piece", named.piece or "pawn", piece), DEAF)
    if kind == "origin":
        return min(confusion("file", named.file, meant[0]), DEAF) if named.file else DEAF
    if not named.square:
        return DEAF
    return min(confusion("file", named.square[0], meant[2]) + confusion("rank", named.square[1], meant[3]), DEAF)


def a_step(said: str, kind: str, meant: str) -> bool:
    """Whether what was said is one file or one rank from what was meant, as the tongue slips and the ear does not.

    Args: as for `cause`.
    """
    named = named_in(said)
    one, other = (named.file, meant[0]) if kind == "origin" else (named.square, meant[2:4])
    if kind == "piece" or not one or len(one) != len(other):
        return False
    return sum(abs(ord(a) - ord(b)) for a, b in zip(one, other, strict=True)) == 1


def named_in(said: str) -> Named:
    """Piece, square and file in the words of a move."""
    return _named([normal(word).strip(".,;:!?\"'()") for word in said.replace("-", " ").split()])


def _named(words: Sequence[str]) -> Named:
    piece = square = file = ""
    for place, word in enumerate(words):
        word = word.removesuffix("s") if word.removesuffix("s") in _PIECES else word
        following = _DIGITS.get(words[place + 1], words[place + 1]) if place + 1 < len(words) else ""
        if word in _PIECES:
            piece = piece or word
        elif word in chess.SQUARE_NAMES:
            square = word
        elif len(word) == 1 and word in "abcdefgh":
            if len(following) == 1 and following in "12345678":
                square = word + following
            else:
                file = word
        elif len(word) > 2 and word[-2:] in chess.SQUARE_NAMES and word[0] in "nbrqk":
            square = word[-2:]
            piece = piece or {"n": "knight", "b": "bishop", "r": "rook", "q": "queen", "k": "king"}[word[0]]
    return Named(piece, square, file)

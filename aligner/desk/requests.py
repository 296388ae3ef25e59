"""What the page asks for, checked field by field: nothing that comes from the network is believed."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import chess

from aligner.errors import InputError
from aligner.pins.pin import DECISIONS, INFERRED, MOVE, Pin, anchor
from aligner.pins.typed import parse
from aligner.search.lines import LineNode
from aligner.speech.listen import Speech

_LONGEST_LINE = 1_000
_LONGEST_WORDS = 60
_LONGEST_TEXT = 20


@dataclass(frozen=True, slots=True)
class Typed:
    """A move that was typed or clicked.

    Attributes:
        words: half-open range of the words it is for.
        text: the move.
        in_game: only moves of the game, or only of lines; None for both.
        base: moves in SAN to the position on whose board it was clicked; None where it was typed.
    """

    words: tuple[int, int]
    text: str
    in_game: bool | None
    base: tuple[str, ...] | None


def fields_of(body: bytes) -> dict[str, Any]:
    """The fields of a request.

    Raises:
        InputError: it is no JSON object.
    """
    try:
        data = json.loads(body or b"{}")
    except (ValueError, RecursionError):
        raise InputError("the request is no JSON.") from None
    if not isinstance(data, dict):
        raise InputError("the request is no JSON object.")
    return data


def words_of(data: dict[str, Any], count: int) -> tuple[int, int]:
    """The range of words that a request is about; `count` is how many the talk has."""
    first, past = data.get("first"), data.get("past")
    if type(first) is not int or type(past) is not int:
        raise InputError("the request names no words.")
    if not 0 <= first < past <= count or past - first > _LONGEST_WORDS:
        raise InputError("the request names no words of the talk.")
    return first, past


def pin_of(data: dict[str, Any], speech: Speech) -> Pin:
    """The decision in a request.

    Raises:
        InputError: a field is missing or is not what it should be.
    """
    found = anchor(speech.words, *words_of(data, len(speech.words)))
    decision = data.get("decision")
    if decision not in DECISIONS:
        raise InputError("the request holds no decision.")
    if decision not in (MOVE, INFERRED):
        return Pin(found, decision)
    line = _line(data.get("line"))
    spoken, in_game, again = data.get("spoken", 1), data.get("in_game"), data.get("again")
    if not line or type(spoken) is not int or not 1 <= spoken <= len(line):
        raise InputError("the request names no move.")
    if type(in_game) is not bool or (again is not None and type(again) is not bool):
        raise InputError("the request does not tell where the move stands.")
    return Pin(found, decision, line, spoken, in_game, again)


def typed_of(data: dict[str, Any], count: int) -> Typed:
    """The typed or clicked move in a request.

    Raises:
        InputError: a field is missing or is not what it should be.
    """
    text, in_game, base = data.get("text"), data.get("in_game"), data.get("base")
    if not isinstance(text, str) or not 2 <= len(text.strip()) <= _LONGEST_TEXT:
        raise InputError("type a move like Nf3 or e2e4.")
    if in_game is not None and type(in_game) is not bool:
        raise InputError("the request does not tell where the move stands.")
    return Typed(words_of(data, count), text.strip(), in_game, None if base is None else _line(base))


def played(before: LineNode, text: str) -> chess.Move:
    """The move that was clicked on a board; a pawn on the last rank becomes a queen unless it says otherwise.

    Raises:
        InputError: it is not legal there.
    """
    move = parse(before.board, text) or parse(before.board, f"{text}q")
    if move is None:
        raise InputError(f"{text} is no legal move in this position.")
    return move


def position_of(fen: str) -> chess.Board:
    """The position in a request for a board.

    Raises:
        InputError: it is no FEN.
    """
    try:
        return chess.Board(fen[:120])
    except ValueError:
        raise InputError("this is no position.") from None


def _line(value: Any) -> tuple[str, ...]:
    good = isinstance(value, list) and len(value) <= _LONGEST_LINE
    if not good or not all(isinstance(san, str) and 2 <= len(san) <= 10 and san.isascii() for san in value):
        raise InputError("the request names no line of moves.")
    return tuple(value)

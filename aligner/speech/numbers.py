"""Numbers of moves as they are spoken: "on move fourteen", "fourteen, queen g4"."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from aligner.speech.lexicon import lexicon
from aligner.speech.tokens import Token

_PRINTED = re.compile(r"([0-9]{1,3})(\.{0,3})")
_MOST = 200
"""Above all numbers of moves."""
_FEWEST = 8
"""Different numbers read out before moves that show a habit."""
_IN_ORDER = 0.6
"""Share of them that must be the one before or the next, as the numbers of moves told one after another are."""


def spoken_number(texts: Sequence[str]) -> int:
    """The number from 1 to 199 that tokens begin with, in figures or words; 0 where they begin with none."""
    if not texts:
        return 0
    context = lexicon().context
    first = texts[0].lstrip("#")
    if first in context.before_number and len(texts) > 1:
        return spoken_number(texts[1:])
    if first.isascii() and first.isdigit():
        return int(first) if len(first) <= 3 and 0 < int(first) < _MOST else 0
    value = context.numbers.get(first, 0)
    if value >= 20 and len(texts) > 1:
        unit = context.numbers.get(texts[1], 0)
        value += unit if unit < 10 else 0
    return value


def read_out(tokens: Sequence[Token], starts: Iterable[int]) -> Mapping[int, int]:
    """Numbers right before moves, where the speaker reads the moves out with their numbers: token to number.

    A number may also count something else; but those of moves go up by one, and back where a line begins.

    Args:
        tokens: of the talk.
        starts: tokens at which moves may be told.
    """
    before = {start: number for start in sorted(set(starts)) if (number := _ends_before(tokens, start))}
    numbers = list(before.values())
    steps = [later - earlier in (0, 1) for earlier, later in zip(numbers, numbers[1:], strict=False)]
    if len(set(numbers)) < _FEWEST or sum(steps) < _IN_ORDER * len(steps):
        return {}
    return before


def printed(tokens: Sequence[Token], start: int) -> tuple[int, str]:
    """The number printed in one word with the move at a token, and who moves: "3.e5", "2...d5"; 0 and "" for none.

    As in the movetext of the PGN standard (1994), 8.2.2: one dot before a move of White's, three before one of Black's.
    An ellipsis in one character parts words, and is not seen here.
    """
    if start and tokens[start - 1].word == tokens[start].word:
        found = _PRINTED.fullmatch(tokens[start - 1].raw)
        if found and 0 < int(found[1]) < _MOST:
            return int(found[1]), {"": "", ".": "white"}.get(found[2], "black")
    return 0, ""


def _ends_before(tokens: Sequence[Token], start: int) -> int:
    """The number that ends right before a token; 0 for none."""
    for first in (start - 2, start - 1):
        if first < 0:
            continue
        texts = [token.text for token in tokens[first:start]]
        number = spoken_number(texts)
        if number and (len(texts) == 1 or number != spoken_number(texts[:1])):
            return number
    return 0

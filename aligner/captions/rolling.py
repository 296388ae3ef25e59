"""Captions that scroll: each line is shown more than once, at first as the new line, then pushed up or alone.

Recognisers write such captions (common practice): two lines a cue, the upper one being the line before, often with
a cue of a hundredth of a second between, in which only the finished line stands. Here each word is kept once, at the
place where it was first shown; its other places become echoes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import groupby, pairwise
from typing import NamedTuple

from aligner.captions.markup import CueText, Piece
from aligner.captions.words import Span

ROLLING_SHARE = 0.5
"""Share of neighbouring cues that must repeat for the file to be read as rolling: nearly all do where it is, and in
captions that are not, hardly two of a hundred repeat the line before."""

FEWEST_PAIRS = 4
"""Pairs of cues needed where no line is seen to scroll, so that one phrase said twice is not taken for an echo."""

MOST_LINES = 8
"""Lines looked at in one cue: a screen shows two or three."""


Echoes = dict[Span, list[Span]]
"""From the place where a word was first shown to its places in later cues."""


class Row(NamedTuple):
    """One line of a cue."""

    texts: list[str]
    pieces: list[Piece]


Screen = list[Row]
Overlap = Callable[[Screen, Screen], int]


def new_words(texts: Sequence[CueText]) -> tuple[list[list[Piece]], Echoes | None]:
    """For each cue the words that it is the first to show, and the echoes; None where the captions do not roll."""
    screens = [_rows(text.pieces) for text in texts]
    for overlap in (_scrolled, _grown):
        if _is_rolling(screens, overlap):
            return _once(screens, overlap)
    return [text.pieces for text in texts], None


def _rows(pieces: Sequence[Piece]) -> Screen:
    rows = [list(row) for _, row in groupby(pieces, key=lambda piece: piece.row)]
    return [Row([piece.text for piece in row], row) for row in rows]


def _scrolled(before: Screen, now: Screen) -> int:
    """How many of the first lines of `now` are the last lines of `before`."""
    for count in range(min(len(before), len(now), MOST_LINES), 0, -1):
        if all(a.texts == b.texts for a, b in zip(before[-count:], now[:count], strict=True)):
            return count
    return 0


def _grown(before: Screen, now: Screen) -> int:
    """Like `_scrolled`, but the last line they share may have grown at its end."""
    for count in range(min(len(before), len(now), MOST_LINES), 0, -1):
        *above, (a, b) = zip(before[-count:], now[:count], strict=True)
        if all(c.texts == d.texts for c, d in above) and b.texts[: len(a.texts)] == a.texts:
            return count
    return 0


def _is_rolling(screens: Sequence[Screen], overlap: Overlap) -> bool:
    shown = [screen for screen in screens if screen]
    repeats = 0
    scrolls = False
    for before, now in pairwise(shown):
        if count := overlap(before, now):
            repeats += 1
            grown = len(now[count - 1].texts) > len(before[-1].texts)
            scrolls = scrolls or len(now) > count or len(before) > count or grown
    pairs = len(shown) - 1
    return repeats >= max(1, ROLLING_SHARE * pairs) and (scrolls or pairs >= FEWEST_PAIRS)


def _once(screens: Sequence[Screen], overlap: Overlap) -> tuple[list[list[Piece]], Echoes]:
    result: list[list[Piece]] = []
    echoes: Echoes = {}
    last: Screen = []
    first: list[list[Piece]] = []  # for each line of `last`, its words where they were first shown
    for screen in screens:
        fresh: list[Piece] = []
        if screen:
            count = overlap(last, screen)
            above = first[len(first) - count :]
            first = []
            for known, row in zip([*above, *([] for _ in screen[count:])], screen, strict=True):
                for piece, again in zip(known, row.pieces, strict=False):
                    echoes.setdefault(piece.span, []).append(again.span)
                new = row.pieces[len(known) :]
                fresh.extend(new)
                first.append([*known, *new] if new else known)
            last = screen
        result.append(fresh)
    return result, echoes

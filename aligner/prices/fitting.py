"""Fitting prices to truth: adaptive steps, pulled towards the prices that fitting began with.

The model is log-linear; what is true is made likelier by moving each price against the difference between how often its
term is seen on the true ways and on all ways (Lafferty et al. 2001). Steps are adaptive (Duchi et al. 2011), and
prices are pulled back (a Gaussian prior around the starting ones), so that a term hardly seen keeps its price.
"""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Protocol

from aligner.prices.prices import MODES, Prices

STEP, PULL = 0.25, 0.004
"""First step in nats; pull towards the starting price for each window of talk and nat of distance."""
WORD_PULL = 0.02
"""The same for what single words say: they are many, and each speaker has words of his own."""
LEAST_WORD = 0.06
"""Nats below which what a single word says is left out of a price file: thousands of such prices tell nothing."""
_WORDS = ("by", "ago", "next")
"""Kinds of signs that are single words."""


@dataclass(frozen=True, slots=True)
class Slope:
    """What one lesson says of prices.

    Attributes:
        slope: by term, how much the loss falls as the price falls: seen on true ways less seen on all ways.
        loss: nats by which the true ways fall short of certainty, summed over the windows.
        windows: pieces of talk that were looked at.
        lost: pieces in which no way was true.
    """

    slope: Mapping[str, float]
    loss: float
    windows: int
    lost: int = 0


class Lesson(Protocol):
    """Something to learn prices from."""

    def slope(self, prices: Prices) -> Slope:
        """What it says of these prices."""


def fit(
    lessons: Sequence[Lesson],
    start: Mapping[str, float],
    rounds: int,
    *,
    step: float = STEP,
    pull: float = PULL,
    only: tuple[str, ...] = (),
    told: Callable[[int, float], None] | None = None,
) -> dict[str, float]:
    """Prices after some rounds over the lessons, averaged over the last half of them.

    Args:
        lessons: to learn from; their order in each round is drawn with a fixed seed.
        start: prices to begin with and to be pulled back to.
        rounds: how often each lesson is taken.
        step: size of the first steps, in nats.
        pull: towards the starting prices, for each window; single words near a move are pulled by `WORD_PULL`.
        only: beginnings of the terms whose prices may move; all may where there are none.
        told: after each round its number and the loss, in nats a window.
    """
    table = dict(start)
    squares: dict[str, float] = defaultdict(lambda: 1.0)
    total: dict[str, float] = defaultdict(float)
    order = random.Random(1)
    counted = 0
    for number in range(1, rounds + 1):
        loss, windows = 0.0, 0
        for lesson in order.sample(list(lessons), len(lessons)):
            found = lesson.slope(Prices(table))
            loss, windows = loss + found.loss, windows + found.windows
            for name in found.slope:
                if only and not name.startswith(only):
                    continue
                away = table.get(name, 0.0) - start.get(name, 0.0)
                value = found.slope[name] + (WORD_PULL if _is_word(name) else pull) * found.windows * away
                squares[name] += value * value
                table[name] = table.get(name, 0.0) - step * value / sqrt(squares[name])
        if number > rounds // 2:
            counted += 1
            for name, value in table.items():
                total[name] += value
        if told is not None:
            told(number, loss / max(windows, 1))
    return {name: value / counted for name, value in total.items()} if counted else table


def _is_word(name: str) -> bool:
    """Whether a term is a group's sign that is a single word: "line|by.if"."""
    return name.partition("|")[2].partition(".")[0] in _WORDS


def prices_text(prices: Mapping[str, Prices], heading: str) -> str:
    """A price file; the same prices give the same text. What tells next to nothing is left out.

    Args:
        prices: by mode.
        heading: one line for people.
    """
    lines = [f"# {heading}", ""]
    for mode in MODES:
        table = prices[mode].table
        lines += [f"[{mode}]", f"sharpness = {prices[mode].sharpness:.3f}", "", f"[{mode}.price]"]
        least = {name: LEAST_WORD if _is_word(name) else 0.0005 for name in table}
        lines += [f'"{name}" = {value:.3f}' for name, value in sorted(table.items()) if abs(value) >= least[name]]
        lines.append("")
    return "\n".join(lines)

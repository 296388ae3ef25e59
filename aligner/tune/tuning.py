"""Personal prices from settled talks, tested on talks that they were not fitted on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from aligner.prices.fitting import fit
from aligner.prices.prices import Prices
from aligner.tune.settled_talk import SettledTalk

ROUNDS = 6
FOLDS = 4
_LEAST_GAIN = 0.01
"""Share by which the loss on held-out talks must fall: less may be chance."""


@dataclass(frozen=True, slots=True)
class HeldOut:
    """How prices do on talks that they were not fitted on.

    Attributes:
        talks: how many talks.
        loss: nats a window.
        right: settled decisions that the search makes by itself.
        settled: settled decisions.
    """

    talks: int
    loss: float
    right: int
    settled: int


@dataclass(frozen=True, slots=True)
class Tuned:
    """The outcome of tuning.

    Attributes:
        before: the default prices on the held-out talks.
        after: prices fitted without them, on the same.
        helps: whether the fitted prices are better.
        prices: fitted on all talks; the default ones where that does not help.
    """

    before: HeldOut
    after: HeldOut
    helps: bool
    prices: Prices


def tune(
    talks: Sequence[SettledTalk], default: Prices, rounds: int = ROUNDS, told: Callable[[str], None] | None = None
) -> Tuned:
    """Fit prices on settled talks, and tell whether they help.

    Each talk is held out once: prices fitted on the other groups of talks are tried on it. Where the settled decisions
    that the search makes by itself become fewer, or the loss does not fall, the default prices are kept.

    Args:
        talks: at least two.
        default: prices to begin with and to be compared with.
        rounds: over the talks.
        told: one sentence before each step.
    """
    groups = [list(talks[start :: min(FOLDS, len(talks))]) for start in range(min(FOLDS, len(talks)))]
    before, after = [], []
    for number, group in enumerate(groups, start=1):
        if told is not None:
            names = ", ".join(talk.name for talk in group)
            told(f"fitting without {names} ({number} of {len(groups)})")
        rest = [talk for talk in talks if talk not in group]
        fitted = Prices(fit(rest, default.table, rounds), default.sharpness)
        before += [_try(talk, default) for talk in group]
        after += [_try(talk, fitted) for talk in group]
    old, new = _together(before), _together(after)
    helps = new.right >= old.right and new.loss < old.loss * (1.0 - _LEAST_GAIN)
    prices = default
    if helps:
        if told is not None:
            told(f"fitting on all {len(talks)} talks")
        prices = Prices(fit(talks, default.table, rounds), default.sharpness)
    return Tuned(old, new, helps, prices)


def _try(talk: SettledTalk, prices: Prices) -> tuple[float, int, int, int]:
    found = talk.slope(prices)
    right, settled = talk.right(prices)
    return found.loss, found.windows, right, settled


def _together(rows: Sequence[tuple[float, int, int, int]]) -> HeldOut:
    loss, windows, right, settled = (sum(row[place] for row in rows) for place in range(4))
    return HeldOut(len(rows), loss / max(windows, 1), int(right), int(settled))

"""Sums over all surviving ways of a search: forward, backward, and what they say of prices.

Ways are scored by a log-linear model whose scores are the costs (nats) times a sharpness, negated; sums over them are
those of the forward-backward algorithm (Lafferty et al. 2001). They serve every search whose states keep the arcs that
lead to them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from math import exp, log1p
from typing import Protocol, TypeVar

from aligner.speech.description import Terms


class Arc(Protocol):
    """What leads from one place to the next."""

    @property
    def cost(self) -> float:
        """Nats."""

    @property
    def terms(self) -> Terms:
        """All that it is priced by."""


A_co = TypeVar("A_co", bound=Arc, covariant=True)
A = TypeVar("A", bound=Arc)


class Place(Protocol[A_co]):
    """A state of a search."""

    @property
    def cost(self) -> float:
        """Nats of the cheapest way here."""

    @property
    def arcs(self) -> Sequence[tuple[Place[A_co], A_co]]:
        """The ways here: the place before, and what leads from it."""


def log_sum(values: Sequence[float]) -> float:
    """The logarithm of the sum of what the values are logarithms of."""
    top = max(values)
    if len(values) == 1:
        return top
    return top + log1p(sum([exp(value - top) for value in values]) - 1.0)


def forward(ends: Sequence[Place[A]], sharpness: float = 1.0) -> dict[int, float]:
    """For every place on a way to one of the ends, by its id, the logarithm of the summed weights of all ways to it.

    Places come before those that they lead to.
    """
    return {id(place): value for place, value in _forward(ends, sharpness)}


def _forward(ends: Sequence[Place[A]], sharpness: float) -> list[tuple[Place[A], float]]:
    found: dict[int, float] = {}
    order: list[tuple[Place[A], float]] = []
    stack = list(reversed(ends))
    while stack:
        place = stack[-1]
        if id(place) in found:
            stack.pop()
            continue
        missing = [before for before, _ in place.arcs if id(before) not in found]
        if missing:
            stack += missing
            continue
        stack.pop()
        values = [found[id(before)] - arc.cost * sharpness for before, arc in place.arcs]
        value = found[id(place)] = log_sum(values) if values else -place.cost * sharpness
        order.append((place, value))
    return order


def weights(ends: Sequence[Place[A]], sharpness: float = 1.0) -> list[tuple[Place[A], Place[A], A, float]]:
    """Every surviving arc: (place before, place after, arc, probability)."""
    order = _forward(ends, sharpness)
    ahead = {id(place): value for place, value in order}
    total = log_sum([ahead[id(end)] for end in ends])
    backward: dict[int, float] = {id(end): 0.0 for end in ends}
    found = []
    for place, _ in reversed(order):
        behind = backward.get(id(place))
        if behind is None:
            continue
        for before, arc in place.arcs:
            through = behind - arc.cost * sharpness
            old = backward.get(id(before))
            backward[id(before)] = through if old is None else log_sum([old, through])
            found.append((before, place, arc, exp(min(ahead[id(before)] + through - total, 0.0))))
    return found


def contrast(true: Sequence[Place[A]], free: Sequence[Place[A]]) -> tuple[dict[str, float], float]:
    """By term, how often it is seen on true ways less on all ways; and the nats by which the true ones fall short.

    Args:
        true: how a search along the truth ended.
        free: how a free one from the same place ended; where it lost the true ways, these count as rivals beside it.
    """
    seen_true, sum_true = _expected(true)
    seen_free, sum_free = _expected(free)
    sum_all = log_sum([sum_true, sum_free]) if sum_true > sum_free else sum_free
    share = exp(sum_free - sum_all)
    slope = {name: amount * share for name, amount in seen_true.items()}
    for name, amount in seen_free.items():
        slope[name] = slope.get(name, 0.0) - amount * share
    return slope, max(sum_all - sum_true, 0.0)


def _expected(ends: Sequence[Place[A]]) -> tuple[dict[str, float], float]:
    """Expected amounts of terms over the surviving ways, and the logarithm of the ways' summed weights."""
    sums: dict[str, float] = defaultdict(float)
    for _, _, arc, share in weights(ends):
        for name, amount in arc.terms:
            sums[name] += share * amount
    ahead = forward(ends)
    return sums, log_sum([ahead[id(end)] for end in ends])

"""The lowest costs of hypotheses, of which a beam keeps only so many."""

from __future__ import annotations

from bisect import insort
from math import inf


class Lowest:
    """The lowest costs, as many as are kept.

    Args:
        most: hypotheses that are kept.
    """

    __slots__ = ("_costs", "_most")

    def __init__(self, most: int) -> None:
        self._most = most
        self._costs: list[float] = []

    def nth(self, number: int) -> float:
        """The so-manyth lowest cost in nats, 1 for the lowest of all; infinite where there are not so many."""
        costs = self._costs
        return costs[number - 1] if len(costs) >= number else inf

    def limit(self) -> float:
        """The cost in nats above which no further hypothesis is kept."""
        return self.nth(self._most)

    def count(self, cost: float, instead: float | None = None) -> None:
        """Take in the cost of a hypothesis; `instead` of the one that it had before."""
        costs = self._costs
        if instead is not None and instead <= costs[-1]:
            costs.remove(instead)
        insort(costs, cost)
        del costs[self._most :]

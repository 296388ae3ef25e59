"""The lowest costs of hypotheses that agree on something, of which a beam keeps only so many."""

from __future__ import annotations

from bisect import insort
from math import inf


class Lowest:
    """For each thing that hypotheses agree on the lowest of their costs, as many as are kept.

    Args:
        most: hypotheses that are kept of those that agree.
    """

    __slots__ = ("_costs", "_most")

    def __init__(self, most: int) -> None:
        self._most = most
        self._costs: dict[int, list[float]] = {}

    def limit(self, agreed: int) -> float:
        """The cost in nats above which no further hypothesis is kept."""
        costs = self._costs.get(agreed)
        return costs[-1] if costs is not None and len(costs) == self._most else inf

    def count(self, agreed: int, cost: float, instead: float | None = None) -> None:
        """Take in the cost of a hypothesis; `instead` of the one that it had before."""
        costs = self._costs.get(agreed)
        if costs is None:
            costs = self._costs[agreed] = []
        elif instead is not None and instead <= costs[-1]:
            costs.remove(instead)
        insort(costs, cost)
        del costs[self._most :]

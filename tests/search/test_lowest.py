"""The lowest costs of what agrees, against sorting them all."""

from __future__ import annotations

from math import inf

from hypothesis import given
from hypothesis import strategies as st

from aligner.search.lowest import Lowest


@given(st.lists(st.tuples(st.integers(0, 2), st.integers(0, 9), st.booleans()), max_size=40), st.integers(1, 4))
def test_the_limit_is_the_last_of_the_lowest(counted: list[tuple[int, int, bool]], most: int) -> None:
    lowest, costs = Lowest(most), dict[int, list[float]]()
    for agreed, cost, instead in counted:
        ones = costs.setdefault(agreed, [])
        before = next((other for other in ones if other > cost), None) if instead else None
        if before is not None:
            ones.remove(before)
        lowest.count(agreed, cost, before)
        ones.append(cost)
        # of what was dropped before a lower cost came instead of another nothing is known any more
        assert lowest.limit(agreed) >= (sorted(ones)[most - 1] if len(ones) >= most else inf)

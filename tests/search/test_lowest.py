"""What the beams know of how dear a hypothesis may be, checked by brute force."""

from __future__ import annotations

from math import inf

from hypothesis import given
from hypothesis import strategies as st

from aligner.search.lowest import Lowest


@given(st.lists(st.tuples(st.integers(0, 4), st.floats(-5, 20)), max_size=40), st.integers(1, 4), st.integers(1, 5))
def test_what_is_known_of_the_lowest_costs(reached: list[tuple[int, float]], most: int, number: int) -> None:
    """Hypotheses by number, which only ever get cheaper."""
    lowest, costs = Lowest(most), dict[int, float]()
    for hypothesis, cost in reached:
        before = costs.get(hypothesis)
        if before is None or cost < before:
            lowest.count(cost, before)
            costs[hypothesis] = cost
        ordered = sorted(costs.values())[:most]
        # of one that was dropped with the same cost as the last that is kept nothing is known any more
        assert lowest.limit() >= (ordered[-1] if len(ordered) == most else inf)
        assert lowest.nth(number) >= (ordered[number - 1] if len(ordered) >= number else inf)
        if len({*costs.values()} | {old for _, old in reached}) == len(costs):
            assert lowest.limit() == (ordered[-1] if len(ordered) == most else inf)

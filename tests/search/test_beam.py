"""The beam's sums over all ways through, against the sum written out way by way."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise
from math import exp, inf, log

import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aligner.search.beam import Frontier, best_path
from aligner.search.breadth import Breadth
from aligner.search.lattice import weights
from aligner.search.lines import Lines
from aligner.search.state import Decision, State

ROOT = Lines(chess.Board(), ()).root


def decision(cost: float) -> Decision:
    return Decision("none", "none", None, (), None, (), (), cost)


Way = list[tuple[State, Decision, State]]


@st.composite
def graphs(draw: st.DrawFn) -> list[list[State]]:
    """Layers of states, each reached from some of the layers before; costs of any sign."""
    cost = st.floats(-5, 12, allow_nan=False)
    layers = [[State(ROOT, ROOT, None, (), draw(cost)) for _ in range(draw(st.integers(1, 2)))]]
    for _ in range(draw(st.integers(0, 4))):
        earlier = [state for layer in layers[-2:] for state in layer]
        layer = []
        for _ in range(draw(st.integers(1, 3))):
            state = State(ROOT, ROOT, None, (), 0.0)
            for before in draw(st.lists(st.sampled_from(earlier), min_size=1, max_size=4)):
                state.arcs.append((before, decision(draw(cost))))
            state.arcs.sort(key=lambda arc: arc[0].cost + arc[1].cost)
            state.cost = state.arcs[0][0].cost + state.arcs[0][1].cost
            layer.append(state)
        layers.append(layer)
    return layers


def ways(end: State) -> list[Way]:
    """Every way to a state, written out."""
    if not end.arcs:
        return [[]]
    return [[*way, (before, made, end)] for before, made in end.arcs for way in ways(before)]


def cost_of(way: Way, end: State) -> float:
    first = way[0][0] if way else end
    return first.cost + sum(made.cost for _, made, _ in way)


@settings(max_examples=150, deadline=None)
@given(graphs(), st.sampled_from([0.3, 1.0, 2.5]))
def test_weights_are_the_sums_over_all_ways(layers: list[list[State]], sharpness: float) -> None:
    """Brute force; forward-backward as in Rabiner 1989 and Lafferty et al. 2001 must give the same."""
    ends = layers[-1]
    every = [(way, cost_of(way, end)) for end in ends for way in ways(end)]
    total = sum(exp(-sharpness * cost) for _, cost in every)
    expected: dict[tuple[int, int], float] = defaultdict(float)
    for way, cost in every:
        for _, made, after in way:
            expected[id(after), id(made)] += exp(-sharpness * cost) / total
    found = {(id(after), id(made)): share for _, after, made, share in weights(ends, sharpness)}
    assert found.keys() == expected.keys()
    assert all(found[key] == pytest.approx(share, rel=1e-9, abs=1e-12) for key, share in expected.items())


@settings(max_examples=60, deadline=None)
@given(graphs())
def test_the_best_path_is_the_cheapest_way(layers: list[list[State]]) -> None:
    for end in layers[-1]:
        path = best_path(end)
        assert path == [(before, made) for before, made, _ in min(ways(end), key=lambda way: cost_of(way, end))] or (
            (path[0][0].cost if path else end.cost) + sum(made.cost for _, made in path)
            == pytest.approx(min(cost_of(way, end) for way in ways(end)))
        )


def test_great_costs_do_not_overflow() -> None:
    state = State(ROOT, ROOT, None, (), 0.0)
    for _ in range(3000):
        after = State(ROOT, ROOT, None, (), state.cost + 50.0)
        after.arcs = [(state, decision(50.0)), (state, decision(50.0 + log(3.0)))]
        state = after
    found = weights([state])
    assert len(found) == 6000
    assert sorted({round(share, 6) for *_, share in found}) == [0.25, 0.75]


def test_a_lone_state_has_no_decisions() -> None:
    state = State(ROOT, ROOT, None, (), 4.0)
    assert weights([state]) == []
    assert best_path(state) == []


def test_a_node_is_one_path_and_follows_those_before_it() -> None:
    lines = Lines(chess.Board(), ("e2e4", "e7e5"))
    after = lines.after(lines.score[1], chess.Move.from_uci("c7c5"))
    assert lines.after(lines.score[1], chess.Move.from_uci("c7c5")) is after
    assert lines.after(lines.score[1], chess.Move.from_uci("e7e5")) is lines.score[2]
    assert (after.ply, after.score_ply, after.fork) == (2, -1, lines.score[1])
    assert after.follows(lines.score[1]) and after.follows(after) and not after.follows(lines.score[2])
    assert [move.uci() for move in after.line()] == ["e2e4", "c7c5"]
    assert all(one.parent is other for one, other in pairwise([after, *after.ancestors()]))


@given(
    st.lists(st.tuples(st.integers(0, 5), st.floats(-5, 12, allow_nan=False)), min_size=1, max_size=30),
    st.tuples(st.integers(1, 6), st.floats(0, 8), st.integers(1, 4), st.floats(0, 6)).map(
        lambda drawn: Breadth(drawn[0], drawn[1], drawn[2], drawn[1] + drawn[3])
    ),
)
def test_a_frontier_keeps_those_near_the_best_and_a_few_beside(
    reached: list[tuple[int, float]], breadth: Breadth
) -> None:
    """Brute force; and what is dearer than it says would not be kept."""
    lines = Lines(chess.Board(), ())
    places = [lines.after(ROOT, move) for move in list(chess.Board().legal_moves)[:7]]
    frontier, cheapest = Frontier(breadth), dict[int, float]()

    def reach(place: int, cost: float) -> None:
        frontier.reach((decision(cost), (places[place], ROOT, None)), State(ROOT, ROOT, None, (), 0.0))

    for place, cost in reached:
        reach(place, cost)
        cheapest[place] = min(cost, cheapest.get(place, inf))
    costs = sorted(cheapest.values())[: breadth.most]
    within = [breadth.depth] * breadth.few + [breadth.near] * len(costs)
    kept = [cost for cost, nats in zip(costs, within, strict=False) if cost <= costs[0] + nats]
    assert [state.cost for state in frontier.kept()] == kept
    reach(6, frontier.dearest + 0.01)
    assert [state.cost for state in frontier.kept()] == kept

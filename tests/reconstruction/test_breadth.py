"""Which hypotheses are kept at a stretch; moves by python-chess, the rest by what the limits say."""

from __future__ import annotations

from dataclasses import replace

import chess

from aligner.reconstruction.breadth import Alike, Breadth, pruned
from aligner.reconstruction.hypothesis import Hypothesis
from aligner.search.lines import LineNode, Lines

NARROW = Breadth(9, 5.0, (Alike(0, 2), Alike(2, 4)), 9)


def heads(*games: str) -> list[LineNode]:
    """The last positions of games, told by their moves."""
    lines, ends = Lines(chess.Board(), ()), []
    for game in games:
        node = lines.root
        for san in game.split():
            node = lines.after(node, node.board.parse_san(san))
        ends.append(node)
    return ends


def kept_of(hypotheses: list[Hypothesis], breadth: Breadth) -> list[Hypothesis]:
    return pruned([(one.cost, one) for one in hypotheses], breadth)


def at_costs(nodes: list[LineNode], *costs: float) -> list[Hypothesis]:
    return [Hypothesis(node, None, None, cost) for node, cost in zip(nodes, costs, strict=True)]


def test_the_cheapest_come_first_and_the_dear_are_dropped() -> None:
    one, two, three = at_costs(heads("e4", "d4", "c4"), 3.0, 1.0, 6.5)
    assert kept_of([one, two, three], NARROW) == [two, one]


def test_of_one_course_only_so_many_are_kept() -> None:
    ends = heads(
        *(f"{pawn}4 {pawn}5 {more}" for pawn in "edc" for more in ("a3 a6", "a3 h6", "h3 a6", "h3 h6", "b3 b6"))
    )
    kept = kept_of(at_costs(ends, *(0.1 * place for place in range(15))), replace(NARROW, width=99))
    of = [sum(one.head.follows(first) for one in kept) for first in heads_of_the_same(ends)]
    assert of == [4, 4, 4]


def heads_of_the_same(ends: list[LineNode]) -> list[LineNode]:
    """The positions two plies before, each once, in their order."""
    found: list[LineNode] = []
    for end in ends:
        assert end.parent is not None and end.parent.parent is not None
        if end.parent.parent not in found:
            found.append(end.parent.parent)
    return found


def test_of_hypotheses_that_stand_in_the_same_positions_one_is_kept() -> None:
    """By another order of moves; FIDE Laws of Chess, 9.2: the same position has the same moves."""
    one, other = at_costs(heads("Nf3 Nf6 Nc3", "Nc3 Nf6 Nf3"), 1.0, 0.5)
    assert kept_of([one, other], NARROW) == [other]

"""Which hypotheses are kept at a stretch; moves by python-chess, the rest by what the limits say."""

from __future__ import annotations

from dataclasses import replace

import chess

from aligner.reconstruction.breadth import QUICK, SPREAD, Alike, Breadth, pruned
from aligner.reconstruction.hypothesis import Hypothesis
from aligner.search.lines import LineNode, Lines

NARROW = Breadth(9, 5.0, (Alike(0, 2, 1), Alike(2, 4, 1)), None, 9, 1, 8.0, 2)


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
    assert kept_of([one, two, three], replace(NARROW, scouts=0)) == [two, one]


def test_a_scout_of_another_course_may_lag_further_behind() -> None:
    near, like_near, far, farther, too_far = at_costs(
        heads("e4 e5 Nf3 Nc6", "e4 e5 Nf3 Nf6", "d4 d5 c4 e6", "d4 d5 c4 c6", "c4 c5 Nc3 Nc6"), 0.0, 6.0, 6.0, 6.5, 8.5
    )
    assert kept_of([near, like_near, far, farther, too_far], NARROW) == [near, far], (
        "1.e4 e5 has one within the depth already, 1.d4 d5 its one scout, and 1.c4 c5 is out of reach"
    )


def test_each_further_course_has_half_as_many_but_never_less_than_the_least() -> None:
    ends = heads(
        *(f"{pawn}4 {pawn}5 {more}" for pawn in "edc" for more in ("a3 a6", "a3 h6", "h3 a6", "h3 h6", "b3 b6"))
    )
    kept = kept_of(at_costs(ends, *(0.1 * place for place in range(15))), replace(NARROW, width=99))
    of = [sum(one.head.follows(first) for one in kept) for first in heads_of_the_same(ends)]
    assert of == [4, 2, 1]


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


def test_doubts_about_the_last_plies_and_about_those_before_them_are_not_kept_in_all_combinations() -> None:
    before, last = ("a3 a6", "b3 b6", "c3 c6"), ("Nf3 Nf6 e3 e6", "Nf3 Nf6 e4 e6", "Nf3 Nf6 e3 e5")
    pairs = [(one, other) for one in range(3) for other in range(3)]
    ends = heads(*(f"{before[one]} {last[other]}" for one, other in pairs))
    hypotheses = at_costs(ends, *(one + 1.1 * other for one, other in pairs))
    wide = replace(NARROW, width=99, alike=(Alike(0, 99, 99),), cross=3)
    kept = kept_of(hypotheses, wide)
    assert {pairs[hypotheses.index(one)] for one in kept} == {(0, 0), (0, 1), (0, 2), (1, 0), (2, 0)}
    assert len(kept_of(hypotheses, replace(wide, cross=None))) == 9


def test_the_quick_search_lets_every_course_have_as_much_as_the_best() -> None:
    assert QUICK.scouts == 0 and QUICK.reach == QUICK.depth
    assert all(alike.most == alike.least for alike in QUICK.alike)
    assert all(alike.most > alike.least for alike in SPREAD.alike) and SPREAD.reach > SPREAD.depth

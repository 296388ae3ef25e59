"""Which hypotheses are gone on with at a stretch: the cheapest, but not all of one course of the game.

Which course was right often shows long after. A sideline of ten moves that is told in many ways would by then have
crowded out that it was one; so courses, that is the games up to some plies before their ends, share the room.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from operator import itemgetter
from typing import NamedTuple

from aligner.reconstruction.hypothesis import Hypothesis
from aligner.search.lines import LineNode

PLAIN, SLIPS, GAPS, AMENDS = range(4)
"""How far to think: of what fits now; of misnamed moves; of unspoken plies; of other plies than those told so far."""


class Alike(NamedTuple):
    """How many hypotheses of one course of the game are kept, which agree on it up to some plies before its end.

    Attributes:
        plies: before the game's end.
        most: hypotheses of one course.
    """

    plies: int
    most: int


@dataclass(frozen=True, slots=True)
class Breadth:
    """How many hypotheses are kept at a stretch.

    Attributes:
        width: at most.
        depth: nats behind the best at which one is dropped.
        alike: limits for those that agree on the game, so that another course of it stays alive until the talk
            decides between them; the last one looks farthest back.
        on_one_place: those that have the same position under discussion; they differ in how much of its line is the
            game.
        efforts: how far is thought, for so many of the hypotheses, the best first.
        within: narrower beams that are followed within this one, to see whether they would have found the same.
        asides: whether sidelines are told.
    """

    width: int
    depth: float
    alike: tuple[Alike, ...]
    on_one_place: int
    efforts: tuple[tuple[int, int], ...] = ((AMENDS, 2), (GAPS, 12))
    within: tuple[Breadth, ...] = ()
    asides: bool = True

    @property
    def of_one_head(self) -> int:
        """Hypotheses that may agree on all of the game so far."""
        return min((limit.most for limit in self.alike if limit.plies == 0), default=self.width)


NARROW = Breadth(
    40, 5.0, (Alike(0, 3), Alike(4, 16), Alike(10, 30)), 4, efforts=((AMENDS, 1), (GAPS, 6), (SLIPS, 12)),
    within=(
        Breadth(24, 6.0, (Alike(0, 3), Alike(4, 9), Alike(10, 18)), 4),
        Breadth(16, 6.0, (Alike(0, 3), Alike(4, 6), Alike(10, 12)), 4),
    ),
)  # fmt: skip
"""A first look; where it finds the same in both ways to value moves, and narrower beams within it do not lose that, a
talk is so clear that broader ones find it too. Those within reach deeper, so that it is their number that limits them:
by the same depth all would find the same."""
FULL = Breadth(960, 6.0, (Alike(0, 4), Alike(4, 192), Alike(10, 576)), 6)
"""Keeps all that is near the best: where doubts that have nothing to do with each other come together, hundreds."""
DEEP = Breadth(480, 9.0, (Alike(0, 4), Alike(4, 96), Alike(10, 288)), 6)
"""Follows those that lag farther, too: the true course may for as long as a sideline can be taken for the game."""
DICTATED = replace(FULL, asides=False)
"""Hears nothing but the game's own moves."""


def pruned(hypotheses: Iterable[tuple[float, Hypothesis]], breadth: Breadth) -> list[Hypothesis]:
    """The hypotheses that are kept of those at a stretch, best first.

    Args:
        hypotheses: each with what it costs, in nats.
        breadth: how many are kept.
    """
    ordered = sorted(hypotheses, key=_cost)
    if not ordered:
        return []
    limit = ordered[0][0] + breadth.depth
    courses: list[dict[int, int]] = [{} for _ in breadth.alike]  # how many of each are kept
    there: dict[int, int] = {}
    kept: list[Hypothesis] = []
    told: set[tuple[int, int]] = set()  # positions of the game and the sideline that are kept already
    for cost, one in ordered:
        if cost > limit or len(kept) == breadth.width:
            break
        place = one.cursor.number
        if there.get(place, 0) >= breadth.on_one_place:
            continue
        own = _courses(one.head, breadth.alike)
        if any(of.get(course, 0) >= alike.most for of, course, alike in zip(courses, own, breadth.alike, strict=True)):
            continue
        positions = one.head.place, -1 if one.side is None else one.side.place
        if positions in told:
            continue
        kept.append(one)
        for of, course in zip(courses, own, strict=True):
            of[course] = of.get(course, 0) + 1
        there[place] = there.get(place, 0) + 1
        told.add(positions)
    return kept


_cost = itemgetter(0)


def _courses(head: LineNode, alike: tuple[Alike, ...]) -> list[int]:
    """The courses that a game belongs to, one for each limit, by the numbers of their last positions."""
    node, own, back = head, [], 0
    for limit in alike:
        while back < limit.plies and node.parent is not None:
            node, back = node.parent, back + 1
        own.append(node.number)
    return own

"""Which hypotheses are gone on with at a stretch: the cheapest, but not all of one course of the game.

Which course was right often shows long after. A sideline of ten moves that is told in many ways would by then have
crowded out that it was one; so courses, that is the games up to some plies before their ends, share the room. And
doubts about the last plies and about those before them have nothing to do with each other, but would be kept in all
their combinations; of these a search may keep a hyperbolic cross: the second best in both, not the tenth best in both.
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
_LAST = 4
"""The last plies, about which doubts are taken to have nothing to do with those about the plies before them."""


class Alike(NamedTuple):
    """How many hypotheses of one course of the game are kept, which agree on it up to some plies before its end.

    Attributes:
        plies: before the game's end.
        most: hypotheses of the best course; of each further one half as many as of the one before it.
        least: hypotheses that any course may have.
    """

    plies: int
    most: int
    least: int


@dataclass(frozen=True, slots=True)
class Breadth:
    """How many hypotheses are kept at a stretch.

    Attributes:
        width: at most.
        depth: nats behind the best at which one is dropped.
        alike: limits for those that agree on the game, so that another course of it stays alive until the talk
            decides between them; the last one looks farthest back.
        cross: at most so large is, for each, its rank among those with the same last plies, times its rank among those
            with the same plies before them; None where all combinations of these are kept.
        on_one_place: those that have the same position under discussion; they differ in how much of its line is the
            game.
        scouts: hypotheses of each course, by the last of `alike`, that may lag more than `depth` behind.
        reach: nats behind the best at which a scout is dropped.
        crowd: once so many times `width` hypotheses have come to a stretch, nothing dearer than these comes there.
        efforts: how far is thought, for so many of the hypotheses, the best first.
        within: narrower beams that are followed within this one, to see whether they would have found the same.
        asides: whether sidelines are told.
    """

    width: int
    depth: float
    alike: tuple[Alike, ...]
    cross: int | None
    on_one_place: int
    scouts: int
    reach: float
    crowd: int
    efforts: tuple[tuple[int, int], ...] = ((AMENDS, 2), (GAPS, 12))
    within: tuple[Breadth, ...] = ()
    asides: bool = True

    @property
    def of_one_head(self) -> int:
        """Hypotheses that may agree on all of the game so far."""
        return min((limit.most for limit in self.alike if limit.plies == 0), default=self.width)


NARROW = Breadth(
    40, 5.0, (Alike(0, 3, 3), Alike(4, 16, 16), Alike(10, 30, 30)), None, 4, 0, 5.0, 2,
    efforts=((AMENDS, 1), (GAPS, 6), (SLIPS, 12)),
    within=(
        Breadth(24, 6.0, (Alike(0, 3, 3), Alike(4, 9, 9), Alike(10, 18, 18)), None, 4, 0, 6.0, 2),
        Breadth(16, 6.0, (Alike(0, 3, 3), Alike(4, 6, 6), Alike(10, 12, 12)), None, 4, 0, 6.0, 2),
    ),
)  # fmt: skip
"""A first look; where it finds the same in both ways to value moves, and narrower beams within it do not lose that, a
talk is so clear that broader ones find it too. Those within reach deeper, so that it is their number that limits them:
by the same depth all would find the same."""
QUICK = Breadth(120, 9.0, (Alike(0, 4, 4), Alike(4, 24, 24), Alike(10, 72, 72)), None, 6, 0, 9.0, 2)
"""Follows the likeliest course of the game closely."""
DICTATED = replace(QUICK, asides=False)
"""Hears nothing but the game's own moves."""
SPREAD = Breadth(110, 8.0, (Alike(0, 3, 2), Alike(4, 16, 4), Alike(10, 40, 8)), 12, 6, 3, 11.0, 4)
"""Follows many courses, each a little: a long sideline makes the true one lag by as much as it is told in many ways."""


def pruned(hypotheses: Iterable[tuple[float, Hypothesis]], breadth: Breadth) -> list[Hypothesis]:
    """The hypotheses that are kept of those at a stretch, best first.

    Args:
        hypotheses: each with what it costs, in nats.
        breadth: how many are kept.
    """
    ordered = sorted(hypotheses, key=_cost)
    if not ordered:
        return []
    limit, farthest = ordered[0][0] + breadth.depth, ordered[0][0] + breadth.reach
    courses: list[dict[int, _Course]] = [{} for _ in breadth.alike]
    there: dict[int, int] = {}
    crossing = None if breadth.cross is None else _Crossing(breadth.cross)
    kept: list[Hypothesis] = []
    told: set[tuple[int, int]] = set()  # positions of the game and the sideline that are kept already
    for cost, one in ordered:
        if cost > farthest or len(kept) == breadth.width:
            break
        place = one.cursor.number
        if there.get(place, 0) >= breadth.on_one_place:
            continue
        own = _courses(one.head, breadth.alike, courses)
        if any(course.kept == course.most for course in own):
            continue
        if crossing is not None and not crossing.keeps(one):
            continue
        if cost > limit and own[-1].kept >= breadth.scouts:
            continue
        positions = one.head.place, -1 if one.side is None else one.side.place
        if positions in told:
            continue
        kept.append(one)
        for course in own:
            course.kept += 1
        there[place] = there.get(place, 0) + 1
        told.add(positions)
    return kept


_cost = itemgetter(0)


class _Course:
    """How many hypotheses of a course of the game are kept, and how many may be."""

    __slots__ = ("kept", "most")

    def __init__(self, most: int) -> None:
        self.most = most
        self.kept = 0


def _courses(head: LineNode, alike: tuple[Alike, ...], known: list[dict[int, _Course]]) -> list[_Course]:
    """The courses that a game belongs to, one for each limit; a new one is the next best."""
    node, own, back = head, [], 0
    for limit, there in zip(alike, known, strict=True):
        while back < limit.plies and node.parent is not None:
            node, back = node.parent, back + 1
        course = there.get(node.number)
        if course is None:
            course = there[node.number] = _Course(max(limit.most >> len(there), limit.least))
        own.append(course)
    return own


class _Crossing:
    """Ranks of hypotheses, by their last plies and by those before them."""

    __slots__ = ("_before", "_last", "_most")

    def __init__(self, most: int) -> None:
        self._most = most
        self._last: dict[tuple[int, int], int] = {}
        self._before: dict[int, int] = {}

    def keeps(self, one: Hypothesis) -> bool:
        """Whether a hypothesis is of those that are kept, when all that are cheaper were asked about."""
        node, last = one.cursor, 0
        beyond = node.ply - one.head.ply  # plies of it that are a sideline, as far as that can be told by counting
        for _ in range(_LAST):
            if node.parent is None or node.move is None:
                break
            move = node.move
            last = last << 15 | (move.promotion or 0) << 12 | move.from_square << 6 | move.to_square
            node = node.parent
        key = last, beyond
        of_last, of_before = self._last.get(key, 0) + 1, self._before.get(node.number, 0) + 1
        self._last[key], self._before[node.number] = of_last, of_before
        return of_last * of_before <= self._most

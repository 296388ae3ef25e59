"""What a hypothesis about the game is: how far the game has come, and the sideline that is being told, if any."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from aligner.search.lines import LineNode
from aligner.search.state import kind_terms, sign_terms
from aligner.speech.description import Description, Terms
from aligner.speech.listen import Spoken

GROUPS = {
    "game": "game",
    "promote": "promote",
    "retract": "retract",
    "correct": "correct",
    "return": "return",
    "leave": "branch",
    "alternative": "branch",
    "earlier": "branch",
    "leave_back": "branch",
    "line": "line",
    "again": "again",
    "none": "none",
}
"""Kinds of steps, each with the group in which the signs around a phrase are weighed.

retract: the game goes on from an earlier position, what was told since was no part of it. correct: its last move is
named again, rightly. The others mean what they mean in `aligner.search.options`.
"""

Key = tuple[int, int]
"""Numbers of the head and of the sideline's end; -1 where the talk is in the game."""


@dataclass(frozen=True, slots=True)
class Ply:
    """One half-move of a hypothesis' game and where it comes from.

    Attributes:
        before: the ply before; None for the first.
        node: the position it leads to.
        spoken: the phrase that tells it; None where nobody spoke it.
        said: what the phrase says of this move; None where nobody spoke it, or an opening's name told it.
    """

    before: Ply | None
    node: LineNode
    spoken: Spoken | None
    said: Description | None


class Step(NamedTuple):
    """What a phrase is taken for, and where that leads; a tuple, because so many are made.

    Attributes:
        kind: a key of `GROUPS`.
        spoken: the phrase; None where a stretch is passed over.
        head: the furthest position of the game afterwards.
        side: the end of the sideline told afterwards; None in the game.
        added: plies that the game gains, from the one after `base` on, as (node, phrase, what is said of it).
        base: the position of the game that the plies are added to.
        more: what the step takes for granted besides what the phrase is priced by as one of its kind.
        cost: of the whole step, in nats.
    """

    kind: str
    spoken: Spoken | None
    head: LineNode
    side: LineNode | None
    added: tuple[tuple[LineNode, Spoken | None, Description | None], ...]
    base: LineNode | None
    more: Terms
    cost: float

    @property
    def terms(self) -> Terms:
        """All that the step is priced by; prices times amounts sum to the cost."""
        if self.spoken is None:
            return self.more
        own = () if self.kind == "none" else kind_terms(self.spoken, self.kind)
        return (*own, *sign_terms(self.spoken, GROUPS[self.kind]), *self.more)


class Hypothesis:
    """A place in the talk and in the game. Ways that meet in one share what follows.

    Attributes:
        head: the furthest position of the game.
        side: the end of the sideline being told, or None.
        plies: of the game, the last first; of the cheapest way here.
        cost: of the cheapest way here, in nats.
        arcs: ways here, (hypothesis before, step), the cheapest first.
    """

    __slots__ = ("arcs", "cost", "head", "plies", "side")

    def __init__(self, head: LineNode, side: LineNode | None, plies: Ply | None, cost: float) -> None:
        self.head = head
        self.side = side
        self.plies = plies
        self.cost = cost
        self.arcs: list[tuple[Hypothesis, Step]] = []

    @property
    def cursor(self) -> LineNode:
        """The position under discussion."""
        return self.head if self.side is None else self.side

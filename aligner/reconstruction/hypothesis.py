"""What a hypothesis about the game is: how far the game has come, and the sideline that is being told, if any."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from aligner.search.lines import LineNode
from aligner.search.state import kind_terms, sign_terms
from aligner.speech.description import Description, Terms
from aligner.speech.listen import Spoken

GROUPS = {
    "game": "game",
    "promote": "game",
    "retract": "return",
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

promote: what was told as a sideline was the game, and this is its next move. retract: the game goes on from an earlier
position, what was told since was no part of it. correct: its last move is named again, rightly. The others mean what
they mean in `aligner.search.options`.
"""

PRICED_AS = {"promote": "game", "retract": "return"}
"""Kinds of steps that are priced as another kind, and besides for what they turn."""

Key = tuple[int, int]
"""Numbers of the head and of the sideline's end; -1 where the talk is in the game."""


class Telling(NamedTuple):
    """One half-move, and how it was told.

    Attributes:
        node: the position it leads to.
        spoken: the phrase that tells it; None where nobody spoke it.
        said: what the phrase says of this move; None where nobody spoke it, or an opening's name told it.
        kind: what the phrase is taken for: "game" or "return", and in a sideline how it goes on or begins.
        more: in a sideline, what its beginning takes for granted besides; `Turning` takes it back.
    """

    node: LineNode
    spoken: Spoken | None = None
    said: Description | None = None
    kind: str = "game"
    more: Terms = ()

    @property
    def leads(self) -> bool:
        """Whether a phrase tells it with its first words, and not with those after them."""
        return self.spoken is not None and self.said is self.spoken.phrase.moves[0]


class Ply:
    """One half-move of a hypothesis' game, or of the sideline that it tells.

    Attributes:
        before: the ply before; None for the first of the game or of the sideline.
        telling: the half-move.
        node: the position it leads to.
        turned: nats by which all plies so far would be dearer if they were a sideline's and not the game's, the first
            of them as any other; None before it is asked for.
        turned_first: nats by which this ply would be dearer yet as the first of a sideline.
        turned_least: the least of what it adds to `turned` of a later ply that the sideline begins at one so far.
    """

    __slots__ = ("before", "node", "telling", "turned", "turned_first", "turned_least")

    def __init__(self, before: Ply | None, telling: Telling) -> None:
        self.before = before
        self.telling = telling
        self.node = telling.node
        self.turned: float | None = None
        self.turned_first = 0.0
        self.turned_least = 0.0

    @property
    def spoken(self) -> Spoken | None:
        """The phrase that tells it; None where nobody spoke it."""
        return self.telling.spoken

    @property
    def said(self) -> Description | None:
        """What the phrase says of this move."""
        return self.telling.said


class Turn(NamedTuple):
    """A phrase taken for a move of the game instead of a sideline's, or the other way round, after more is known.

    Attributes:
        spoken: the phrase.
        was: the kind of step it was taken for, and what that took for granted besides the phrase's fit.
        now: the same, as it is taken now.
        nats: by how much that is dearer.
    """

    spoken: Spoken
    was: tuple[str, Terms]
    now: tuple[str, Terms]
    nats: float

    @property
    def terms(self) -> Terms:
        """What the turn is priced by; prices times amounts sum to `nats`."""
        was = ((name, -amount) for name, amount in taken_for(self.spoken, *self.was))
        return (*taken_for(self.spoken, *self.now), *was)


class Step(NamedTuple):
    """What a phrase is taken for, and where that leads; a tuple, because so many are made.

    Attributes:
        kind: a key of `GROUPS`.
        spoken: the phrase; None where a stretch is passed over.
        head: the furthest position of the game afterwards.
        side: the end of the sideline told afterwards; None in the game.
        added: plies that the game gains, or where a sideline is told this sideline, from the one after `base` on.
        base: the position that the plies are added to.
        more: what the step takes for granted besides what the phrase is priced by as one of its kind.
        cost: of the whole step, in nats.
        turned: phrases before it that it takes otherwise than they were taken; their nats are part of the cost.
    """

    kind: str
    spoken: Spoken | None
    head: LineNode
    side: LineNode | None
    added: tuple[Telling, ...]
    base: LineNode | None
    more: Terms
    cost: float
    turned: tuple[Turn, ...] = ()

    @property
    def terms(self) -> Terms:
        """All that the step is priced by; prices times amounts sum to the cost."""
        if self.spoken is None:
            return self.more
        turned = (term for turn in self.turned for term in turn.terms)
        return (*taken_for(self.spoken, self.kind, self.more), *turned)


class Hypothesis:
    """A place in the talk and in the game. Ways that meet in one share what follows.

    Attributes:
        head: the furthest position of the game.
        side: the end of the sideline being told, or None.
        plies: of the game, the last first; of the cheapest way here, known once it is clear that this is gone on with.
        line: of the sideline being told, likewise; None in the game.
        cost: of the cheapest way here, in nats.
        narrowly: for each narrower beam that is followed (`Breadth.within`), the cost of the cheapest way that it would
            have come, in nats; infinite where it would not have come here.
        arcs: ways here, (hypothesis before, step), the cheapest first.
    """

    __slots__ = ("arcs", "cost", "head", "line", "narrowly", "plies", "side")

    def __init__(self, head: LineNode, side: LineNode | None, plies: Ply | None, cost: float) -> None:
        self.head = head
        self.side = side
        self.plies = plies
        self.line: Ply | None = None
        self.cost = cost
        self.narrowly: tuple[float, ...] = ()
        self.arcs: list[tuple[Hypothesis, Step]] = []

    @property
    def key(self) -> Key:
        """What hypotheses with the same future have in common."""
        return self.head.number, -1 if self.side is None else self.side.number

    @property
    def cursor(self) -> LineNode:
        """The position under discussion."""
        return self.head if self.side is None else self.side

    @property
    def steps(self) -> Iterator[Step]:
        """Those of the cheapest way here, the last first."""
        one = self
        while one.arcs:
            one, step = one.arcs[0]
            yield step


def taken_for(spoken: Spoken, kind: str, more: Terms) -> Terms:
    """All terms of taking a phrase for a step of a kind that takes more for granted."""
    own = () if kind == "none" else kind_terms(spoken, PRICED_AS.get(kind, kind))
    return (*own, *sign_terms(spoken, GROUPS[kind]), *more)

"""What a hypothesis is: where the talk stands in its tree, and the decisions that led there."""

from __future__ import annotations

from typing import NamedTuple

from aligner.search.lines import LineNode
from aligner.search.matching import Fit
from aligner.speech.description import Terms
from aligner.speech.leanings import Leaning, nats
from aligner.speech.listen import Spoken

Key = tuple[int, int, int]


class Decision(NamedTuple):
    """What a phrase is taken for; a tuple, because so many are made.

    Attributes:
        kind: "game", "return", "open", "leave", "line", "alternative", "earlier", "leave_back", "part_way", "focus",
            "far",
            "promote", "replace", "again" or "none"; see `options`.
        group: the kinds that cues are weighed for together: "game", "return", "line", "branch", "again", "none".
        spoken: the phrase; None where a stretch is passed over.
        nodes: the nodes spoken of, in order; empty for "none".
        fit: how the first move fits what was said; None for "none".
        more: what the decision takes for granted besides.
        passed: nodes of plies that nobody spoke, in order.
        cost: in nats.
    """

    kind: str
    group: str
    spoken: Spoken | None
    nodes: tuple[LineNode, ...]
    fit: Fit | None
    more: Terms
    passed: tuple[LineNode, ...]
    cost: float

    @property
    def slips(self) -> tuple[str, ...]:
        """Kinds of what was said wrongly."""
        return self.fit.slips if self.fit else ()

    @property
    def terms(self) -> Terms:
        """All that the decision is priced by; prices times amounts sum to the cost."""
        found = self.more
        if self.spoken is not None:
            if self.nodes:
                found = (*found, *kind_terms(self.spoken, self.kind))
            found = (*found, *sign_terms(self.spoken, self.group))
        if self.fit is not None:
            found = (*found, *self.fit.terms)
            if self.fit.slips:
                found = (*found, (f"slip_in.{self.group}", 1.0))
        return found


def kind_terms(spoken: Spoken, kind: str) -> Terms:
    """The terms of taking a phrase for a decision of a kind, whatever the move."""
    base: Terms = ((f"kind.{kind}", 1.0), *spoken.phrase.terms)
    return (*base, ("inside", 1.0)) if spoken.inside else base


def sign_terms(spoken: Spoken, group: str) -> Terms:
    """The signs of a phrase, as terms of a group, and how unlikely the words around it make the group."""
    return (*((f"{group}|{sign}", 1.0) for sign in spoken.signs), *leaning_terms(spoken.leaning, group))


def leaning_terms(leaning: Leaning | None, group: str) -> Terms:
    """How unlikely the words around a phrase make a group, in nats; prices tell how far that is to be trusted."""
    if leaning is None:
        return ()
    if group == "none":
        return (("leaning.none", nats(leaning.none)),)
    some = ("leaning.some", nats(-leaning.none))
    if group == "again":
        return (some, ("leaning.again", nats(leaning.again)))
    new = ("leaning.again", nats(-leaning.again))
    if group in ("return", "line"):
        return (some, new, ("leaning.back", nats(leaning.back if group == "return" else -leaning.back)))
    return (some, new, ("leaning.game", nats(-leaning.game if group == "branch" else leaning.game)))


class State:
    """A place in the talk and in the tree. Hypotheses that meet in one state share what follows.

    Attributes:
        cursor: the position under discussion.
        head: the furthest position of the game.
        focus: the move looked back at, or None.
        trail: ends of the sidelines left last, latest first.
        cost: of the cheapest way here, in nats.
        arcs: ways here: (state before, decision), cheapest first once it is complete.
        key: what states with the same future have in common.
    """

    __slots__ = ("arcs", "cost", "cursor", "focus", "head", "key", "trail")

    def __init__(
        self, cursor: LineNode, head: LineNode, focus: LineNode | None, trail: tuple[LineNode, ...], cost: float
    ) -> None:
        self.cursor = cursor
        self.head = head
        self.focus = focus
        self.trail = trail
        self.cost = cost
        self.arcs: list[tuple[State, Decision]] = []
        self.key: Key = (cursor.number, head.number, focus.number if focus is not None else -1)

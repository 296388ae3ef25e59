"""Where a talk may go back to: the positions a sideline may branch from, and the moves that may be spoken of again."""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import chess

from aligner.prices.prices import Prices
from aligner.search.lines import LineNode
from aligner.search.state import State
from aligner.speech.description import Terms

FARTHEST_BACK = 24
"""Plies back along a line at which an alternative is looked for."""
FARTHEST_AGAIN = 12
"""Plies back along a line at which a move is spoken of again."""


@dataclass(frozen=True, slots=True)
class Anchor:
    """A position to branch from.

    Attributes:
        node: the position.
        kind: of the decision.
        not_move: the move that was played there, which is no branch.
        near: whether a vague wording may branch here.
        terms: what going back here takes.
        price: of the terms, in nats.
    """

    node: LineNode
    kind: str
    not_move: chess.Move | None
    near: bool
    terms: Terms
    price: float


@dataclass(frozen=True, slots=True)
class Recall:
    """A move that may be spoken of again.

    Attributes:
        node: the position it leads to.
        near: whether a vague wording may speak of it.
        terms: what looking back at it takes.
        price: of the terms, in nats.
    """

    node: LineNode
    near: bool
    terms: Terms
    price: float


@dataclass(frozen=True, slots=True)
class Places:
    """All that a state may go back to.

    Attributes:
        anchors: by the number of the node to branch from.
        recalls: by the number of the node before the move spoken of again.
        near: nodes that a vague wording may mean, by number.
        middle: the other nodes, without those only far back in the game.
        far: nodes far back in the game.
    """

    anchors: dict[int, Anchor]
    recalls: dict[int, list[Recall]]
    near: dict[int, LineNode]
    middle: dict[int, LineNode]
    far: dict[int, LineNode]


def places(state: State, prices: Prices, known: bool) -> Places:
    """Where a state may go back to; depends on its cursor, head, focus and trail only."""
    anchors = _anchors(state, prices)
    recalls = _recalls(state, prices, known)
    near: dict[int, LineNode] = {}
    middle: dict[int, LineNode] = {}
    far: dict[int, LineNode] = {}
    for number, row in recalls.items():
        parent = row[0].node.parent
        assert parent is not None
        (near if any(recall.near for recall in row) else middle)[number] = parent
    for number, anchor in anchors.items():
        group = near if anchor.near else far if anchor.kind == "far" else middle
        group[number] = anchor.node
    return Places(anchors, recalls, near, middle, far)


def _anchors(state: State, prices: Prices) -> dict[int, Anchor]:
    cursor, head = state.cursor, state.head
    found: dict[int, Anchor] = {}

    def put(node: LineNode, kind: str, child: LineNode | None, near: bool, terms: Terms) -> None:
        if node.number not in found and node is not cursor:
            move = child.move if child is not None and child.parent is node else None
            found[node.number] = Anchor(node, kind, move, near, terms, prices.cost(terms))

    child = cursor
    for steps, node in enumerate(cursor.ancestors(), 1):
        if steps > FARTHEST_BACK or (head.ply - node.ply > 12 and node.ply < cursor.fork.ply):
            break
        terms: Terms = () if steps == 1 else (("earlier_steps", log(steps)),)
        if steps > 1 and cursor is not head and node.ply == cursor.fork.ply:
            terms = (*terms, ("earlier_root", 1.0))
        if cursor is head:
            terms = (*terms, ("from_game", 1.0))
        put(node, "alternative" if steps == 1 else "earlier", child, steps <= 2, terms)
        child = node
    if cursor is not head:
        back: LineNode | None = head
        last: LineNode | None = None
        for steps in range(3):
            if back is None:
                break
            put(back, "leave_back", last, True, (("leave_back_steps", float(steps)),))
            last, back = back, back.parent
    if state.focus is not None and state.focus.parent is not None:
        put(state.focus.parent, "focus", state.focus, False, ())
        put(state.focus, "focus", None, False, ())
    far, last = head.parent, head
    while far is not None:
        put(far, "far", last, False, (("far_steps", log(1 + head.ply - far.ply)),))
        last, far = far, far.parent
    for end in state.trail[:2]:
        left: LineNode | None = end
        last, steps = None, 0
        while left is not None and steps < FARTHEST_BACK and left is not left.fork:
            put(left, "part_way", last, False, (("part_way_steps", log(1 + steps)),))
            last, left, steps = left, left.parent, steps + 1
    return found


def _recalls(state: State, prices: Prices, known: bool) -> dict[int, list[Recall]]:
    cursor, head = state.cursor, state.head
    found: dict[int, list[Recall]] = {}
    seen: set[int] = set()

    def put(node: LineNode, near: bool, terms: Terms) -> None:
        if node.parent is not None and node.number not in seen:
            seen.add(node.number)
            found.setdefault(node.parent.number, []).append(Recall(node, near, terms, prices.cost(terms)))

    node: LineNode | None = cursor
    steps = 0
    while node is not None and node.parent is not None and steps < FARTHEST_AGAIN:
        if known and node.score_ply >= 0 and steps > 0:
            break  # the score's own moves are looked up by ply
        put(
            node,
            steps == 0,
            (("again_last", 1.0),) if steps == 0 else (("again_line", 1.0), ("again_steps", log(steps))),
        )
        node, steps = node.parent, steps + 1
    game: LineNode | None = None if known else head
    while game is not None and game.parent is not None:
        if state.focus is not None and game.parent is state.focus:
            put(game, False, (("again_next", 1.0),))
        put(game, False, (("again_game", 1.0), ("again_far", log(1 + head.ply - game.ply))))
        game = game.parent
    for end in state.trail[:1]:
        node, steps = end, 0
        while node is not None and node.parent is not None and node.score_ply < 0 and steps < FARTHEST_AGAIN:
            put(node, False, (("again_trail", 1.0),))
            node, steps = node.parent, steps + 1
    return found

"""Where a talk may go back to: the positions a sideline may branch from, and the moves that may be spoken of again.

The places of a state are those around its cursor, around the move looked back at, along the game and along the
sidelines left last. Each of these lists depends on one or two nodes only, so states share them.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import log
from typing import NamedTuple

import chess

from aligner.prices.prices import Prices
from aligner.search.lines import LineNode
from aligner.search.matching import Fit, PricedFit
from aligner.search.state import State
from aligner.speech.description import Terms

FARTHEST_BACK = 24
"""Plies back along a line at which an alternative is looked for."""
FARTHEST_AGAIN = 12
"""Plies back along a line at which a move is spoken of again."""
FARTHEST_IN_GAME = 240
"""Plies back along the game at which anything is looked for: hardly a game has more, and time stays linear."""

_MOST_LAYERS = 4096
"""Layers kept; a talk comes back to those of the last minutes only."""


class Anchor(NamedTuple):
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


class Recall(NamedTuple):
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


class Look(NamedTuple):
    """Where a phrase fits in a layer.

    Attributes:
        budget: nats as far as which it was looked for.
        anchors: positions to branch from where it fits, each with its fits.
        recalls: moves it may speak of again, each with its fit and the cost of that.
    """

    budget: float
    anchors: list[tuple[Anchor, list[PricedFit]]]
    recalls: list[tuple[Recall, Fit, float]]


class Layer:
    """Some of what a state may go back to, each list by rising price, so that a look at it may end early.

    Attributes:
        anchors: positions to branch from, by kind.
        recalls: moves that may be spoken of again.
        branched: numbers of the nodes of the anchors.
        recalled: numbers of the nodes of the recalls.
        looks: by the number of the phrase; states that share the layer ask for the same ones.
    """

    __slots__ = ("anchors", "branched", "looks", "recalled", "recalls")

    def __init__(self) -> None:
        self.anchors: dict[str, list[Anchor]] = {}
        self.recalls: list[Recall] = []
        self.branched: set[int] = set()
        self.recalled: set[int] = set()
        self.looks: dict[int, Look] = {}


Places = tuple[Layer, ...]
"""All that a state may go back to, but for branches far back in the game; a node counts in its first layer only."""


class PlaceFinder:
    """Finds the places of states.

    Args:
        prices: of the mode.
        known: whether there is a score, whose moves are looked up by ply and not here.
    """

    def __init__(self, prices: Prices, known: bool) -> None:
        self._prices = prices
        self._known = known
        self._layers: dict[tuple[str, int, int], Layer] = {}
        self._earlier: dict[tuple[int, bool, bool], tuple[Terms, float]] = {}

    def places(self, state: State) -> Places:
        """Where a state may go back to; depends on its cursor, head, focus and trail only."""
        cursor, head, focus = state.cursor, state.head, state.focus
        layers = [self._layer("cursor", cursor, head)]
        if focus is not None:
            layers.append(self._layer("focus", focus, head))
        if not self._known:
            layers.append(self._layer("game", head, head))
        for place, end in enumerate(state.trail[:2]):
            layers.append(self._layer("last" if place == 0 else "before", end, end))
        return tuple(layers)

    def _layer(self, what: str, node: LineNode, head: LineNode) -> Layer:
        key = (what, node.number, head.number)
        layer = self._layers.get(key)
        if layer is None:
            if len(self._layers) >= _MOST_LAYERS:
                self._layers.clear()
            layer = self._layers[key] = Layer()
            if what == "cursor":
                self._around(layer, node, head)
            elif what == "focus":
                self._focus(layer, node, head)
            elif what == "game":
                self._game(layer, head)
            else:
                self._left(layer, node, what == "last")
            for row in layer.anchors.values():
                row.sort(key=_price)
            layer.recalls.sort(key=_price)
        return layer

    def _branch(
        self, layer: Layer, node: LineNode, kind: str, child: LineNode | None, near: bool, terms: Terms,
        price: float | None = None,
    ) -> None:  # fmt: skip
        if node.number not in layer.branched:
            move = child.move if child is not None and child.parent is node else None
            anchor = Anchor(node, kind, move, near, terms, self._prices.cost(terms) if price is None else price)
            layer.anchors.setdefault(kind, []).append(anchor)
            layer.branched.add(node.number)

    def _recall(self, layer: Layer, node: LineNode, near: bool, terms: Terms) -> None:
        if node.parent is not None:
            layer.recalls.append(Recall(node, near, terms, self._prices.cost(terms)))
            layer.recalled.add(node.number)

    def _around(self, layer: Layer, cursor: LineNode, head: LineNode) -> None:
        """Back along the line under discussion, and where a sideline may leave the game."""
        in_game = cursor is head
        child = cursor
        for steps, node in enumerate(cursor.ancestors(), 1):
            if steps > FARTHEST_BACK or (head.ply - node.ply > 12 and node.ply < cursor.fork.ply):
                break
            at_root = steps > 1 and not in_game and node.ply == cursor.fork.ply
            terms, price = self._back(steps, at_root, in_game)
            self._branch(layer, node, "alternative" if steps == 1 else "earlier", child, steps <= 2, terms, price)
            child = node
        if not in_game:
            back: LineNode | None = head
            last: LineNode | None = None
            for steps in range(3):
                if back is None:
                    break
                if back is not cursor:
                    self._branch(layer, back, "leave_back", last, True, (("leave_back_steps", float(steps)),))
                last, back = back, back.parent
        spoken: LineNode | None = cursor
        for steps in range(FARTHEST_AGAIN):
            if spoken is None or (self._known and spoken.score_ply >= 0 and steps > 0):
                break
            terms = (("again_line", 1.0), ("again_steps", log(steps))) if steps else (("again_last", 1.0),)
            self._recall(layer, spoken, steps == 0, terms)
            spoken = spoken.parent

    def _back(self, steps: int, at_root: bool, in_game: bool) -> tuple[Terms, float]:
        """What going back along the line under discussion takes, and its price: few cases, often asked for."""
        known = self._earlier.get((steps, at_root, in_game))
        if known is None:
            terms: Terms = () if steps == 1 else (("earlier_steps", log(steps)),)
            if at_root:
                terms = (*terms, ("earlier_root", 1.0))
            if in_game:
                terms = (*terms, ("from_game", 1.0))
            known = self._earlier[steps, at_root, in_game] = (terms, self._prices.cost(terms))
        return known

    def _focus(self, layer: Layer, focus: LineNode, head: LineNode) -> None:
        """Around the move looked back at."""
        if focus.parent is None:
            return
        self._branch(layer, focus.parent, "focus", focus, False, ())
        self._branch(layer, focus, "focus", None, False, ())
        for game in () if self._known else _line_to(head):
            if game.parent is focus:
                self._recall(layer, game, False, (("again_next", 1.0),))

    def _game(self, layer: Layer, head: LineNode) -> None:
        """The moves of a game that is known only as far as it was told."""
        for game in _line_to(head):
            self._recall(layer, game, False, (("again_game", 1.0), ("again_far", log(1 + head.ply - game.ply))))

    def _left(self, layer: Layer, end: LineNode, last_left: bool) -> None:
        """Along a sideline that was left."""
        left: LineNode | None = end
        last: LineNode | None = None
        for steps in range(FARTHEST_BACK):
            if left is None or left is left.fork:
                break
            self._branch(layer, left, "part_way", last, False, (("part_way_steps", log(1 + steps)),))
            if last_left and steps < FARTHEST_AGAIN and left.score_ply < 0:
                self._recall(layer, left, False, (("again_trail", 1.0),))
            last, left = left, left.parent


def _price(place: Anchor | Recall) -> float:
    return place.price


def _line_to(head: LineNode) -> Iterator[LineNode]:
    """The game's nodes from the head back."""
    for back, node in enumerate([head, *head.ancestors()]):
        if back >= FARTHEST_IN_GAME:
            break
        yield node

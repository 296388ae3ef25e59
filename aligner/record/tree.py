"""Walking a game: children, paths, positions, lines and sidelines. Pure functions; nothing recurses."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import chess

from aligner.record.model import Game, Node


@dataclass(frozen=True, slots=True)
class Sidelines:
    """How far a game's tree branches.

    Attributes:
        count: lines other than the game's own; what was shown after the game's last move counts as one.
        depth: how deep they nest; 0 where there are none, 1 where every sideline leaves the game's own line.
    """

    count: int
    depth: int


def by_id(game: Game) -> dict[int, Node]:
    """The nodes by their ids."""
    return {node.id: node for node in game.nodes}


def children(game: Game) -> dict[int, tuple[Node, ...]]:
    """The children of every node by its id, the main one first, then as they stand in the game; empty for a leaf."""
    found: dict[int, list[Node]] = {node.id: [] for node in game.nodes}
    for node in game.nodes:
        if node.parent is not None:
            found.setdefault(node.parent, []).append(node)
    return {parent: tuple(sorted(nodes, key=lambda node: not node.main)) for parent, nodes in found.items()}


def path(nodes: Mapping[int, Node], node_id: int) -> tuple[Node, ...]:
    """The nodes from the first move to the one with this id; empty for node 0.

    Args:
        nodes: as `by_id` gives them.
        node_id: where the path ends.

    Raises:
        KeyError: there is no such node.
    """
    backwards: list[Node] = []
    node = nodes[node_id]
    while node.parent is not None:
        backwards.append(node)
        node = nodes[node.parent]
    return tuple(reversed(backwards))


def main_line(game: Game) -> tuple[Node, ...]:
    """The nodes of the game's own moves in order, without node 0."""
    below = children(game)
    line: list[Node] = []
    at = game.nodes[0].id
    while below[at] and below[at][0].main:
        line.append(below[at][0])
        at = line[-1].id
    return tuple(line)


class Positions(Mapping[int, chess.Board]):
    """The position of every node by its id, worked out when it is first asked for.

    The boards carry no move history and are shared: copy one before playing on it.
    """

    def __init__(self, game: Game) -> None:
        self._nodes = by_id(game)
        self._boards = {game.nodes[0].id: chess.Board(game.start_fen)}

    def __getitem__(self, node_id: int) -> chess.Board:
        """The position after the node's move.

        Raises:
            KeyError: there is no such node.
        """
        missing: list[Node] = []
        at = node_id
        while at not in self._boards:
            node = self._nodes[at]
            missing.append(node)
            if node.parent is None:
                raise KeyError(node_id)
            at = node.parent
        board = self._boards[at]
        for node in reversed(missing):
            board = board.copy(stack=False)
            board.push(chess.Move.from_uci(node.uci or ""))
            self._boards[node.id] = board
        return board

    def __iter__(self) -> Iterator[int]:
        return iter(self._nodes)

    def __len__(self) -> int:
        return len(self._nodes)


def positions(game: Game) -> Positions:
    """The positions of a game's nodes, by id; each is worked out when first asked for."""
    return Positions(game)


def san_line(start: chess.Board, nodes: Iterable[Node]) -> str:
    """Moves with their numbers as the PGN standard writes them (8.2.2.2), "12... Nf6 13. e4"; "" for no moves.

    Args:
        start: the position before the first of the moves.
        nodes: one after the other on one path.
    """
    number, white = start.fullmove_number, start.turn
    words: list[str] = []
    for node in nodes:
        if white:
            words.append(f"{number}.")
        elif not words:
            words.append(f"{number}...")
        words.append(node.san)
        number += not white
        white = not white
    return " ".join(words)


def sidelines(game: Game) -> Sidelines:
    """How many sidelines there are and how deep they nest."""
    below = children(game)
    count = deepest = 0
    waiting = [(game.nodes[0], 0)]
    while waiting:
        parent, depth = waiting.pop()
        for place, node in enumerate(below[parent.id]):
            leaves = place > 0 or (parent.main and not node.main)
            count += leaves
            deepest = max(deepest, depth + leaves)
            waiting.append((node, depth + leaves))
    return Sidelines(count, deepest)

"""What openings are in the lines of a talk: the moves that a name stands for, and how far a score is theory."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property

import chess

from aligner.openings.book import OUT, opening_book
from aligner.search.lines import LineNode, Lines


class OpeningLines:
    """Openings in the lines of one talk.

    Args:
        lines: the nodes.
    """

    def __init__(self, lines: Lines) -> None:
        self._lines = lines
        self._paths: dict[tuple[str, ...], tuple[LineNode, ...]] = {}

    def path(self, moves: tuple[str, ...]) -> tuple[LineNode, ...]:
        """The nodes of an opening's moves in SAN; none where they cannot be played from the start."""
        if moves not in self._paths:
            node, path = self._lines.root, list[LineNode]()
            try:
                for san in moves:
                    node = self._lines.after(node, node.board.parse_san(san))
                    path.append(node)
            except ValueError:
                path = []
            self._paths[moves] = tuple(path)
        return self._paths[moves]

    def ends(self) -> Iterator[LineNode]:
        """Where the openings lead that were asked for."""
        return (path[-1] for path in self._paths.values() if path)

    def rest(self, head: LineNode, moves: tuple[str, ...]) -> tuple[LineNode, ...]:
        """The nodes after a position of the game that lead to where an opening's moves lead, by any order of moves.

        Args:
            head: as far as the game has come.
            moves: of the opening, in SAN.

        Returns:
            None where the game is past it or has left it; with a score, the score's own.
        """
        path = self.path(moves)
        if not path:
            return ()
        if self._lines.score_moves:
            ply = self._score_plies.get(path[-1].place, 0)
            return tuple(self._lines.score[head.ply + 1 : ply + 1])
        if head.ply >= len(path):
            return ()
        if head.ply == 0 or path[head.ply - 1] is head:
            return path[head.ply :]
        return self._by_transposition(head, path)

    @cached_property
    def plies_of_theory(self) -> int:
        """How many of the score's first plies are opening theory, from the usual start position."""
        place = 0 if self._lines.root.board.fen() == chess.STARTING_FEN else OUT
        for ply, move in enumerate(self._lines.score_moves):
            place = opening_book().after(place, move)
            if place == OUT:
                return ply
        return len(self._lines.score_moves)

    @cached_property
    def _score_plies(self) -> Mapping[int, int]:
        """Plies of the score by the positions after them; of those that are the same, the first."""
        return {node.place: node.ply for node in reversed(self._lines.score)}

    def _by_transposition(self, head: LineNode, path: Sequence[LineNode]) -> tuple[LineNode, ...]:
        """The moves of a path that were not played up to a position, each side's in their order."""
        left = {side: [one.move for one in path if one.ply % 2 == (head.ply + 1 + side) % 2] for side in (0, 1)}
        for ply, move in enumerate(head.line(), 1):
            own = left[(ply - head.ply - 1) % 2]
            if move not in own:
                return ()
            own.remove(move)
        found: list[LineNode] = []
        node = head
        for number in range(len(path) - head.ply):
            following = left[number % 2].pop(0)
            if following is None or not node.board.is_legal(following):
                return ()
            node = self._lines.after(node, following)
            found.append(node)
        return tuple(found) if node.place == path[-1].place else ()

"""Which positions words may be about: the one reached, its neighbours in the talk, and the game's head."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable

import chess

from aligner.record.model import Game, Mention, Node
from aligner.record.tree import by_id, children, positions

WIDE_WORDS = 90
"""Words on either side within which every move spoken of counts as under discussion."""
WIDE_PLIES = 10
"""Plies back from a position under discussion that words may still be about."""

AROUND = 5
"""Mentions on either side of a word by which the record is judged there."""
FIRM = 0.95
"""Confidence of the moves before and after that hold a move in its place."""
FREE_SLIPS = 2
"""Misnamed moves among these that say nothing against the record: speakers who misname one move misname others."""


class Discussion:
    """The positions under discussion at each word of a talk."""

    def __init__(self, game: Game) -> None:
        self.game = game
        self.nodes = by_id(game)
        self.below = children(game)
        self.boards = positions(game)
        self.mentions = sorted((m for m in game.mentions if m.nodes), key=lambda m: m.words)
        self._starts = [mention.words[0] for mention in self.mentions]
        self._sure: dict[int, float] = {}
        for mention in self.mentions:
            for number in mention.nodes if mention.kind != "slip" else ():
                self._sure[number] = max(self._sure.get(number, 0.0), mention.confidence)
        self._placements: dict[int, str] = {}
        self._heads: list[int] = []
        head = game.nodes[0].id
        for mention in self.mentions:
            for number in mention.nodes:
                node = self.nodes[number]
                if node.main and node.ply > self.nodes[head].ply:
                    head = number
            self._heads.append(head)

    def place(self, word: int) -> int:
        """How many mentions start at or before a word."""
        return bisect_right(self._starts, word)

    def last(self, word: int) -> Mention | None:
        """The mention that starts last at or before a word."""
        place = self.place(word)
        return self.mentions[place - 1] if place else None

    def next(self, word: int) -> Mention | None:
        """The first mention that starts after a word."""
        place = self.place(word)
        return self.mentions[place] if place < len(self.mentions) else None

    def before(self, mention: Mention) -> Mention | None:
        """The mention before one of the talk's."""
        place = bisect_left(self._starts, mention.words[0])
        while self.mentions[place] != mention:
            place += 1
        return self.mentions[place - 1] if place else None

    def cursor(self, word: int) -> Node:
        """The node of the position reached when a word is spoken."""
        mention = self.last(word)
        return self.nodes[mention.nodes[-1]] if mention else self.game.nodes[0]

    def head(self, word: int) -> Node:
        """The furthest node of the game spoken of up to a word."""
        place = self.place(word)
        return self.nodes[self._heads[place - 1]] if place else self.game.nodes[0]

    def trust(self, word: int) -> float:
        """How far the record can be relied on around a word, 0 to 1.

        The mean confidence of the mentions around it; a misnamed move counts nothing, and neither does each move that
        had to be inferred between them: where these come thick, the record has lost the talk, not the talk the board.
        """
        place = self.place(word)
        around = self.mentions[max(place - AROUND, 0) : place + AROUND]
        if not around:
            return 1.0
        sure = sum(mention.confidence for mention in around if mention.kind != "slip" or mention.words[0] == word)
        spoken = {number for mention in around for number in mention.nodes}
        parents = {self.nodes[number].parent for number in spoken} - {None}
        inferred = sum(self.nodes[number].source == "inferred" for number in parents if number is not None)
        slips = sum(mention.kind == "slip" for mention in around)
        return sure / max(len(around) + inferred - min(slips, FREE_SLIPS), 1)

    def firm(self, node: Node) -> bool:
        """Whether a move is held in its place: those before and after it are surely told as they are."""
        below = [child.id for child in self.below[node.id]]
        return self._sure.get(node.parent or 0, 0.0) >= FIRM and any(self._sure.get(n, 0.0) >= FIRM for n in below)

    def near(self, word: int) -> list[Node]:
        """The position reached, those of the mentions around it, the ones right before these, and the game's head."""
        place = self.place(word)
        found: dict[int, Node] = {}
        around = self.mentions[max(place - 2, 0) : place + 2]
        for number in (*(n for m in around for n in m.nodes), self.cursor(word).id, self.head(word).id):
            self._keep(found, number, 1)
        for child in self.below[self.cursor(word).id]:
            found[child.id] = child
        for child in self.below[self.head(word).id]:
            found[child.id] = child
        return list(found.values())

    def wide(self, first: int, last: int) -> list[Node]:
        """Every position that words `first` up to `last` could be about, generously."""
        found: dict[int, Node] = {node.id: node for node in self.near(first)}
        low, high = self.place(first - WIDE_WORDS), self.place(last + WIDE_WORDS)
        spoken = [n for m in self.mentions[max(low - 1, 0) : high] for n in m.nodes]
        for number in (*spoken, self.cursor(first).id, self.head(first).id):
            self._keep(found, number, WIDE_PLIES)
        return list(found.values())

    def positions(self, nodes: Iterable[Node]) -> list[chess.Board]:
        """The positions after the nodes' moves, each placement once."""
        found: dict[str, chess.Board] = {}
        for node in nodes:
            placement = self._placements.get(node.id)
            if placement is None:
                placement = self._placements[node.id] = self.boards[node.id].epd()
            found.setdefault(placement, self.boards[node.id])
        return list(found.values())

    def number(self, node: Node) -> int:
        """The number of the move that leads to a node, as scores count; 0 for the start position."""
        return 0 if node.parent is None else self.boards[node.parent].fullmove_number

    def numbered(self, node: Node) -> str:
        """The move that leads to a node with its number, "14...Nf6"."""
        if node.parent is None:
            return "the start position"
        board = self.boards[node.parent]
        return f"{board.fullmove_number}{'.' if board.turn else '...'}{node.san}"

    def _keep(self, found: dict[int, Node], number: int, plies: int) -> None:
        node = self.nodes[number]
        found[node.id] = node
        for _ in range(plies):
            if node.parent is None:
                break
            node = self.nodes[node.parent]
            found[node.id] = node

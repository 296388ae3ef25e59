"""The notes of a record that holds no words: the moves with the comments that stand in its nodes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import chess

from aligner.notes.model import Block, Line, Moves, Paragraph
from aligner.notes.prose import Piece
from aligner.record.model import Game, Node
from aligner.record.tree import children, positions, san_line


def remark_blocks(game: Game) -> Iterator[tuple[float, Block]]:
    """The game move by move, each line of moves up to a comment, sidelines after the move they leave."""
    below = children(game)
    boards = positions(game)
    waiting: list[Node] = []
    at = game.start
    # the game's own line first, each sideline where it leaves it
    node: Node | None = game.nodes[0]
    while node is not None:
        here = below[node.id]
        following = here[0] if here and here[0].main else None
        if node.parent is not None:
            waiting.append(node)
            at = max(at, node.times[0][0]) if node.times else at
        sides = [other for other in here if other is not following]
        if waiting and (node.comment or sides or following is None):
            yield at, Moves(line_text(boards[waiting[0].parent or 0], waiting), at)
            waiting = []
        if node.comment:
            yield at, Paragraph(((Piece(node.comment),),), at, False)
        stack = list(reversed(sides))
        while stack:
            first = stack.pop()
            line = [first]
            while below[line[-1].id]:
                rest = below[line[-1].id]
                stack.extend(reversed(rest[1:]))
                line.append(rest[0])
            yield at, Line(line_text(boards[first.parent or 0], line), at)
            remarks = tuple((Piece(one.comment),) for one in line if one.comment)
            if remarks:
                yield at, Paragraph(remarks, at, True)
        node = following


def line_text(before: chess.Board, nodes: Sequence[Node]) -> str:
    """Moves as books print them: "12.Nf3 Nf6 13.e4", with no space after the number."""
    return san_line(before, nodes).replace(". ", ".").replace("... ", "...")

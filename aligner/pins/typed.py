"""A move that a person types or clicks: where it may stand, the likeliest place first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import chess

from aligner.search.beam import best_path
from aligner.search.lines import LineNode, Lines
from aligner.search.state import State
from aligner.speech.listen import Speech

MOST_PLACES = 6
_AHEAD = 60
"""Plies of the score, before and after, in which a move of the game is looked for."""


@dataclass(frozen=True, slots=True)
class Standing:
    """Where the talk stands before some words.

    Attributes:
        cursor: the position under discussion.
        head: the furthest position of the game.
        trail: ends of the sidelines left last, latest first.
    """

    cursor: LineNode
    head: LineNode
    trail: tuple[LineNode, ...]


@dataclass(frozen=True, slots=True)
class Place:
    """A move and where it stands.

    Attributes:
        node: the position it leads to.
        in_game: whether it is a move of the game.
    """

    node: LineNode
    in_game: bool


def standing(speech: Speech, end: State, word: int) -> Standing:
    """Where the best reading stands before a word; `end` is the best state that the search ended in."""
    state = end
    for before, decision in best_path(end):
        if decision.spoken is not None and speech.span(decision.spoken.phrase)[1] > word:
            state = before
            break
    return Standing(state.cursor, state.head, state.trail)


def places(lines: Lines, at: Standing, text: str, in_game: bool | None = None) -> list[Place]:
    """Where a move in SAN or UCI may stand, the likeliest first; empty where it is legal nowhere near.

    Args:
        lines: of the search.
        at: where the talk stands.
        text: the move; capitals may be missing.
        in_game: only moves of the game, or only of lines; None for both.
    """
    found: list[Place] = []
    seen: set[int] = set()
    for node, as_game in positions(lines, at):
        if in_game is not None and as_game != in_game:
            continue
        move = parse(node.board, text)
        if move is None:
            continue
        after = lines.after(node, move)
        if lines.score_moves and (after.score_ply >= 0) != as_game:
            continue
        if after.number not in seen:
            seen.add(after.number)
            found.append(Place(after, as_game))
        if len(found) >= MOST_PLACES:
            break
    return found


def positions(lines: Lines, at: Standing) -> Iterator[tuple[LineNode, bool]]:
    """Positions that the next move may be played in, the likeliest first, and whether it would be the game's."""
    game, line = list(_of_game(lines, at)), list(_of_lines(lines, at))
    if at.cursor is at.head:
        yield from ((node, True) for node in game[:1])
        yield from ((node, False) for node in line)
    else:
        yield from ((node, False) for node in line[:1])
        yield from ((node, True) for node in game[:1])
        yield from ((node, False) for node in line[1:])
    yield from ((node, True) for node in game[1:])


def _of_game(lines: Lines, at: Standing) -> Iterator[LineNode]:
    if not lines.score_moves:
        yield at.head
        yield from at.head.ancestors()
        return
    here = at.head.score_ply
    plies = range(max(here - _AHEAD, 0), min(here + _AHEAD, len(lines.score_moves)))
    # what comes is likelier than what was
    for ply in sorted(plies, key=lambda ply: ply - here if ply >= here else 2 * (here - ply)):
        yield lines.score[ply]


def _of_lines(lines: Lines, at: Standing) -> Iterator[LineNode]:
    seen: set[int] = set()
    ahead: list[LineNode] = []
    if lines.score_moves:
        ahead = lines.score[at.head.score_ply : at.head.score_ply + 5]
    chain = [at.cursor, *at.cursor.ancestors(), at.head, *ahead, *at.head.ancestors()]
    for end in at.trail:
        chain += [end, *end.ancestors()]
    for node in chain:
        if node.number not in seen:
            seen.add(node.number)
            yield node


def parse(board: chess.Board, text: str) -> chess.Move | None:
    """A legal move from SAN or UCI as a person types it; None where it is none."""
    bare = text.strip().replace("0-0-0", "O-O-O").replace("0-0", "O-O")
    tries = [bare, bare[:1].upper() + bare[1:], bare.upper()] if len(bare) <= 10 else []
    for attempt in tries:
        try:
            move = board.parse_san(attempt)
        except ValueError:
            continue
        if move:
            return move
    try:
        return board.parse_uci(bare.lower()) or None
    except ValueError:
        return None


def san_line(node: LineNode) -> tuple[str, ...]:
    """The moves from the start position to a node, in SAN."""
    line: list[str] = []
    at = node
    while at.parent is not None and at.move is not None:
        line.append(at.parent.board.san(at.move))
        at = at.parent
    return tuple(reversed(line))


def line_nodes(lines: Lines, line: Sequence[str]) -> list[LineNode] | None:
    """The nodes of a line in SAN from the start position; None where a move is illegal."""
    node, nodes = lines.root, list[LineNode]()
    try:
        for san in line:
            move = node.board.parse_san(san)
            if not move:
                return None
            node = lines.after(node, move)
            nodes.append(node)
    except ValueError:
        return None
    return nodes

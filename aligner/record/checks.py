"""What must agree inside a record that its types alone do not tell: the tree, the moves, the order of times."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import pairwise

import chess

from aligner.record.model import Alternative, Game, Node, Record

Check = Iterator[str]
"""Sentences without a place in front; the first one is what the user reads."""


def faults(record: Record) -> Iterator[str]:
    """One sentence for each thing in a record that contradicts another, the game's number in front."""
    if not record.games:
        yield "it holds no game"
    if record.recording.words != len(record.words):
        yield f"'recording.words' is {record.recording.words}, but {len(record.words)} words follow"
    yield from _ordered("words", [word.start for word in record.words])
    for number, game in enumerate(record.games, start=1):
        for sentence in _game_faults(game, len(record.words)):
            yield f"game {number}: {sentence}"


def _ordered(what: str, starts: list[float]) -> Check:
    for before, after in pairwise(starts):
        if after < before:
            yield f"the {what} are not in order of time: one at {before} s comes before one at {after} s"
            return


def _game_faults(game: Game, words: int) -> Check:
    try:
        board = chess.Board(game.start_fen)
    except ValueError as error:
        yield f"the start position {game.start_fen!r} is no FEN ({error})"
        return
    if not board.is_valid():
        yield f"the start position {game.start_fen!r} cannot arise in a game"
        return
    if "Result" not in game.headers:
        yield "the headers hold no 'Result'"
    tree = next(_tree_faults(game.nodes), None)
    if tree is not None:
        # Without a sound tree there is no telling what is legal where.
        yield tree
        return
    yield from _move_faults(game, board)
    yield from _spoken_faults(game, words)


def _tree_faults(nodes: tuple[Node, ...]) -> Check:
    if not nodes or nodes[0].id != 0:
        yield "the nodes do not begin with node 0, the start position"
        return
    root = nodes[0]
    if root.parent is not None or root.uci is not None or root.san or root.ply:
        yield "node 0 is the start position and has no parent, no move and ply 0"
    seen: dict[int, Node] = {0: root}
    continued: set[int] = set()
    for node in nodes[1:]:
        if node.id in seen:
            yield f"there are two nodes {node.id}"
        if node.parent is None or node.uci is None:
            yield f"node {node.id} has no {'parent' if node.parent is None else 'move'}; only node 0 may"
            return
        if node.parent not in seen:
            yield f"node {node.id} comes before its parent, node {node.parent}, or has none"
            return
        parent = seen[node.parent]
        if node.ply != parent.ply + 1:
            yield f"node {node.id} has ply {node.ply}, but stands after ply {parent.ply}"
        if node.main and (not parent.main or node.parent in continued):
            yield f"node {node.id} cannot be in the main line, because " + (
                f"its parent, node {node.parent}, is not"
                if not parent.main
                else f"another move after node {node.parent} is"
            )
        if node.main:
            continued.add(node.parent)
        seen[node.id] = node


def _move_faults(game: Game, board: chess.Board) -> Check:
    below: dict[int, list[Node]] = defaultdict(list)
    rivals: dict[int, list[Alternative]] = defaultdict(list)
    ids = {node.id for node in game.nodes}
    for node in game.nodes[1:]:
        below[node.parent or 0].append(node)
    for alternative in _alternatives(game):
        if alternative.parent is not None and alternative.parent not in ids:
            yield f"an alternative stands after node {alternative.parent}, which there is not"
        elif alternative.parent is not None and alternative.uci is not None:
            rivals[alternative.parent].append(alternative)
        elif alternative.uci is not None and not _is_uci(alternative.uci):
            yield f"the alternative {alternative.uci!r} is no move"
    # A stack, not recursion: a sideline may be thousands of plies deep.
    waiting: list[Node | None] = [game.nodes[0]]
    while waiting:
        at = waiting.pop()
        if at is None:
            board.pop()
            continue
        if at.uci is not None:
            move = _legal(board, at.uci)
            if move is None:
                yield f"the move {at.uci!r} of node {at.id} is not legal in {board.fen()}"
                continue
            if at.san != (san := board.san(move)):
                yield f"node {at.id} calls {at.uci} {at.san!r}; it is {san}"
            board.push(move)
            waiting.append(None)
        for alternative in rivals.get(at.id, ()):
            if _legal(board, alternative.uci or "") is None:
                yield f"the alternative {alternative.uci!r} after node {at.id} is not legal in {board.fen()}"
        waiting.extend(below.get(at.id, ()))


def _alternatives(game: Game) -> Iterator[Alternative]:
    for node in game.nodes:
        yield from node.alternatives
    for mention in game.mentions:
        yield from mention.alternatives


def _is_uci(text: str) -> bool:
    try:
        return bool(chess.Move.from_uci(text))
    except ValueError:
        return False


def _legal(board: chess.Board, uci: str) -> chess.Move | None:
    try:
        move = chess.Move.from_uci(uci)
    except ValueError:
        return None
    return move if board.is_legal(move) else None


def _spoken_faults(game: Game, words: int) -> Check:
    ids = {node.id for node in game.nodes}
    for node in game.nodes:
        yield from _ordered(f"times of node {node.id}", [start for start, _ in node.times])
    yield from _ordered("mentions", [mention.start for mention in game.mentions])
    yield from _ordered("findings", [finding.start for finding in game.findings])
    for mention in game.mentions:
        yield from _known(mention.nodes, ids, f"the mention at {mention.start} s")
        yield from _within(mention.words, words, f"the mention at {mention.start} s")
    for finding in game.findings:
        meant = finding.meant
        yield from _known(() if meant.node is None else (meant.node,), ids, f"the finding at {finding.start} s")
        yield from _within(finding.words, words, f"the finding at {finding.start} s")
        if meant.uci is not None and not _is_uci(meant.uci):
            yield f"the finding at {finding.start} s means {meant.uci!r}, which is no move"


def _known(nodes: Iterable[int], ids: set[int], who: str) -> Check:
    for node in nodes:
        if node not in ids:
            yield f"{who} speaks of node {node}, which there is not"


def _within(span: tuple[int, int], words: int, who: str) -> Check:
    if span[1] > words:
        yield f"{who} rests on words up to {span[1]}, but there are {words}"

"""The moments of a talk that may open a chapter or deserve a diagram, each with its weight and its title."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import pairwise
from typing import Any

import chess

from aligner.chapters.openings import deepest_opening, opening_name
from aligner.chapters.phases import (
    castled_apart,
    endgame_name,
    is_endgame,
    is_middlegame,
    queens_leave,
    sacrifice,
)
from aligner.chapters.sentences import bare
from aligner.chapters.timeline import Excursion, arrivals, excursions, move_name
from aligner.record.model import Game, Node, SpokenWord
from aligner.record.tree import by_id, main_line, path, positions

_JUDGED: dict[int, tuple[float, str]] = {
    1: (50, "The strong {move}"),
    2: (64, "The mistake {move}"),
    3: (78, "The brilliant {move}"),
    4: (76, "The blunder {move}"),
    5: (44, "The interesting {move}"),
    6: (42, "The doubtful {move}"),
    7: (30, "The only move: {move}"),
}
"""Weights and titles of judgements of a move, by Numeric Annotation Glyph (PGN standard, section 10)."""
_ASSESSED: dict[int, tuple[float, str]] = {
    10: (24, "A level position after {move}"),
    13: (26, "An unclear position after {move}"),
    14: (20, "A slight edge for White after {move}"),
    15: (20, "A slight edge for Black after {move}"),
    16: (30, "White is better after {move}"),
    17: (30, "Black is better after {move}"),
    18: (46, "White is winning after {move}"),
    19: (46, "Black is winning after {move}"),
    22: (56, "White in zugzwang after {move}"),
    23: (56, "Black in zugzwang after {move}"),
    138: (34, "White in time trouble: {move}"),
    139: (34, "Black in time trouble: {move}"),
}
"""The same for judgements of a position."""
_CUE_REACH = 14
"""Words between a cue and the move that it is about, at most."""
_LAST_RUN = 6
"""Plies of the game that must be left for an endgame to be a phase of its own."""
_DWELT = 8.0
"""Seconds on one move from which on it may open a chapter for want of anything better."""
_SHORT_EXCURSION = 8.0
"""Seconds below which a sideline is none of the moments that matter."""


@dataclass(frozen=True, slots=True)
class Moment:
    """A second at which something begins that a viewer may look for.

    Attributes:
        at: seconds.
        weight: how much it matters, 0 to 100; below 20 it only fills a gap.
        title: as a commentator would write it.
        node: the move it is about; None where it is about the whole game.
    """

    at: float
    weight: float
    title: str
    node: int | None


@cache
def vocabulary() -> dict[str, Any]:
    """The words that tell what a moment is, from `data/en/words.toml`."""
    return tomllib.loads((files("aligner.chapters") / "data" / "en" / "words.toml").read_text(encoding="utf-8"))


def moments(game: Game, words: Sequence[SpokenWord]) -> tuple[Moment, ...]:
    """Every moment of a game, in order of time; of each move and title only the weightiest.

    Args:
        game: of the record.
        words: of the talk.
    """
    reached = arrivals(game)
    found = [*_opening(game, reached), *_on_game_moves(game, words, reached), *_in_sidelines(game)]
    best: dict[tuple[int | None, str], Moment] = {}
    for moment in found:
        key = (moment.node, "" if moment.node is not None else moment.title)
        if key not in best or best[key].weight < moment.weight:
            best[key] = moment
    return tuple(sorted(best.values(), key=lambda moment: (moment.at, -moment.weight)))


def _opening(game: Game, reached: Mapping[int, float]) -> Iterator[Moment]:
    line = main_line(game)
    first = min(reached.values(), default=None)
    told = [mention.start for mention in game.mentions if mention.nodes and mention.kind in ("move", "slip")]
    if first is None:
        first = min(told, default=None)
    if first is None:
        return
    boards = positions(game)
    start = boards[game.nodes[0].id]
    if start.board_fen() == chess.STARTING_BOARD_FEN:
        named = deepest_opening(line, boards)
        title = named[1] if named else "The opening"
    else:
        title = endgame_name(start) if is_endgame(start) else "The starting position"
    yield Moment(first, 100, title, None)


def _on_game_moves(game: Game, words: Sequence[SpokenWord], reached: Mapping[int, float]) -> Iterator[Moment]:
    line = main_line(game)
    if not line:
        return
    boards = positions(game)
    before = [boards[game.nodes[0].id], *(boards[node.id] for node in line)]
    moves = [chess.Move.from_uci(node.uci or "") for node in line]
    cues = _cues(game, words, reached)
    phases = dict(_phases(before, moves))
    following = dict(pairwise([reached[node.id] for node in line if node.id in reached]))
    last = max((place for place, node in enumerate(line) if node.id in reached), default=-1)
    seen: set[int] = set()
    for place, node in enumerate(line):
        if node.id not in reached:
            continue
        at, move = reached[node.id], move_name(game, node)
        dwelt = following.get(at, at) - at
        given = sacrifice(before, moves, place)
        if given and _is_meant(game, words, node, at, before[place].turn):
            adjective = "brilliant " if 3 in node.nags else ""
            yield Moment(at, 74 + 4 * bool(adjective), f"The {adjective}{given} sacrifice {move}", node.id)
        for glyph in node.nags:
            weight, title = _JUDGED.get(glyph) or _ASSESSED.get(glyph) or (0.0, "")
            # the same assessment of one position after the other is one moment
            if title and not (glyph >= 10 and glyph in seen):
                yield Moment(at, weight, title.format(move=move), node.id)
            seen.add(glyph)
        if node.id in cues:
            yield Moment(at, 66, f"{cues[node.id]}: {move}", node.id)
        if place == last and last == len(line) - 1:
            yield from _end(game, words, before[-1], node, at)
        if place in phases:
            weight, title = phases[place]
            yield Moment(at, weight, title.format(move=move), node.id)
        if dwelt >= _DWELT:
            yield Moment(at, 8 + min(10.0, dwelt / 12), move, node.id)


def _phases(boards: Sequence[chess.Board], moves: Sequence[chess.Move]) -> Iterator[tuple[int, tuple[float, str]]]:
    """What begins with which move of the line: by index, the weight and the title."""
    queens = middle = end = False
    if is_endgame(boards[0]):
        middle = end = True
    # an endgame is one for good: after its first move no queen comes back but by promotion
    for place, move in enumerate(moves):
        after = boards[place + 1]
        if move.promotion:
            under = move.promotion != chess.QUEEN
            yield place, (66, "The underpromotion {move}") if under else (48, "The promotion {move}")
        elif not end and is_endgame(after) and len(moves) - place > _LAST_RUN:
            end = middle = True
            yield place, (58, f"{endgame_name(_settled(boards, place + 1))}: {{move}}")
        elif not queens and queens_leave(boards[place], after):
            yield place, (38, "The queens come off: {move}")
        elif castled_apart(boards[place], move):
            yield place, (36, "Castling on opposite sides: {move}")
        elif not middle and is_middlegame(after, place + 1):
            middle = True
            yield place, (34, "The middlegame after {move}")
        queens = queens or not after.queens


def _settled(boards: Sequence[chess.Board], place: int) -> chess.Board:
    """The first position from here on in which no capture is answered by a capture: exchanges are over."""
    for at in range(place, min(place + 6, len(boards) - 1)):
        if boards[at].occupied.bit_count() == boards[at + 1].occupied.bit_count():
            return boards[at]
    return boards[place]


def _end(game: Game, words: Sequence[SpokenWord], board: chess.Board, node: Node, at: float) -> Iterator[Moment]:
    move = move_name(game, node)
    result = game.headers.get("Result", "*")
    if board.is_checkmate():
        yield Moment(at, 96, f"Checkmate: {move}", node.id)
    elif board.is_stalemate():
        yield Moment(at, 96, f"Stalemate: {move}", node.id)
    elif result in ("1-0", "0-1"):
        loser = "Black" if result == "1-0" else "White"
        resigns = set(vocabulary()["closing"]["resigns"])
        title = f"{loser} resigns after {move}" if _said(words, resigns, at, at + 45.0) else f"The end: {move}"
        yield Moment(at, 92, title, node.id)
    elif result == "1/2-1/2":
        yield Moment(at, 92, f"The draw: {move}", node.id)


def _in_sidelines(game: Game) -> Iterator[Moment]:
    nodes = by_id(game)
    boards = positions(game)
    usual = boards[game.nodes[0].id].board_fen() == chess.STARTING_BOARD_FEN
    for excursion in excursions(game):
        seconds = excursion.end - excursion.start
        if seconds < _SHORT_EXCURSION and excursion.plies < 4:
            continue
        weight = 14 + min(34.0, seconds * 0.7) + min(8, excursion.plies) - 5 * (excursion.depth - 1)
        name = _sideline_name(game, nodes, boards, excursion) if usual else None
        move = move_name(game, excursion.node)
        if name is not None:
            yield Moment(excursion.start, weight + 18, f"{name}: {move}", excursion.node.id)
        elif excursion.instead is not None:
            title = f"{move} instead of {move_name(game, excursion.instead)}"
            yield Moment(excursion.start, weight, title, excursion.node.id)
        else:
            yield Moment(excursion.start, weight, f"If play goes on: {move}", excursion.node.id)


def _sideline_name(
    game: Game, nodes: Mapping[int, Node], boards: Mapping[int, chess.Board], excursion: Excursion
) -> str | None:
    """The name of an opening that the sideline, and not the line it leaves, leads to at once."""
    replies = (node for node in nodes.values() if node.parent == excursion.node.id)
    names = (opening_name(boards[node.id]) for node in (excursion.node, *replies))
    name = next((name for name in names if name), None)
    line = path(nodes, excursion.node.id)
    above = [opening_name(boards[node.id]) for node in line[:-1]]
    if name is None or name in above:
        return None
    family, _, variation = name.partition(", ")
    known = any(other and other.split(",")[0] == family for other in above)
    return variation if variation and known else name


def _cues(game: Game, words: Sequence[SpokenWord], reached: Mapping[int, float]) -> dict[int, str]:
    """Titles that the talk itself gives to moves of the game, by node."""
    near = [(mention, mention.nodes[-1]) for mention in game.mentions if mention.nodes]
    found: dict[int, str] = {}
    for first, past, title in _cue_places(words):
        about = [
            (min(abs(first - mention.words[1]), abs(mention.words[0] - past)), node)
            for mention, node in near
            if node in reached and mention.words[1] > first - _CUE_REACH and mention.words[0] < past + _CUE_REACH
        ]
        if about:
            found.setdefault(min(about)[1], title)
    return found


def _cue_places(words: Sequence[SpokenWord]) -> Iterator[tuple[int, int, str]]:
    texts = [bare(word.text) for word in words]
    by_first: dict[str, list[tuple[list[str], str]]] = {}
    for row in vocabulary()["cue"]:
        for phrase in row["phrases"]:
            parts = phrase.split()
            by_first.setdefault(parts[0], []).append((parts, row["title"]))
    for at, text in enumerate(texts):
        for parts, title in by_first.get(text, ()):
            if texts[at : at + len(parts)] == parts:
                yield at, at + len(parts), title


def _said(words: Sequence[SpokenWord], phrases: set[str], start: float, end: float) -> bool:
    text = " ".join(bare(word.text) for word in words if start <= word.start < end)
    return any(f" {phrase} " in f" {text} " for phrase in phrases)


def _is_meant(game: Game, words: Sequence[SpokenWord], node: Node, at: float, side: chess.Color) -> bool:
    """Whether what a move gives up is a sacrifice: the winner's, or called one, or praised; else it is just lost."""
    if {2, 4, 6} & set(node.nags):
        return False
    result = game.headers.get("Result")
    if result in ("1-0", "0-1"):
        return result == ("1-0" if side else "0-1")
    return bool({1, 3, 5} & set(node.nags)) or _said(words, set(vocabulary()["closing"]["sacrifice"]), at - 12, at + 20)

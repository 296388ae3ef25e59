"""When the talk is where: at which second each game move is reached, and how long each sideline is shown."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from aligner.record.model import Game, Mention, Node
from aligner.record.tree import by_id, children, main_line


def arrivals(game: Game) -> dict[int, float]:
    """The second at which the talk reaches each move of the game's own line, for the moves that it speaks of.

    A move may be spoken of before (announced) and after (looked back at): of all times, those are taken that let
    the game be told from front to back with the most moves, each as early as that allows.
    """
    stops = [(node.id, start) for node in main_line(game) for start, _ in sorted(node.times, reverse=True)]
    # longest increasing subsequence; times of one node run backwards, so that it holds at most one of each
    tails: list[float] = []
    tops: list[int] = []
    came_from: list[int] = [-1] * len(stops)
    for place, (_, start) in enumerate(stops):
        length = bisect_left(tails, start)
        came_from[place] = tops[length - 1] if length else -1
        if length == len(tails):
            tails.append(start)
            tops.append(place)
        else:
            tails[length], tops[length] = start, place
    found: dict[int, float] = {}
    at = tops[-1] if tops else -1
    while at >= 0:
        node_id, start = stops[at]
        found[node_id] = start
        at = came_from[at]
    return found


@dataclass(frozen=True, slots=True)
class Excursion:
    """A stretch of the talk in one sideline or one branch of it.

    Attributes:
        node: the first move of the sideline.
        instead: the move that stands beside it: the game's, or the branch shown first; None where there is none.
        start: seconds of its first mention.
        end: seconds at which the talk speaks of something else.
        plies: half-moves shown in it.
        depth: 1 for a sideline of the game's own line.
    """

    node: Node
    instead: Node | None
    start: float
    end: float
    plies: int
    depth: int


def excursions(game: Game) -> tuple[Excursion, ...]:
    """Every sideline that is shown, in order of time; of each, the longest stretch."""
    nodes = by_id(game)
    below = children(game)
    beside = {node.id: below[node.parent] for node in game.nodes if node.parent is not None}
    chains = _branches(game, nodes, beside)
    told = [mention for mention in game.mentions if mention.nodes and mention.kind != "idea"]
    open_: dict[int, tuple[float, set[int]]] = {}
    found: dict[int, Excursion] = {}

    def close(branch: int, end: float) -> None:
        start, seen = open_.pop(branch)
        node = nodes[branch]
        instead = next((other for other in beside[branch] if other.id != branch and _before(other, node)), None)
        excursion = Excursion(node, instead, start, end, len(seen), len(chains[branch]))
        if branch not in found or found[branch].end - found[branch].start < end - start:
            found[branch] = excursion

    for place, mention in enumerate(told):
        here = chains[mention.nodes[-1]]
        if mention.kind == "again" and not here and _goes_on(told, place, chains):
            continue
        for branch in [branch for branch in open_ if branch not in here]:
            close(branch, mention.start)
        for branch in here:
            plies = {number for number in mention.nodes if branch in chains[number]}
            open_.setdefault(branch, (mention.start, set()))[1].update(plies)
    for branch in list(open_):
        close(branch, told[-1].end if told else game.end)
    return tuple(sorted(found.values(), key=lambda excursion: excursion.start))


def _goes_on(told: Sequence[Mention], place: int, chains: Mapping[int, tuple[int, ...]]) -> bool:
    """Whether a game move is only recalled inside a sideline: the next mention is in the same sideline."""
    if place == 0 or place + 1 == len(told):
        return False
    before, after = chains[told[place - 1].nodes[-1]], chains[told[place + 1].nodes[-1]]
    return bool(before) and before[:1] == after[:1]


def _branches(
    game: Game, nodes: Mapping[int, Node], beside: Mapping[int, tuple[Node, ...]]
) -> dict[int, tuple[int, ...]]:
    """For every node the first moves of the sidelines that it stands in, outermost first."""
    chains: dict[int, tuple[int, ...]] = {}
    for node in game.nodes:
        if node.parent is None or node.main:
            chains[node.id] = ()
            continue
        above = chains[node.parent]
        leaves = nodes[node.parent].main or beside[node.id][0].id != node.id
        chains[node.id] = (*above, node.id) if leaves else above
    return chains


def _before(one: Node, other: Node) -> bool:
    """Whether a sibling is the one to compare with: the game's move, or one that was spoken of earlier."""
    return one.main or (one.times[:1] or ((0.0, 0.0),)) <= (other.times[:1] or ((0.0, 0.0),))


def move_name(game: Game, node: Node) -> str:
    """The move with its number, "12.Bxd2" or "12...Bxd2"."""
    fields = game.start_fen.split()
    black = len(fields) > 1 and fields[1] == "b"
    first = int(fields[5]) if len(fields) > 5 and fields[5].isdigit() else 1
    moves, second = divmod(node.ply - 1 + black, 2)
    return f"{first + moves}{'...' if second else '.'}{node.san}"

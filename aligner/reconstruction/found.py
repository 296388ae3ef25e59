"""The game that a talk tells of, with how sure each of its plies is."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, log

import chess

from aligner.prices.prices import Prices
from aligner.reconstruction.hypothesis import Hypothesis, Step
from aligner.reconstruction.search import GameSearch
from aligner.reconstruction.steps import Steps
from aligner.search.evidence import learn_cast
from aligner.search.fits import Fits
from aligner.search.lines import LineNode, Lines
from aligner.search.reading import Reading
from aligner.speech.listen import Speech


@dataclass(frozen=True, slots=True)
class Course:
    """What is settled about a game that is looked for.

    Attributes:
        line: moves in UCI that the game begins with.
        told: (word, ply): the first so many plies have been told before that word.
        silent: half-open ranges of words that speak of no move.
        unsaid: plies of the line that nobody spoke, 1 for the first.
    """

    line: tuple[str, ...] = ()
    told: tuple[tuple[int, int], ...] = ()
    silent: tuple[tuple[int, int], ...] = ()
    unsaid: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class FoundGame:
    """A game found in a talk.

    Attributes:
        moves: in UCI, from the start position.
        belief: for each ply, the probability that the game came so far in this way, 0 to 1; it never rises.
        cost: of the reading that it comes from, in nats.
    """

    moves: tuple[str, ...]
    belief: tuple[float, ...]
    cost: float


class GameFinder:
    """Finds the game of one talk, again and again as more is settled; what fits where stays known between searches.

    Args:
        speech: what was heard.
        start: position the game starts from.
        prices: of the mode "game".
        cast: words that say who moves, with their side.
    """

    def __init__(self, speech: Speech, start: chess.Board, prices: Prices, cast: Mapping[str, bool]) -> None:
        self._speech = speech
        self._start = start
        self._prices = prices
        self._cast = dict(cast)
        self._knows_cast = False
        self._found: dict[Course, FoundGame] = {}
        self._begin()

    def _begin(self) -> None:
        self._lines = Lines(self._start, ())
        self._fits = Fits(self._lines, self._prices, self._cast)
        self._steps = Steps(self._fits, self._prices)
        self._unsaid: list[LineNode] = []

    def find(self, course: Course | None = None, progress: Callable[[float], None] | None = None) -> FoundGame:
        """The game that explains the talk best.

        The first search also shows who "he" and "she" and "I" are; where it does, a second one uses it.

        Args:
            course: what is settled about it.
            progress: told the share done, 0 to 1.
        """
        course = course or Course()
        found = self._found.get(course)
        if found is None:
            ends = self._search(course, progress)
            if not self._knows_cast:
                self._knows_cast = True
                if self._learn_cast(ends[0]):
                    ends = self._search(course, progress)
            moves = tuple(move.uci() for move in ends[0].head.line())
            found = FoundGame(moves, _belief(ends, self._prices.sharpness), ends[0].cost)
            self._found[course] = found
        return found

    def _learn_cast(self, end: Hypothesis) -> bool:
        """Take from a game who moves where words say so; whether that tells more than was known."""
        moved: list[tuple[str, bool]] = []
        ply = end.plies
        while ply is not None:
            if ply.spoken is not None and ply.node.parent is not None:
                moved.append((ply.spoken.who, ply.node.parent.board.turn))
            ply = ply.before
        learnt = {**learn_cast(moved), **self._cast}
        if learnt == self._cast:
            return False
        self._cast = learnt
        self._begin()
        return True

    def _search(self, course: Course, progress: Callable[[float], None] | None) -> list[Hypothesis]:
        root = self._lines.root
        line = self._settled_line(course)
        unsaid = [line[ply] for ply in course.unsaid]
        if unsaid != self._unsaid:
            self._steps = Steps(self._fits, self._prices, unsaid=unsaid)
            self._unsaid = unsaid
        search = GameSearch(self._speech, self._steps, allows=self._constraint(course))
        begin = Hypothesis(root, None, None, 0.0)
        ends = search.run(0, len(self._speech.stretches), [begin], progress) or [begin]
        head = line[-1]
        # where nothing that is told leads to what is settled, the settled moves are all there is
        return ends if ends[0].head.follows(head) else [Hypothesis(head, None, None, 0.0)]

    def _settled_line(self, course: Course) -> list[LineNode]:
        nodes = [self._lines.root]
        for uci in course.line:
            nodes.append(self._lines.after(nodes[-1], chess.Move.from_uci(uci)))
        return nodes

    def _constraint(self, course: Course) -> Callable[[int, Hypothesis, Step | None, LineNode], bool] | None:
        if course == Course():
            return None
        settled = self._settled_line(course)
        speech = self._speech
        words = [speech.tokens[stretch.start].word for stretch in speech.stretches]
        least = [
            max([ply for told, ply in course.told if word >= told and ply < len(settled)], default=0) for word in words
        ]
        least.append(max([ply for _, ply in course.told if ply < len(settled)], default=0))

        def allows(target: int, _: Hypothesis, step: Step | None, head: LineNode) -> bool:
            if head.ply < least[target] or not (head.follows(settled[-1]) or settled[-1].follows(head)):
                return False
            if step is None or step.spoken is None:
                return True
            first, past = speech.span(step.spoken.phrase)
            return not any(first < end and begin < past for begin, end in course.silent)

        return allows


def _belief(ends: Sequence[Hypothesis], sharpness: float) -> tuple[float, ...]:
    """For each ply of the best end's game, the share of all surviving ways that have it too (forward sums)."""
    forward: dict[int, float] = {}
    stack = list(ends)
    while stack:
        one = stack[-1]
        missing = [before for before, _ in one.arcs if id(before) not in forward]
        if id(one) in forward or not missing:
            stack.pop()
            if id(one) not in forward:
                sums = [forward[id(before)] - step.cost * sharpness for before, step in one.arcs]
                top = max(sums, default=0.0)
                forward[id(one)] = top + log(sum(exp(each - top) for each in sums)) if sums else -one.cost * sharpness
        else:
            stack += missing
    top = max(forward[id(end)] for end in ends)
    shares = [(end.head, exp(forward[id(end)] - top)) for end in ends]
    total = sum(share for _, share in shares)
    node: LineNode | None = ends[0].head
    belief = []
    while node is not None and node.parent is not None:
        belief.append(sum(share for head, share in shares if head.follows(node)) / total)
        node = node.parent
    return tuple(belief[::-1])


def tempered(reading: Reading, belief: Sequence[float]) -> Reading:
    """A reading against a found game, its probabilities lowered by the doubts about the game."""

    def share(node: LineNode) -> float:
        return belief[node.fork.ply - 1] if node.fork.ply else 1.0

    choices = tuple(
        replace(choice, probability=choice.probability * share(choice.decision.nodes[-1]))
        if choice.decision.nodes
        else choice
        for choice in reading.choices
    )
    nodes = {node.number: node for choice in reading.choices for node in choice.decision.nodes}
    presence = {
        number: value * share(nodes[number]) if number in nodes else value for number, value in reading.presence.items()
    }
    return replace(reading, choices=choices, presence=presence)

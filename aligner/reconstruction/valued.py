"""Searches for the game of one talk in which moves are valued in one way."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, inf

import chess

from aligner.prices.prices import Prices
from aligner.reconstruction.amending import Amender
from aligner.reconstruction.breadth import DEEP, Breadth
from aligner.reconstruction.closing import Closed, Closing, Opinion
from aligner.reconstruction.hypothesis import Hypothesis, Step
from aligner.reconstruction.search import GameSearch
from aligner.reconstruction.steps import Steps
from aligner.reconstruction.trust import Evidence, explained_by
from aligner.search.fits import Fits
from aligner.search.lattice import forward
from aligner.search.lines import LineNode, Lines
from aligner.search.plies import Valuation
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
class Latest:
    """How the latest search ended.

    Attributes:
        course: what was settled.
        breadth: of the search, but for narrower ones within it.
        ends: the hypotheses at the end of the talk, best first.
    """

    course: Course
    breadth: Breadth
    ends: list[Hypothesis]


class ValuedSearch:
    """Searches for the game of one talk, again and again as more is settled; what fits where stays known between them.

    Args:
        speech: what was heard.
        start: position the game starts from.
        prices: of the valuation's mode.
        cast: words that say who moves, with their side.
        valuation: how moves are told apart as chess.
        opinion: an engine's, of moves that nobody spoke; None for none.
    """

    def __init__(
        self,
        speech: Speech,
        start: chess.Board,
        prices: Prices,
        cast: Mapping[str, bool],
        valuation: Valuation,
        opinion: Opinion | None = None,
    ) -> None:
        self._speech = speech
        self._prices = prices
        self._lines = Lines(start, ())
        self._fits = Fits(self._lines, prices, cast, valuation)
        self._amender = Amender(self._fits)
        self._closing = Closing(self._fits, self._amender, opinion, speech.statements)
        self._steps = Steps(self._fits, prices, self._amender)
        self._settled: tuple[list[LineNode], list[LineNode]] = ([], [])
        self._costs: dict[tuple[Course, bool], float] = {}
        self.latest: Latest | None = None

    def evidence(self, course: Course, breadth: Breadth, progress: Callable[[float], None] | None = None) -> Evidence:
        """What one search finds."""
        ends = self._ends(course, breadth, progress)
        settled = [chess.Move.from_uci(uci) for uci in course.line]
        closed = self._closing.close(ends[0], settled) or self._closing.close(ends[0])
        assert closed is not None
        found = self._judged(closed, ends)
        return replace(found, narrower=self._narrower(found, ends, breadth))

    def told(self, course: Course, breadth: Breadth) -> float:
        """Share of the phrases on the best way of a search that it takes for moves of the game, 0 to 1."""
        end = self._ends(course, breadth)[0]
        kinds = [step.kind for step in end.steps if step.spoken is not None]
        return kinds.count("game") / max(len(kinds), 1)

    def refilled(self, course: Course, whole: Course, breadth: Breadth) -> Evidence | None:
        """What the search under `course` finds where unspoken plies are filled in as `whole` has them; None if none."""
        ends = self._ends(course, breadth)
        closed = self._closing.close(ends[0], [chess.Move.from_uci(uci) for uci in whole.line])
        return None if closed is None else self._judged(closed, ends)

    def cost_of(self, moves: tuple[str, ...], course: Course, *, whole: bool = False) -> float:
        """Nats that the talk costs if its game begins so; infinite where the beam loses that, though it is known.

        Args:
            moves: in UCI; without any, what it costs that there is no game.
            course: what is settled besides.
            whole: whether these are all moves of the game; else it may go on.
        """
        told, whole = replace(course, line=moves), whole or not moves
        cost = self._costs.get((told, whole))
        if cost is None:
            end = self._search(told, DEEP, whole=whole)[0]
            cost = self._costs[told, whole] = end.cost if end.arcs else inf
        return cost

    def played(self, moves: Sequence[str]) -> Iterator[tuple[int, str]]:
        """The moves of a game, each with the number of the position that it is played in."""
        node = self._lines.root
        for uci in moves:
            yield node.place, uci
            node = self._lines.after(node, chess.Move.from_uci(uci))

    def _judged(self, closed: Closed, ends: Sequence[Hypothesis]) -> Evidence:
        moves = tuple(move.uci() for move in closed.moves)
        share = _belief(ends, self._prices.sharpness)[: len(moves)]
        explained, cost = explained_by(ends[0], len(moves)), ends[0].cost
        stretches = len(self._speech.stretches)
        return Evidence(moves, share, explained, cost, closed.candidates, closed.whole, stretches=stretches)

    def _narrower(self, found: Evidence, ends: Sequence[Hypothesis], breadth: Breadth) -> tuple[tuple[str, ...], ...]:
        """The games that narrower beams would have found; none for one that did not come to the end."""
        games = []
        for place in range(len(breadth.within)):
            there = [end for end in ends if end.narrowly and end.narrowly[place] < inf]
            end = min(there, key=lambda end: end.narrowly[place], default=None)
            closed = self._closing.close(end) if end is not None and end is not ends[0] else None
            moves = () if closed is None else tuple(move.uci() for move in closed.moves)
            games.append(found.moves if end is ends[0] else moves)
        return tuple(games)

    def _ends(
        self, course: Course, breadth: Breadth, progress: Callable[[float], None] | None = None
    ) -> list[Hypothesis]:
        """How a search ended; only the latest is kept."""
        kept = replace(breadth, within=())
        if self.latest is None or self.latest.course != course or self.latest.breadth != kept:
            self.latest = Latest(course, kept, self._search(course, breadth, progress))
        return self.latest.ends

    def _search(
        self,
        course: Course,
        breadth: Breadth,
        progress: Callable[[float], None] | None = None,
        *,
        whole: bool = False,
    ) -> list[Hypothesis]:
        """How a search ends, best first; `whole` where the game is no longer than what is settled."""
        root = self._lines.root
        line = self._settled_line(course)
        unsaid = [line[ply] for ply in course.unsaid]
        if (line[1:], unsaid) != self._settled:
            known = {node.number: after for node, after in zip(line, line[1:], strict=False)}
            self._steps = Steps(self._fits, self._prices, self._amender, unsaid, known)
            self._settled = line[1:], unsaid
        search = GameSearch(self._speech, self._steps, breadth, self._constraint(course, whole))
        begin = Hypothesis(root, None, None, 0.0)
        head = line[-1]
        ends = [end for end in search.run(0, len(self._speech.stretches), [begin], progress) if end.head.follows(head)]
        # where nothing that is told leads to what is settled, the settled moves are all there is
        return ends or [Hypothesis(head, None, None, 0.0)]

    def _settled_line(self, course: Course) -> list[LineNode]:
        nodes = [self._lines.root]
        for uci in course.line:
            nodes.append(self._lines.after(nodes[-1], chess.Move.from_uci(uci)))
        return nodes

    def _constraint(
        self, course: Course, whole: bool
    ) -> Callable[[int, Hypothesis, Step | None, LineNode], bool] | None:
        if course == Course() and not whole:
            return None
        settled = self._settled_line(course)
        speech = self._speech
        words = [speech.tokens[stretch.start].word for stretch in speech.stretches]
        least = [
            max([ply for told, ply in course.told if word >= told and ply < len(settled)], default=0) for word in words
        ]
        least.append(max([ply for _, ply in course.told if ply < len(settled)], default=0))

        def allows(target: int, _: Hypothesis, step: Step | None, head: LineNode) -> bool:
            if head.ply < least[target]:
                return False
            if not settled[-1].follows(head) and (whole or not head.follows(settled[-1])):
                return False
            if step is None or step.spoken is None:
                return True
            first, past = speech.span(step.spoken.phrase)
            return not any(first < end and begin < past for begin, end in course.silent)

        return allows


def _belief(ends: Sequence[Hypothesis], sharpness: float) -> tuple[float, ...]:
    """For each ply of the best end's game, the share of all surviving ways that have it too (forward sums)."""
    weight = forward(ends, sharpness)
    top = max(weight[id(end)] for end in ends)
    shares = [(end.head, exp(weight[id(end)] - top)) for end in ends]
    total = sum(share for _, share in shares)
    node: LineNode | None = ends[0].head
    belief = []
    while node is not None and node.parent is not None:
        belief.append(sum(share for head, share in shares if head.follows(node)) / total)
        node = node.parent
    return tuple(belief[::-1])

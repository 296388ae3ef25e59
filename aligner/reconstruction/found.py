"""The game that a talk tells of, with how sure each of its plies is."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from math import exp, inf

import chess

from aligner.prices.prices import Prices
from aligner.progress import share_of
from aligner.reconstruction.amending import Amender
from aligner.reconstruction.breadth import NARROW, QUICK, SPREAD, WIDE, Breadth
from aligner.reconstruction.closing import Candidate, Closed, Closing, Opinion
from aligner.reconstruction.hypothesis import Hypothesis, Step
from aligner.reconstruction.search import GameSearch
from aligner.reconstruction.steps import Steps
from aligner.reconstruction.trust import Evidence, explained_by, sureness, trusted
from aligner.search.fits import Fits
from aligner.search.lattice import forward
from aligner.search.lines import LineNode, Lines
from aligner.search.reading import Reading
from aligner.speech.listen import Speech

_SAME = 0.97
"""Share of their plies that two games have in common that count as the same."""


@dataclass(frozen=True, slots=True)
class Search:
    """One of the searches for the game that follow each other.

    Attributes:
        breadth: how broad it is.
        enough: how sure the game found so far must be after it that no other search follows, 0 to 1: where no other
            beam or search found the same game, where one did, and so on; the last where more did.
        done: share of the time of all searches that is gone after it.
    """

    breadth: Breadth
    enough: tuple[float, ...]
    done: float


SEARCHES = (
    Search(NARROW, (inf, 0.65, 0.72), 0.1),
    Search(QUICK, (0.8, 0.6), 0.3),
    Search(SPREAD, (0.5, 0.0), 0.55),
    Search(WIDE, (0.0,), 1.0),
)
"""Searches for the game, one after the other."""
_SKETCHED = 2
"""Of these the ones that make a sketch."""


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
        belief: for each ply, the probability that it was played in its position, 0 to 1. It may rise again: after two
            moves in the other order the game is in the same position.
        cost: of the reading that it comes from, in nats.
        candidates: for each ply that nobody spoke, what it may have been, its own move first; empty for the others.
        whole: whether all that was taken for moves of the game can be played; else the game ends before it.
    """

    moves: tuple[str, ...]
    belief: tuple[float, ...]
    cost: float
    candidates: tuple[tuple[Candidate, ...], ...] = ()
    whole: bool = True


class GameFinder:
    """Finds the game of one talk, again and again as more is settled; what fits where stays known between searches.

    Args:
        speech: what was heard.
        start: position the game starts from.
        prices: of the mode "game".
        cast: words that say who moves, with their side.
        opinion: an engine's, of moves that nobody spoke; None for none.
        breadth: of the one search; None for as many of `SEARCHES` as it takes.
    """

    def __init__(
        self,
        speech: Speech,
        start: chess.Board,
        prices: Prices,
        cast: Mapping[str, bool],
        opinion: Opinion | None = None,
        breadth: Breadth | None = None,
    ) -> None:
        self._speech = speech
        self._prices = prices
        self._found: dict[Course, FoundGame] = {}
        self._lines = Lines(start, ())
        self._fits = Fits(self._lines, prices, cast)
        self._amender = Amender(self._fits)
        self._closing = Closing(self._fits, self._amender, opinion, speech.statements)
        self._steps = Steps(self._fits, prices, self._amender)
        self._settled: tuple[list[LineNode], list[LineNode]] = ([], [])
        self._searched: tuple[Course, list[Hypothesis]] | None = None
        self._breadth = breadth or QUICK
        self._chosen = breadth is not None  # whether it is settled how broad searches are
        self._looked: tuple[Course, list[Evidence]] = Course(), []  # what the first searches found, and for what course
        self._other: Evidence | None = None  # of these the next best

    def find(self, course: Course | None = None, progress: Callable[[float], None] | None = None) -> FoundGame:
        """The game that explains the talk best.

        Args:
            course: what is settled about it.
            progress: told the share done, 0 to 1.
        """
        course = course or Course()
        found = self._found.get(course)
        if found is None:
            found = self._refilled(course, progress) or self._weighed(self.evidence(course, progress), course)
            self._found[course] = found
        return found

    def sketch(self, progress: Callable[[float], None] | None = None) -> FoundGame:
        """The game by the first searches alone, with which parts of a talk are compared; `find` goes on from them.

        Args:
            progress: told the share done, 0 to 1.
        """
        if self._chosen:
            return self.find(progress=progress)
        return self._weighed(self._look(_SKETCHED, Course(), progress), Course())

    def evidence(self, course: Course | None = None, progress: Callable[[float], None] | None = None) -> Evidence:
        """The same with what there is to judge it by, before it is weighed.

        The first time searches follow each other, each broader than the one before, until one leaves little doubt; the
        game counts that explains the talk at least cost. Later ones are as broad as its own.
        """
        course = course or Course()
        if self._chosen:
            return self._compared(self._evidence(course, progress))
        found = self._look(len(SEARCHES), course, progress)
        self._chosen = True
        return found

    def _look(self, most: int, course: Course, progress: Callable[[float], None] | None) -> Evidence:
        """What the first searches find, no more than so many."""
        if self._looked[0] != course:
            self._looked = course, []
        looks = self._looked[1]
        while len(looks) < most and not (looks and self._leaves_little_doubt(looks)):
            begun = SEARCHES[len(looks) - 1].done if looks else 0.0
            search, before = SEARCHES[len(looks)], (self._searched, self._breadth)
            self._searched, self._breadth = None, search.breadth
            evidence = self._evidence(course, share_of(progress, begun, search.done))
            evidence = replace(evidence, narrower=self._narrower(evidence))
            self._breadth = replace(search.breadth, within=())  # later searches ask no more whether to go on
            if looks and evidence.cost >= min(looks, key=_nats).cost:
                self._searched, self._breadth = before  # of the others nothing is kept but what they found
            looks.append(evidence)
        best, *others = sorted(looks, key=_nats)
        self._other = others[0] if others else None
        return self._compared(best)

    def _leaves_little_doubt(self, looks: Sequence[Evidence]) -> bool:
        """Whether the game found so far is sure enough that no other search is worth its time."""
        best, *others = sorted(looks, key=_nats)
        own = set(self._played(best.moves))
        games = [*best.narrower, *(other.moves for other in others)]
        same = sum(len(own & set(self._played(game))) >= _SAME * max(len(own), len(game), 1) for game in games)
        enough = SEARCHES[len(looks) - 1].enough
        return sureness(best, self._prices.table) >= enough[min(same, len(enough) - 1)]

    def _evidence(self, course: Course, progress: Callable[[float], None] | None) -> Evidence:
        """What one search finds."""
        end = self._ends(course, progress)[0]
        settled = [chess.Move.from_uci(uci) for uci in course.line]
        closed = self._closing.close(end, settled) or self._closing.close(end)
        assert closed is not None
        return self._judged(closed)

    def _compared(self, evidence: Evidence) -> Evidence:
        """The same with what the next best search found."""
        if self._other is None:
            return evidence
        theirs = set(self._played(self._other.moves))
        dearer = max(self._other.cost - evidence.cost, 0.0)
        return replace(evidence, second=tuple((place in theirs, dearer) for place in self._played(evidence.moves)))

    def _played(self, moves: Sequence[str]) -> Iterator[tuple[int, str]]:
        """The moves of a game, each with the number of the position that it is played in."""
        node = self._lines.root
        for uci in moves:
            yield node.place, uci
            node = self._lines.after(node, chess.Move.from_uci(uci))

    def _judged(self, closed: Closed) -> Evidence:
        assert self._searched is not None
        ends = self._searched[1]
        moves = tuple(move.uci() for move in closed.moves)
        share = _belief(ends, self._prices.sharpness)[: len(moves)]
        explained, cost = explained_by(ends[0], len(moves)), ends[0].cost
        stretches = len(self._speech.stretches)
        return Evidence(moves, share, explained, cost, closed.candidates, closed.whole, stretches=stretches)

    def _narrower(self, found: Evidence) -> tuple[tuple[str, ...], ...]:
        """The games that narrower beams would have found; none for one that did not come to the end."""
        assert self._searched is not None
        ends, games = self._searched[1], []
        for place in range(len(self._breadth.within)):
            there = [end for end in ends if end.narrowly and end.narrowly[place] < inf]
            end = min(there, key=lambda end: end.narrowly[place], default=None)
            closed = self._closing.close(end) if end is not None and end is not ends[0] else None
            moves = () if closed is None else tuple(move.uci() for move in closed.moves)
            games.append(found.moves if end is ends[0] else moves)
        return tuple(games)

    def _weighed(self, evidence: Evidence, course: Course) -> FoundGame:
        belief = trusted(evidence, self._prices.table)
        settled = len(course.line)
        belief = tuple(1.0 if ply < settled else share for ply, share in enumerate(belief))
        return FoundGame(evidence.moves, belief, evidence.cost, evidence.candidates, evidence.whole)

    def _refilled(self, course: Course, progress: Callable[[float], None] | None) -> FoundGame | None:
        """The game as it is without what is settled of unspoken plies, only these filled in as they are settled.

        None where the rest could then not be played as it was told, so that the talk must be searched again.
        """
        told = max((ply for _, ply in course.told), default=0)
        unsaid = tuple(ply for ply in course.unsaid if ply <= told)
        if unsaid == course.unsaid:
            return None
        before = replace(course, line=course.line[:told], unsaid=unsaid)
        whole = self.find(before, progress)
        closed = self._closing.close(self._ends(before)[0], [chess.Move.from_uci(uci) for uci in course.line])
        if closed is None or not whole.moves or len(closed.moves) < len(whole.moves):
            return None
        found = self._weighed(self._compared(self._judged(closed)), course)
        settled = len(course.line)
        so_far = list(accumulate(found.belief, min))
        doubt = min(whole.belief[: min(settled, len(whole.belief))])  # which is settled now
        rest = (max(own, min(least / doubt, 1.0)) for own, least in zip(found.belief, so_far, strict=True))
        belief = (1.0 if ply < settled else share for ply, share in enumerate(rest))
        return replace(found, belief=tuple(belief))

    def _ends(self, course: Course, progress: Callable[[float], None] | None = None) -> list[Hypothesis]:
        """How the search under what is settled ended; only the latest is kept."""
        if self._searched is None or self._searched[0] != course:
            self._searched = course, self._search(course, progress)
        return self._searched[1]

    def _search(self, course: Course, progress: Callable[[float], None] | None) -> list[Hypothesis]:
        root = self._lines.root
        line = self._settled_line(course)
        unsaid = [line[ply] for ply in course.unsaid]
        if (line[1:], unsaid) != self._settled:
            known = {node.number: after for node, after in zip(line, line[1:], strict=False)}
            self._steps = Steps(self._fits, self._prices, self._amender, unsaid, known)
            self._settled = line[1:], unsaid
        search = GameSearch(self._speech, self._steps, self._breadth, self._constraint(course))
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


def _nats(evidence: Evidence) -> float:
    return evidence.cost


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

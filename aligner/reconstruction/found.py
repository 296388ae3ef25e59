"""The game that a talk tells of, with how sure each of its plies is."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import accumulate
from math import inf
from statistics import fmean
from types import MappingProxyType

import chess

from aligner.prices.prices import Prices
from aligner.progress import share_of
from aligner.reconstruction.breadth import DEEP, DICTATED, FULL, NARROW, Breadth
from aligner.reconstruction.closing import Candidate, Opinion
from aligner.reconstruction.trust import Evidence, sureness, trusted
from aligner.reconstruction.valued import Course, ValuedSearch
from aligner.search.lines import LineNode
from aligner.search.plies import AT_A_GLANCE, WORKED_OUT, Valuation
from aligner.search.reading import Reading
from aligner.speech.leanings import with_leanings
from aligner.speech.listen import Speech

_SAME = 0.97
"""Share of their plies that two games have in common that count as the same."""

_MIGHT_BE = frozenset({"suppose", "could", "instead"})
"""Cues of moves that were not played."""

VALUATIONS: Mapping[str, Valuation] = MappingProxyType({"game": AT_A_GLANCE, "exchange": WORKED_OUT})
"""Ways to value moves, by the mode of their prices. They err in other places, so both are asked."""


@dataclass(frozen=True, slots=True)
class Search:
    """One of the searches for the game that follow each other.

    Attributes:
        breadth: how broad it is.
        enough: how sure the game found so far must be after it that no other search follows, 0 to 1: where no other
            search found the same game, where one did, and so on; the last where more did. None counts where all
            narrower beams within the search lost the game.
        done: share of the time of all searches that is gone after it.
        mode: of its prices, one of `VALUATIONS`.
    """

    breadth: Breadth
    enough: tuple[float, ...] = (0.0,)
    done: float = 1.0
    mode: str = "game"


SEARCHES = (
    Search(NARROW, (inf,), 0.05),
    Search(NARROW, (inf, 0.7), 0.1, "exchange"),
    Search(FULL, (0.8, 0.6), 0.25, "exchange"),
    Search(FULL, (0.8, 0.6), 0.4),
    Search(DEEP, (0.5, 0.4), 0.7),
    Search(DEEP, mode="exchange"),
)
"""Searches for the game, one after the other."""
_SKETCHED = 3
"""Of these the ones that make a sketch."""
_IN_A_ROW, _DICTATED = 2.2, 0.9
"""Words for each place where a move may be told, at most, and the share of these that tell the game's next one, at
least, in a talk that is nothing but the game's moves: behind a row of commas these would else pass for a sideline."""


@dataclass(frozen=True, slots=True)
class _Look:
    """A search with what it found."""

    search: Search
    evidence: Evidence


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
        prices: gives those of a mode.
        cast: words that say who moves, with their side.
        opinion: an engine's, of moves that nobody spoke; None for none.
        only: the one search; None for as many of `SEARCHES` as it takes.
    """

    def __init__(
        self,
        speech: Speech,
        start: chess.Board,
        prices: Callable[[str], Prices],
        cast: Mapping[str, bool],
        opinion: Opinion | None = None,
        only: Search | None = None,
    ) -> None:
        self._prices = prices
        self._table = prices("game").table
        self._found: dict[Course, FoundGame] = {}
        speech = with_leanings(speech)
        self._in_a_row = _in_a_row(speech)
        self._ready = partial(ValuedSearch, speech, start, cast=cast, opinion=opinion)
        self._ways: dict[str, ValuedSearch] = {}
        self._chosen = only
        self._looked: tuple[Course, list[_Look]] = Course(), []  # what searches found, and for what course
        self._other: Evidence | None = None  # of these the next best
        self._shift = 0.0  # nats by which the cost of the best in all ways differs from that in its own

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
        self._chosen = self._chosen or self._dictated(Course())
        if self._chosen is not None:
            return self.find(progress=progress)
        self._look(_SKETCHED, Course(), progress)
        looks = self._looked[1]
        cost = self._costs(self._ranked(looks)[0], looks)["game"]  # however many ways were asked, one is compared
        return replace(self._weighed(self._best()[1], Course()), cost=cost)

    def evidence(self, course: Course | None = None, progress: Callable[[float], None] | None = None) -> Evidence:
        """The same with what there is to judge it by, before it is weighed.

        The first time searches follow each other until one leaves little doubt; the game counts that explains the talk
        at least cost, in the mean of the ways to value moves that were asked. Later ones are as the one that found it.
        """
        course = course or Course()
        self._chosen = self._chosen or self._dictated(course)
        if self._chosen is None:
            self._look(len(SEARCHES), course, progress)
            search, found = self._best()
            # later ones ask no more whether to go on
            self._chosen = replace(search, breadth=replace(search.breadth, within=()))
            return found
        return self._compared(self._way(self._chosen).evidence(course, self._chosen.breadth, progress))

    def _dictated(self, course: Course) -> Search | None:
        """The search that hears nothing but the game's moves, where the talk is little else."""
        search = Search(DICTATED)
        if self._in_a_row and self._way(search).told(course, DICTATED) >= _DICTATED:
            return search
        self._in_a_row = False  # so that nobody searches for it again
        return None

    def _way(self, search: Search) -> ValuedSearch:
        if search.mode not in self._ways:
            prices, valuation = self._prices(search.mode), VALUATIONS[search.mode]
            self._ways[search.mode] = self._ready(prices=prices, valuation=valuation)
        return self._ways[search.mode]

    def _look(self, most: int, course: Course, progress: Callable[[float], None] | None) -> None:
        """Search until there is little doubt, no more than so many times."""
        if self._looked[0] != course:
            self._looked = course, []
        looks = self._looked[1]
        while len(looks) < most and not (looks and self._leaves_little_doubt(looks)):
            begun = SEARCHES[len(looks) - 1].done if looks else 0.0
            search = SEARCHES[len(looks)]
            way = self._way(search)
            before = way.latest
            evidence = way.evidence(course, search.breadth, share_of(progress, begun, search.done))
            if any(one.search.mode == search.mode and one.evidence.cost <= evidence.cost for one in looks):
                way.latest = before  # of a dearer one nothing is kept but what it found
            looks.append(_Look(search, evidence))

    def _best(self) -> tuple[Search, Evidence]:
        """The search that found the best game so far, with what it found."""
        looks = self._looked[1]
        best, *others = self._ranked(looks)
        self._other = others[0].evidence if others else None
        if self._other is not None:
            self._other = replace(self._other, cost=self._nats(others[0], looks))
        self._shift = self._nats(best, looks) - best.evidence.cost
        return best.search, self._compared(best.evidence)

    def _ranked(self, looks: Sequence[_Look]) -> list[_Look]:
        """The looks, the best first."""
        return sorted(looks, key=lambda look: self._nats(look, looks))

    def _nats(self, look: _Look, looks: Sequence[_Look]) -> float:
        """What the game of one of the looks costs, in the mean of the ways to value moves that were asked."""
        return fmean(self._costs(look, looks).values())

    def _costs(self, look: _Look, looks: Sequence[_Look]) -> dict[str, float]:
        """What the game of one of the looks costs, by the mode of each way to value moves that was asked.

        A beam may lose even a game that it is told. What that costs there is guessed from its cost in the mode it was
        found in, by how much dearer the games of the other looks are; as dear, where none of them tells.
        """
        costs, own = self._reached(look, looks), look.search.mode
        for mode in {one.search.mode for one in looks} - costs.keys():
            reached = [self._reached(one, looks) for one in looks]
            dearer = [each[mode] - each[own] for each in reached if mode in each and own in each]
            costs[mode] = costs[own] + (fmean(dearer) if dearer else 0.0)
        return costs

    def _reached(self, look: _Look, looks: Sequence[_Look]) -> dict[str, float]:
        """The same, without the modes in which the beam loses that game."""
        moves = look.evidence.moves
        costs = {}
        for mode in sorted({one.search.mode for one in looks}):
            found = [one.evidence.cost for one in looks if one.search.mode == mode and one.evidence.moves == moves]
            whole = look.evidence.whole
            cost = min(found) if found else self._ways[mode].cost_of(moves, self._looked[0], whole=whole)
            if cost < inf:
                costs[mode] = cost
        return costs

    def _leaves_little_doubt(self, looks: Sequence[_Look]) -> bool:
        """Whether the game found so far is sure enough that no other search is worth its time."""
        enough = SEARCHES[len(looks) - 1].enough
        games = [set(self._played(look.evidence.moves)) for look in looks]
        same = [sum(_alike(own, game) for game in games) - 1 for own in games]
        for place, look in enumerate(looks):
            narrower = [set(self._played(moves)) for moves in look.evidence.narrower]
            if narrower and not any(_alike(games[place], game) for game in narrower):
                same[place] = 0  # so unsteady that it says little if another search found it too
        least = [enough[min(others, len(enough) - 1)] for others in same]
        if min(least) == inf:
            return False  # known before the costs by the other way are worked out
        best = self._ranked(looks)[0]
        return sureness(best.evidence, self._table) >= least[looks.index(best)]

    def _compared(self, evidence: Evidence, guessed: tuple[str, ...] = ()) -> Evidence:
        """The same with what the next best search found, at the cost in the mean of the ways.

        Args:
            guessed: the game with what is settled left open, where unspoken plies are settled: a search that knew of
                none of it agrees with that or not.
        """
        evidence = replace(evidence, cost=evidence.cost + self._shift)
        if self._other is None:
            return evidence
        theirs = set(self._played(self._other.moves))
        dearer = max(self._other.cost - evidence.cost, 0.0)
        own = guessed if len(guessed) == len(evidence.moves) else evidence.moves
        return replace(evidence, second=tuple((place in theirs, dearer) for place in self._played(own)))

    def _played(self, moves: Sequence[str]) -> Iterator[tuple[int, str]]:
        """The moves of a game, each with the number of the position that it is played in."""
        way = next(iter(self._ways.values()))
        return way.played(moves)

    def _weighed(self, evidence: Evidence, course: Course) -> FoundGame:
        belief = trusted(evidence, self._table)
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
        assert self._chosen is not None
        evidence = self._way(self._chosen).refilled(before, course, self._chosen.breadth)
        if evidence is None or not whole.moves or len(evidence.moves) < len(whole.moves):
            return None
        found = self._weighed(self._compared(evidence, whole.moves), course)
        settled = len(course.line)
        so_far = list(accumulate(found.belief, min))
        doubt = min(whole.belief[: min(settled, len(whole.belief))])  # which is settled now
        rest = (max(own, min(least / doubt, 1.0)) for own, least in zip(found.belief, so_far, strict=True))
        belief = (1.0 if ply < settled else share for ply, share in enumerate(rest))
        return replace(found, belief=tuple(belief))


def _in_a_row(speech: Speech) -> bool:
    """Whether a talk is little but moves, and none of them is one that might have been."""
    if len(speech.words) >= _IN_A_ROW * len(speech.stretches):
        return False
    signs = {sign for stretch in speech.stretches for spoken in stretch.spoken for sign in spoken.signs}
    return not any(sign.rpartition(".")[2] in _MIGHT_BE for sign in signs)


def _alike(one: set[tuple[int, str]], other: set[tuple[int, str]]) -> bool:
    """Whether two games count as the same, by their moves and where these are played."""
    return len(one & other) >= _SAME * max(len(one), len(other), 1)


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

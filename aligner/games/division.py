"""A talk divided into the parts that tell of one game each. One game is the rule: a division has to be earned."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import takewhile

from aligner.games.beginnings import Beginning, score_beginnings
from aligner.games.part import Part, heard
from aligner.pgn.score import Score
from aligner.reconstruction.found import FoundGame
from aligner.search.evidence import Evidence, agreement
from aligner.speech.listen import Speech

_MOST_BEGINNINGS = 40
_MOST_SCORES = 12
"""Bounds on what is tried, so that a long talk of one game and a thick file of scores cost little."""
_LEAST_MATCHED = 6
"""Moves of its score, in order, that a part must speak of."""
_EARNED, _EARNED_UNANNOUNCED = 6, 12
"""Moves spoken of in order that one more game must bring beyond those of the division without it, where words announce
it and where none do."""
_MOSTLY = 0.4
"""Share of its score that a part must speak of which no words announce."""
_CLEARLY = 1.5
"""So many times the share of its own score that it has of any other part's must a part speak of."""

_TOLD, _TOLD_UNANNOUNCED = 3, 6
"""Plies told from the start position where a game may begin without a score: where words announce it, where none do."""
_LEAST_PLIES = 8
"""Of a game found in a part."""
_LEAST_BELIEF = 0.5
"""In the first so many plies of it."""


@dataclass(frozen=True, slots=True)
class Told:
    """A part and the score that fits it.

    Attributes:
        part: of the talk.
        score: of the game that it tells of.
    """

    part: Part
    score: Score


@dataclass(frozen=True, slots=True)
class _Way:
    """Parts up to some place.

    Attributes:
        worth: moves matched, less what games must earn.
        announced: parts whose beginning is announced.
        parts: with their scores' places in the file.
    """

    worth: float
    announced: int
    parts: tuple[tuple[Part, int], ...]

    @property
    def order(self) -> tuple[float, int, tuple[int, ...]]:
        """The better, the larger: what is said last of a game, looking back, stays with it."""
        return self.worth, self.announced, tuple(part.first for part, _ in self.parts)


def divide_by_scores(speech: Speech, scores: Sequence[Score], places: Sequence[Beginning]) -> tuple[Told, ...]:
    """The parts of a talk, each with another score of the file; empty where the talk is of one game.

    Dynamic programming over the places where a game may begin: parts earn the moves that they speak of in their score's
    order, and each further game costs as many as it must bring.
    """
    if len(scores) < 2:
        return ()
    whole = Part(0, len(speech.words))
    rated = _Rated(speech, scores)
    matched = {place: rated.of(whole, place).matched for place in range(len(scores))}
    likely = sorted((place for place in matched if matched[place] >= _LEAST_MATCHED), key=lambda p: (-matched[p], p))
    likely = likely[:_MOST_SCORES]
    if len(likely) < 2:
        return ()
    announced = {one.word for one in places if one.announced}
    told = {one.word for one in score_beginnings(speech, [scores[place] for place in likely])}
    if len(announced | told) > _MOST_BEGINNINGS:
        told = set()
    bounds = [0, *sorted(announced | told)[:_MOST_BEGINNINGS], len(speech.words)]
    best: dict[int, dict[frozenset[int], _Way]] = {0: {frozenset(): _Way(0.0, 0, ())}}
    for at, past in enumerate(bounds[1:], start=1):
        ways = best.setdefault(at, {})
        for before in range(at):
            part = Part(bounds[before], past)
            for place in likely:
                evidence = rated.of(part, place)
                mostly = 0.0 if part.first in announced or not part.first else _MOSTLY
                if evidence.matched < max(_LEAST_MATCHED, mostly * evidence.plies) or not evidence.fits:
                    continue
                for used, way in best[before].items():
                    if place in used:
                        continue
                    price = _EARNED if part.first in announced else _EARNED_UNANNOUNCED
                    worth = way.worth + evidence.matched - (price if used else 0)
                    words = way.announced + (part.first in announced)
                    new = _Way(worth, words, (*way.parts, (part, place)))
                    old = ways.get(used | {place})
                    if old is None or new.order >= old.order:
                        ways[used | {place}] = new
    ends = best[len(bounds) - 1].values()
    found = max(ends, key=lambda one: one.order, default=_Way(0.0, 0, ()))
    if len(found.parts) < 2 or found.worth <= max(matched.values()) or not _clear(rated, found):
        return ()
    return tuple(Told(part, scores[place]) for part, place in found.parts)


def _clear(rated: _Rated, way: _Way) -> bool:
    """Whether each part speaks clearly more of its own score than of those of the other parts."""
    for part, own in way.parts:
        share = rated.of(part, own).share
        if any(share < _CLEARLY * rated.of(part, other).share for _, other in way.parts if other != own):
            return False
    return True


class _Rated:
    """How parts and scores agree, each pair looked at once."""

    def __init__(self, speech: Speech, scores: Sequence[Score]) -> None:
        self._speech = speech
        self._scores = scores
        self._known: dict[tuple[Part, int], Evidence] = {}

    def of(self, part: Part, place: int) -> Evidence:
        known = self._known.get((part, place))
        if known is None:
            score = self._scores[place]
            known = agreement(heard(self._speech, part), score.start_fen, score.moves)
            self._known[part, place] = known
        return known


def likely_without_score(places: Sequence[Beginning]) -> list[int]:
    """First words of the games that may begin in a talk without a score: first moves must be told there."""
    return [one.word for one in places if one.told >= (_TOLD if one.announced else _TOLD_UNANNOUNCED)]


def divide_by_games(
    words: int, places: Sequence[int], find: Callable[[Part], FoundGame], price: float, alike: float
) -> tuple[Part, ...]:
    """The parts of a talk in which different games are found; empty where one game explains it as well.

    Args:
        words: of the talk.
        places: first words of the games that may begin.
        find: the game of a part, for all by the same searches, as far as each needs them: what they cost is compared.
        price: of one more game, in nats.
        alike: of each ply with which it begins like the game before, in nats; moves that are told twice are mostly told
            of one game.
    """
    parts: list[Part] = []
    first = 0
    for number, place in enumerate(places):
        before = Part(first, place)
        # the next place may be one where this game's first moves are told, after a word about the players
        for past in [*places[number + 1 :], words][:2]:
            later = find(Part(place, past))
            if len(later.moves) >= _LEAST_PLIES and later.belief[_LEAST_PLIES - 1] >= _LEAST_BELIEF:
                break
        else:
            continue
        earlier = find(before)
        if len(earlier.moves) < _LEAST_PLIES:
            continue
        pairs = zip(earlier.moves, later.moves, strict=False)
        same = sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], pairs))
        if earlier.cost + later.cost + price + same * alike <= find(Part(first, past)).cost:
            parts.append(before)
            first = place
    return (*parts, Part(first, words)) if parts else ()

"""What is doubtful in a reading, in the order of how much a person's answer would clear up.

Whole readings are drawn from the search's last lattice, each as often as its probability says (forward filtering,
backward sampling; Frühwirth-Schnatter 1994). The worth of asking about some words is how many more decisions would then
be right, on average over the answers and with every decision taken as the readings that agree with the answer
mostly take it: the expected value of perfect information (Howard 1966), counted in mentions.
"""

from __future__ import annotations

import random
from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate
from math import exp

from aligner.search.lattice import forward
from aligner.search.lines import LineNode
from aligner.search.reading import Choice, Reading
from aligner.search.state import Decision, State
from aligner.speech.listen import Speech

SAMPLES = 300
_SEED = 1
SETTLED_FROM = 0.97
"""From this probability on a decision is not asked about."""
_LEAST_SHARE = 0.015
"""Share of the drawn readings below which an answer is not offered."""
_MOST_ANSWERS = 8
_SHRINK = 1.0
"""Readings by which every answer's group is thought smaller: few readings agree with each other by chance."""

Key = tuple[int, ...]
"""Numbers of the nodes that words speak of; empty where they speak of no move."""


@dataclass(frozen=True, slots=True)
class Answer:
    """One way to settle a doubt.

    Attributes:
        nodes: the moves that the words speak of; empty where they speak of none.
        again: whether they are only looked back at.
        in_game: whether the last is a move of the game.
        probability: of this answer.
        changes: other decisions that would change with it: (place in the reading's choices, what they would become).
    """

    nodes: tuple[LineNode, ...]
    again: bool
    in_game: bool
    probability: float
    changes: tuple[tuple[int, tuple[LineNode, ...]], ...] = ()


@dataclass(frozen=True, slots=True)
class Doubt:
    """Words whose decision is doubtful.

    Attributes:
        place: of the decision in the reading's choices.
        words: half-open range of words.
        answers: likeliest first; the first is not always what the best reading says.
        worth: how many decisions more would be right after an answer, on average.
    """

    place: int
    words: tuple[int, int]
    answers: tuple[Answer, ...]
    worth: float


@dataclass(frozen=True, slots=True)
class Drawn:
    """One reading drawn from the lattice, seen at the places of the best reading.

    Attributes:
        keys: for each choice of the best reading, what the words speak of in this one.
        decisions: the same as decisions; None where they are passed over.
        heads: positions that the game has reached after each.
    """

    keys: tuple[Key, ...]
    decisions: tuple[Decision | None, ...]
    heads: tuple[LineNode | None, ...]


def doubts(
    speech: Speech, reading: Reading, ends: Sequence[State], sharpness: float, settled: Sequence[tuple[int, int]] = ()
) -> tuple[Doubt, ...]:
    """The doubtful decisions of a reading, the one most worth asking about first.

    Args:
        speech: the talk as the search heard it.
        reading: its best reading.
        ends: how the search ended.
        sharpness: what costs are multiplied with before they become probabilities.
        settled: ranges of words that are settled already.
    """
    drawn = draw(speech, reading.choices, ends, sharpness)
    size = len(drawn)
    columns = [[one.keys[place] for one in drawn] for place in range(len(reading.choices))]
    counted = [Counter(column) for column in columns]
    tops = [max(count.values()) for count in counted]
    wavering = [place for place, top in enumerate(tops) if top < size]
    found: list[Doubt] = []
    for place in wavering:
        words = reading.choices[place].words
        if tops[place] > SETTLED_FROM * size or any(words[0] < past and first < words[1] for first, past in settled):
            continue
        groups: dict[Key, list[int]] = defaultdict(list)
        for index, key in enumerate(columns[place]):
            groups[key].append(index)
        # for each answer and other place: what the readings that give the answer take it for, most frequent last
        joint: dict[Key, dict[int, tuple[int, Key]]] = {key: {} for key in groups}
        for other in wavering:
            for (key, became), count in Counter(zip(columns[place], columns[other], strict=True)).items():
                joint[key][other] = max(joint[key].get(other, (0, ())), (count, became))
        after = 0.0
        answers: list[Answer] = []
        for key, members in groups.items():
            answer, right = _answer(place, members, joint[key], counted, tops, drawn)
            after += right
            answers.append(answer)
        worth = after - sum(tops[other] for other in wavering) / size
        answers.sort(key=lambda answer: (-answer.probability, [node.number for node in answer.nodes]))
        kept = [answer for answer in answers if answer.probability >= _LEAST_SHARE][:_MOST_ANSWERS]
        found.append(Doubt(place, words, tuple(kept), worth))
    return tuple(sorted(found, key=lambda doubt: (-doubt.worth, doubt.place)))


def _answer(
    place: int,
    members: Sequence[int],
    joint: Mapping[int, tuple[int, Key]],
    counted: Sequence[Counter[Key]],
    tops: Sequence[int],
    drawn: Sequence[Drawn],
) -> tuple[Answer, float]:
    """An answer as the readings that give it have it, and how many decisions would be right with it, by its share."""
    size, share = len(drawn), len(members)
    right = 0.0
    changes: list[tuple[int, tuple[LineNode, ...]]] = []
    for other, (count, key) in joint.items():
        # as if one reading of the whole lot stood in every group too
        right += count - _SHRINK * (count / share - tops[other] / size) if other != place else count
        if other != place and 2 * count > share and 2 * counted[other][key] <= size:
            decision = next(drawn[i].decisions[other] for i in members if drawn[i].keys[other] == key)
            changes.append((other, decision.nodes if decision is not None else ()))
    one = drawn[members[0]]
    decision, head = one.decisions[place], one.heads[place]
    nodes = decision.nodes if decision is not None else ()
    again = sum(_is_again(drawn[index].decisions[place]) for index in members) * 2 > share
    in_game = bool(nodes) and head is not None and head.follows(nodes[-1])
    return Answer(nodes, again, in_game, share / size, tuple(changes)), right / size


def _is_again(decision: Decision | None) -> bool:
    return decision is not None and decision.kind == "again"


def draw(
    speech: Speech, choices: Sequence[Choice], ends: Sequence[State], sharpness: float, samples: int = SAMPLES
) -> list[Drawn]:
    """Readings drawn from the lattice by their probability; the same lattice gives the same ones."""
    weight = forward(ends, sharpness)
    chance = random.Random(_SEED)
    by_word: dict[int, int] = {}
    for place, choice in enumerate(choices):
        for word in range(*choice.words):
            by_word[word] = place
    where: dict[int, tuple[Key, tuple[int, ...]]] = {}
    arcs_of: dict[int, list[float]] = {}
    first = _cumulative([weight[id(end)] for end in ends])
    drawn: list[Drawn] = []
    for _ in range(samples):
        keys: list[Key] = [()] * len(choices)
        decisions: list[Decision | None] = [None] * len(choices)
        heads: list[LineNode | None] = [None] * len(choices)
        state = ends[bisect_left(first, chance.random() * first[-1])]
        while state.arcs:
            if len(state.arcs) == 1:
                before, decision = state.arcs[0]
            else:
                sums = arcs_of.get(id(state))
                if sums is None:
                    sums = _cumulative([weight[id(arc)] - one.cost * sharpness for arc, one in state.arcs])
                    arcs_of[id(state)] = sums
                before, decision = state.arcs[bisect_left(sums, chance.random() * sums[-1])]
            if decision.nodes and decision.spoken is not None:
                known = where.get(id(decision))
                if known is None:
                    words = range(*speech.span(decision.spoken.phrase))
                    covered = tuple(sorted({by_word[word] for word in words if word in by_word}))
                    known = tuple(node.number for node in decision.nodes), covered
                    where[id(decision)] = known
                for place in known[1]:
                    keys[place], decisions[place], heads[place] = known[0], decision, state.head
            state = before
        drawn.append(Drawn(tuple(keys), tuple(decisions), tuple(heads)))
    return drawn


def _cumulative(logarithms: Sequence[float]) -> list[float]:
    top = max(logarithms)
    return list(accumulate(exp(value - top) for value in logarithms))

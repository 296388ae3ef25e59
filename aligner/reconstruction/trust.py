"""How far a game that was found is to be trusted: what speaks for each of its plies, weighed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import accumulate
from math import exp, log

from aligner.reconstruction.closing import Candidate
from aligner.reconstruction.gaps import is_plain
from aligner.reconstruction.hypothesis import Hypothesis
from aligner.speech.description import Terms

SOON = 24
"""Plain descriptions of moves that come soon after a ply."""
USUAL_SHARE = 0.7
"""Of plain descriptions, the share that usually speaks of some move: the middle that trust is counted from."""

FLOOR = "trust.floor"
"""In the price table, the least probability of any ply of a found game."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """A game found in a talk and what there is to judge it by.

    Attributes:
        moves: in UCI, from the start position.
        shares: for each ply, the share of the surviving hypotheses, by their weight, that have the game so far.
        explained: for each ply, of the plain descriptions of moves that are told from it on the share that speaks of
            some move of the game or of a line: (of the next `SOON`, of all); a wrong game soon explains less.
        cost: in nats.
        candidates: as in `FoundGame`.
        whole: as in `FoundGame`.
        narrower: the games, in UCI, that narrower beams would have found.
        second: for each ply, what another search found: (whether its game has the move in the same position, how many
            nats dearer that game is); empty where one search left little doubt.
        stretches: of the talk, in which a move may be spoken of.
    """

    moves: tuple[str, ...]
    shares: tuple[float, ...]
    explained: tuple[tuple[float, float], ...]
    cost: float
    candidates: tuple[tuple[Candidate, ...], ...] = ()
    whole: bool = True
    narrower: tuple[tuple[str, ...], ...] = ()
    second: tuple[tuple[bool, float], ...] = ()
    stretches: int = 1


def explained_by(end: Hypothesis, plies: int) -> tuple[tuple[float, float], ...]:
    """How much of the talk each of a game's first plies explains, as in `Evidence`, by the way that led to its end."""
    told = [
        (step.head.ply, step.kind != "none")
        for step in end.steps
        if step.spoken is not None and not step.spoken.inside and is_plain(step.spoken)
    ]
    told.reverse()
    found: list[tuple[float, float]] = []
    for ply in range(plies):
        rest = [explains for reached, explains in told if reached > ply]
        soon = rest[:SOON]
        found.append((sum(soon) / len(soon) if soon else USUAL_SHARE, sum(rest) / len(rest) if rest else USUAL_SHARE))
    return tuple(found)


def trust_terms(
    share: float, explained: tuple[float, float], nats: float = 0.0, second: tuple[bool, float] | None = None
) -> Terms:
    """What the trust in a ply rests on, as terms of a logistic regression.

    Args:
        share: as in `Evidence`, of the ply.
        explained: likewise.
        nats: that a stretch of the talk costs in the mean.
        second: as in `Evidence`, of the ply; None for none.
    """
    bounded = min(max(share, 0.001), 0.999)
    soon, rest = explained
    agrees, dearer = second or (False, 0.0)
    differs = second is not None and not agrees
    return (
        ("trust", 1.0),
        ("trust.share", log(bounded / (1.0 - bounded))),
        ("trust.soon", soon - USUAL_SHARE),
        ("trust.rest", rest - USUAL_SHARE),
        ("trust.nats", nats),
        ("trust.agrees", float(agrees)),
        ("trust.differs", float(differs)),
        ("trust.differs_nats", log(1.0 + dearer) if differs else 0.0),
    )


def trust_cases(evidence: Evidence) -> list[Terms]:
    """What the trust in each ply rests on."""
    second = evidence.second or (None,) * len(evidence.moves)
    nats = evidence.cost / max(evidence.stretches, 1)
    each = zip(evidence.shares, evidence.explained, second, strict=True)
    return [trust_terms(share, explained, nats, other) for share, explained, other in each]


def trusted(evidence: Evidence, table: Mapping[str, float]) -> tuple[float, ...]:
    """For each ply the probability that it was played in its position.

    The hypotheses that survive agree on more than they should, for all others are gone; so their shares are weighed
    together with how much of the talk the game explains, and how cheaply, and whether another search found the same.
    However much speaks against a ply, it is right at least as often as chance has it, the lower asymptote of a
    psychometric function (https://en.wikipedia.org/wiki/Psychometric_function). Fitted by `tests/measure/fit_trust.py`.
    """
    least = table.get(FLOOR, 0.0)
    weights = (sum(table.get(name, 0.0) * amount for name, amount in terms) for terms in trust_cases(evidence))
    return tuple(least + (1.0 - least) / (1.0 + exp(-weight)) for weight in weights)


def sureness(evidence: Evidence, table: Mapping[str, float]) -> float:
    """How sure one search is of the game it found, 0 to 1: whether another one is worth its time.

    The mean over the plies, none of them surer than those before it. `SEARCHES` was set by these weights, so they stay
    as they are when the trust is fitted.
    """
    weights = (
        sum(table.get(f"sure{name.removeprefix('trust')}", 0.0) * amount for name, amount in trust_terms(*each))
        for each in zip(evidence.shares, evidence.explained, strict=True)
    )
    return sum(1.0 / (1.0 + exp(-weight)) for weight in accumulate(weights, min)) / max(len(evidence.moves), 1)

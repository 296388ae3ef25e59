"""Fit how far a game found in a talk is to be trusted: `python tests/measure/fit_trust.py TALKS...`.

A logistic regression over the plies of the games found in marked-up talks. It prints how often
plies of each tenth are right; with `-o` it puts the weights into the price file, among those of the mode "game". The
weights `sure*`, by which it is decided whether a game is looked for once more, stay as they are.
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from functools import partial
from multiprocessing import Pool
from pathlib import Path

import chess
import numpy
from fit_prices import put_prices
from score import keys_of_path
from truth import Talk, read_talk

from aligner.prices.prices import read_prices
from aligner.reconstruction.found import GameFinder
from aligner.reconstruction.trust import FLOOR, Evidence, trust_cases, trusted

Case = tuple[dict[str, float], bool]


def right_plies(talk: Talk, evidence: Evidence) -> list[bool]:
    """For each ply found whether the true game has the same move in the same position."""
    true = set(keys_of_path(talk.start_fen, talk.main))
    return [key in true for key in keys_of_path(talk.start_fen, evidence.moves)]


def evidence_of(file: Path, unseen: Path) -> tuple[str, Evidence, list[bool]]:
    """What is found in one talk, and which plies of it are right; in a process of its own."""
    talk = read_talk(file, unseen)
    finder = GameFinder(
        talk.speech, chess.Board(talk.start_fen), partial(read_prices, None), {"white": True, "black": False}
    )
    evidence = finder.evidence()
    return talk.name, evidence, right_plies(talk, evidence)


FLOORS = (0.0, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3)
"""Least probabilities of a ply that are tried."""
PULL = 1.0
"""What the cases hardly decide is pulled to nothing by so much: the precision of a normal prior on each weight."""


def fit(cases: list[Case]) -> dict[str, float]:
    """The floor and the weights of the terms that make the cases likeliest.

    By Fisher scoring, with steps halved until the likelihood rises (McCullagh and Nelder, Generalized Linear Models,
    1989, 2.5), for each floor that is tried.
    """
    names = list(cases[0][0])
    amounts = numpy.array([[terms[name] for name in names] for terms, _ in cases])
    right = numpy.array([is_right for _, is_right in cases], dtype=float)
    fits = [(*_weights(amounts, right, floor), floor) for floor in FLOORS]
    _, weights, floor = min(fits, key=lambda each: each[0])
    return {FLOOR: floor, **dict(zip(names, weights.tolist(), strict=True))}


def _weights(amounts: numpy.ndarray, right: numpy.ndarray, floor: float) -> tuple[float, numpy.ndarray]:
    """The weights for a floor, and the nats that the cases and the weights cost by them."""

    def chance(weights: numpy.ndarray) -> numpy.ndarray:
        return 1.0 / (1.0 + numpy.exp(-amounts @ weights))

    def nats(weights: numpy.ndarray) -> float:
        probability = numpy.clip(floor + (1.0 - floor) * chance(weights), 1e-9, 1.0 - 1e-9)
        surprise = right * numpy.log(probability) + (1.0 - right) * numpy.log(1.0 - probability)
        return float(PULL / 2.0 * weights @ weights - surprise.sum())

    weights = numpy.zeros(amounts.shape[1])
    for _ in range(100):
        share = chance(weights)
        probability = numpy.clip(floor + (1.0 - floor) * share, 1e-9, 1.0 - 1e-9)
        steep = (1.0 - floor) * share * (1.0 - share)
        worth = 1.0 / (probability * (1.0 - probability))
        slope = amounts.T @ ((right - probability) * worth * steep) - PULL * weights
        curve = (amounts.T * (steep**2 * worth)) @ amounts + PULL * numpy.eye(len(weights))
        step = numpy.linalg.solve(curve, slope)
        while nats(weights + step) > nats(weights) and abs(step).max() > 1e-6:
            step /= 2.0
        weights = weights + step
        if abs(step).max() <= 1e-6:
            break
    return nats(weights), weights


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("talks", nargs="+", type=Path)
    parser.add_argument("-o", "--output", type=Path)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--unseen", type=Path, required=True, help="the folder that fit_leanings.py wrote")
    arguments = parser.parse_args()
    files = [f for path in arguments.talks for f in (sorted(path.glob("*.talk")) if path.is_dir() else [path])]
    prices = read_prices(None, "game")
    cases: list[Case] = []
    found: list[tuple[Evidence, list[bool]]] = []
    with Pool(arguments.jobs) as pool:
        for name, evidence, right in pool.imap(partial(evidence_of, unseen=arguments.unseen), files):
            found.append((evidence, right))
            print(f"{name}: {sum(right)} of {len(right)} plies", file=sys.stderr, flush=True)
            cases += [(dict(terms), is_right) for terms, is_right in zip(trust_cases(evidence), right, strict=True)]
    table = dict(prices.table)
    if arguments.output is not None:
        table.update({name: round(value, 3) for name, value in fit(cases).items()})
        put_prices(arguments.output, "game", table, len(files))
    tenths: dict[int, list[tuple[float, bool]]] = defaultdict(list)
    for evidence, right in found:
        for trust, is_right in zip(trusted(evidence, table), right, strict=True):
            tenths[min(int(10 * trust), 9)].append((trust, is_right))
    for _tenth, rows in sorted(tenths.items()):
        trust, share = sum(row[0] for row in rows) / len(rows), sum(row[1] for row in rows) / len(rows)
        print(f"trusted {trust:.2f}: {share:.2f} of {len(rows)} plies right")


if __name__ == "__main__":
    main()

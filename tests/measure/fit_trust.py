"""Fit how far a game found in a talk is to be trusted: `python tests/measure/fit_trust.py TALKS...`.

A logistic regression over the plies of the games found in marked-up talks. It prints how often
plies of each tenth are right; with `-o` it puts the weights into the price file, among those of the mode "game". The
weights `sure*`, by which it is decided whether a game is looked for once more, stay as they are.
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from multiprocessing import Pool
from pathlib import Path

import chess
import numpy
from fit_prices import put_prices
from score import keys_of_path
from truth import Talk, read_talk

from aligner.prices.prices import read_prices
from aligner.reconstruction.found import GameFinder
from aligner.reconstruction.trust import Evidence, trust_cases, trusted

Case = tuple[dict[str, float], bool]


def right_plies(talk: Talk, evidence: Evidence) -> list[bool]:
    """For each ply found whether the true game has the same move in the same position."""
    true = set(keys_of_path(talk.start_fen, talk.main))
    return [key in true for key in keys_of_path(talk.start_fen, evidence.moves)]


def evidence_of(file: Path) -> tuple[str, Evidence, list[bool]]:
    """What is found in one talk, and which plies of it are right; in a process of its own."""
    talk = read_talk(file)
    finder = GameFinder(
        talk.speech, chess.Board(talk.start_fen), read_prices(None, "game"), {"white": True, "black": False}
    )
    evidence = finder.evidence()
    return talk.name, evidence, right_plies(talk, evidence)


def fit(cases: list[Case], pull: float = 0.01) -> dict[str, float]:
    """Weights of the terms, by Newton's method; what the cases hardly decide is pulled to nothing."""
    names = list(cases[0][0])
    amounts = numpy.array([[terms[name] for name in names] for terms, _ in cases])
    right = numpy.array([is_right for _, is_right in cases], dtype=float)
    weights = numpy.zeros(len(names))
    for _ in range(50):
        chance = 1.0 / (1.0 + numpy.exp(-amounts @ weights))
        slope = amounts.T @ (right - chance) - pull * weights
        curve = (amounts.T * (chance * (1.0 - chance))) @ amounts + pull * numpy.eye(len(names))
        weights += numpy.linalg.solve(curve, slope)
    return dict(zip(names, weights.tolist(), strict=True))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("talks", nargs="+", type=Path)
    parser.add_argument("-o", "--output", type=Path)
    parser.add_argument("--jobs", type=int, default=2)
    arguments = parser.parse_args()
    files = [f for path in arguments.talks for f in (sorted(path.glob("*.talk")) if path.is_dir() else [path])]
    prices = read_prices(None, "game")
    cases: list[Case] = []
    found: list[tuple[Evidence, list[bool]]] = []
    with Pool(arguments.jobs) as pool:
        for name, evidence, right in pool.imap(evidence_of, files):
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

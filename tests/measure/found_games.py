"""How much of their games is found without scores: `python tests/measure/found_games.py TALKS... [--search full]`.

Every talk is taken as if no score was known. A row a talk: the share of the game as score.py counts it, the mean belief
in its plies, what the reading costs (nats), the processor's seconds. `-o` keeps the rows as JSON, and `--against`
compares with rows kept before: which talks are better or worse by more than 0.05, and the error of the mean difference.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Sequence
from functools import partial
from multiprocessing import Pool
from pathlib import Path
from statistics import mean, stdev

import chess
from score import keys_of_path
from truth import Talk, read_talk

from aligner.prices.prices import read_prices
from aligner.reconstruction.breadth import DEEP, FULL, NARROW
from aligner.reconstruction.found import VALUATIONS, GameFinder, Search

CAST = {"white": True, "black": False}
BREADTHS = {"narrow": NARROW, "full": FULL, "deep": DEEP}
NOTABLE = 0.05
"""A difference in the share of a game that is told of."""


def found_in(talk: Talk, prices: Path | None, only: Search | None) -> dict[str, object]:
    """What is found in one talk; by the searches as shipped where none is named."""
    finder = GameFinder(talk.speech, chess.Board(talk.start_fen), partial(read_prices, prices), CAST, only=only)
    began = time.process_time()
    found = finder.find()
    took = time.process_time() - began
    right = len(set(keys_of_path(talk.start_fen, talk.main)) & set(keys_of_path(talk.start_fen, found.moves)))
    return {
        "talk": talk.name,
        "game": right / max(len(talk.main), len(found.moves), 1),
        "belief": sum(found.belief) / max(len(found.belief), 1),
        "cost": found.cost,
        "seconds": took,
        "moves": list(found.moves),
    }


def compared(rows: Sequence[dict[str, object]], before: Sequence[dict[str, object]]) -> str:
    """In words, what became better and worse."""
    old = {row["talk"]: float(str(row["game"])) for row in before}
    change = {str(row["talk"]): float(str(row["game"])) - old[row["talk"]] for row in rows if row["talk"] in old}
    if len(change) < 2:
        return "fewer than two talks in common"
    lines = [f"{name} {old[name]:.2f} -> {old[name] + by:.2f}" for name, by in change.items() if abs(by) > NOTABLE]
    better = sum(by > NOTABLE for by in change.values())
    error = stdev(change.values()) / len(change) ** 0.5
    return "\n".join(
        [
            *lines,
            f"{better} better, {len(lines) - better} worse of {len(change)};"
            f" mean {mean(change.values()):+.3f} (error {error:.3f})",
        ]
    )


def work(file: Path, prices: Path | None, only: Search | None, unseen: Path | None) -> dict[str, object]:
    """One talk, in a process of its own."""
    return found_in(read_talk(file, unseen), prices, only)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("talks", nargs="+", type=Path)
    parser.add_argument("--search", choices=("shipped", *BREADTHS), default="shipped")
    parser.add_argument("--mode", choices=tuple(VALUATIONS), default="game", help="of the prices of the one search")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--prices", type=Path)
    parser.add_argument("--unseen", type=Path, help="the folder of fit_leanings.py, for talks that it was fitted on")
    parser.add_argument("--against", type=Path)
    parser.add_argument("-o", "--output", type=Path)
    arguments = parser.parse_args()
    files = [f for path in arguments.talks for f in (sorted(path.glob("*.talk")) if path.is_dir() else [path])]
    breadth = BREADTHS.get(arguments.search)
    only = None if breadth is None else Search(breadth, mode=arguments.mode)
    one = partial(work, prices=arguments.prices, only=only, unseen=arguments.unseen)
    rows = []
    with Pool(arguments.jobs) as pool:
        for row in pool.imap(one, files):
            rows.append(row)
            print(
                f"{row['talk']:16} game {row['game']:.2f}  belief {row['belief']:.2f}"
                f"  cost {row['cost']:7.1f}  {row['seconds']:5.1f} s", flush=True,
            )  # fmt: skip
    games = [float(str(row["game"])) for row in rows]
    seconds = sum(float(str(row["seconds"])) for row in rows)
    print(f"mean of {len(rows)}: game {mean(games):.3f}, {seconds:.0f} s")
    if arguments.output is not None:
        arguments.output.write_text(json.dumps(rows), encoding="utf-8")
    if arguments.against is not None:
        print(compared(rows, json.loads(arguments.against.read_text(encoding="utf-8"))))


if __name__ == "__main__":
    main()

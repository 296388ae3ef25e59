"""Do the confidences mean what they say? `python tests/measure/calibration.py TALKS... [--mode score|talk|own]`.

For every mention decided, its confidence and whether the truth speaks of that move there; ten bins, each with the mean
confidence and the share that is right. `--sharpness` tries other values than the price file's.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from math import log
from pathlib import Path

import chess
from truth import Oracle, Talk, read_talk

from aligner.prices.prices import Prices, read_prices
from aligner.reconstruction.found import GameFinder, tempered
from aligner.search.evidence import agreement
from aligner.search.order import in_order
from aligner.search.reading import read

Judged = list[tuple[float, bool]]


def judge(talk: Talk, mode: str, prices: Prices) -> Judged:
    """Confidence and truth of each mention decided in one talk. Plans that the truth marks as such are left out."""
    start = chess.Board(talk.start_fen)
    moves, belief = talk.main, None
    if mode == "talk":
        found = GameFinder(talk.speech, start, partial(read_prices, None), {"white": True, "black": False}).find()
        moves, belief = found.moves, found.belief
    cast = agreement(talk.speech, talk.start_fen, moves).cast
    reading = read(in_order(talk.speech, talk.start_fen, moves, prices.table), start, moves, prices, cast=cast)
    if belief is not None:
        reading = tempered(reading, belief)
    oracle = Oracle(talk, reading.lines)
    ideas = [(m.w0, m.w1) for m in talk.script.mentions if m.kind == "idea"]
    judged = []
    for choice in reading.choices:
        if not choice.decision.nodes:
            continue
        first, last = choice.words
        if any(first < w1 and last > w0 for w0, w1 in ideas):
            continue
        keys = {
            _key(node) for w0, w1, _, nodes in oracle.mentions if w0 < last + 4 and w1 > first - 4 for node in nodes
        }
        judged.append((choice.probability, _key(choice.decision.nodes[-1]) in keys))
    return judged


def _key(node: object) -> tuple[str, bool, str]:
    board, move = node.parent.board, node.move  # type: ignore[attr-defined]
    return board.board_fen(), board.turn, move.uci()


def log_loss(judged: Judged) -> float:
    """Mean of -log of what was given to the truth, in nats."""
    return -sum(log(max(p if right else 1 - p, 1e-3)) for p, right in judged) / max(len(judged), 1)


def table(judged: Judged) -> str:
    """Ten bins: number, mean confidence, share right."""
    lines = ["confidence   moves  mean  right"]
    for low in range(10):
        row = [(p, right) for p, right in judged if low / 10 <= p < (low + 1) / 10 or (low == 9 and p >= 1.0)]
        if row:
            mean, share = sum(p for p, _ in row) / len(row), sum(right for _, right in row) / len(row)
            lines.append(f"{low / 10:.1f} to {(low + 1) / 10:.1f}  {len(row):6d}  {mean:.2f}  {share:.2f}")
    return "\n".join(lines)


def best_sharpness(talks: Sequence[Talk], mode: str, prices: Prices, tries: Sequence[float]) -> float:
    """The sharpness with the least log loss."""
    losses = []
    for sharpness in tries:
        judged = [pair for talk in talks for pair in judge(talk, mode, replace(prices, sharpness=sharpness))]
        losses.append((log_loss(judged), sharpness))
    return min(losses)[1]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("talks", nargs="+", type=Path)
    parser.add_argument("--mode", choices=("score", "talk", "own"), default="own")
    parser.add_argument("--sharpness", type=float, nargs="*")
    arguments = parser.parse_args()
    files = [f for path in arguments.talks for f in (sorted(path.glob("*.talk")) if path.is_dir() else [path])]
    talks = [read_talk(file) for file in files]
    for sharpness in arguments.sharpness or [None]:
        judged: Judged = []
        for talk in talks:
            mode = arguments.mode if arguments.mode != "own" else "score" if talk.mode == "game" else "talk"
            prices = read_prices(None, "score")
            judged += judge(talk, mode, prices if sharpness is None else replace(prices, sharpness=sharpness))
        print(
            f"sharpness {sharpness or 'of the file'}: log loss {log_loss(judged):.3f} nats over {len(judged)} mentions"
        )
        print(table(judged))


if __name__ == "__main__":
    main()

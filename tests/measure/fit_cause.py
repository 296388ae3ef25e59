"""Fits who is to blame by sound: `python tests/measure/fit_cause.py TALKS... [--write]`.

Speakers' slips are those of the marked-up talks with a score, with the distance at which they sound: in captions as
they are, and in captions whose moves are misheard (restore.py), where the speaker slips no more than before. Captions'
slips cannot be had from talks that were never recorded: they are drawn, with a fixed seed, from the table of what
sounds alike, each pair as often as exp(-distance), which is invented, in the same misheard captions. So it is fitted
too what garbled words say of the cause of other slips. Both causes count the same. Logistic regression by Newton's
method.
"""

from __future__ import annotations

import argparse
import math
import random
from collections.abc import Sequence
from pathlib import Path

import chess
import talkscript
from restore import FARTHEST, alike, break_moves, scores_of

from aligner.captions import parse_captions
from aligner.errata.cause import DEAF, SOUNDING, a_step, distance, odds, prior_of
from aligner.pipeline import align
from aligner.speech.sounds import sound_table

DRAWN = 400
SHARES = (0.0, 0.05, 0.15)
"""Shares of the moves that the captions mishear."""
RIDGE = 1e-3
"""Added to the curvature, so that the fit has an end."""


Row = tuple[float, float, float]
"""Distance of sounds, 1 for one file or rank apart, what the talk's other findings say of the captions (`prior_of`)."""


def speakers(files: list[Path]) -> tuple[list[Row], list[float]]:
    """The slips that speakers made, in captions of each kind, and the priors of the captions that are misheard."""
    found: list[Row] = []
    priors: list[float] = []
    table = alike(FARTHEST)
    for file in files:
        script = talkscript.parse(file.read_text(encoding="utf-8"), file.name)
        talkscript.clock(script)
        scores = scores_of(script)
        apart = _distances(script)
        if not scores or not apart:
            continue
        for share in SHARES:
            noisy, _ = break_moves(script, table, share, random.Random(f"{share} {file.stem}"))
            style = script.head.get("Captions", "clean")
            captions = parse_captions(talkscript.vtt(noisy, script.times, style), file.stem + ".vtt")
            game = align(captions, scores, start_fen=script.head.get("FEN") or None, force=True).games[0]
            kinds = [finding.kind for finding in game.findings if finding.meant.uci]
            garbled = kinds.count("garble")
            prior = prior_of(garbled, len(kinds) - garbled)
            found += [(*one, prior) for one in apart]
            if share:
                priors.append(prior)
    return found, priors


def _distances(script: talkscript.Talk) -> list[tuple[float, float]]:
    found = []
    for m in script.mentions:
        if m.kind == "slip" and m.slip in SOUNDING and m.paths and m.paths[-1]:
            board = chess.Board(script.head.get("FEN") or chess.STARTING_FEN)
            for uci in m.paths[-1][:-1]:
                board.push_uci(uci)
            uci = m.paths[-1][-1]
            piece = board.piece_type_at(chess.Move.from_uci(uci).from_square)
            apart = distance(m.text, m.slip, uci, chess.piece_name(piece or 1))
            found.append((apart, float(a_step(m.text, m.slip, uci))))
    return found


def captions(priors: list[float]) -> list[Row]:
    """Confusions drawn from the table of what sounds alike, in captions that mishear."""
    pairs = [(cost, _beside(*names)) for names, cost in sound_table().confusions.items() if cost < DEAF]
    draw = random.Random(4)
    drawn = draw.choices(pairs, [math.exp(-cost) for cost, _ in pairs], k=DRAWN)
    return [(cost, step, draw.choice(priors)) for cost, step in drawn]


def _beside(kind: str, one: str, other: str) -> float:
    """1 for files or ranks that are neighbours, as `a_step`."""
    return float(kind in ("file", "rank") and abs(ord(one) - ord(other)) == 1)


def fit(spoken: list[Row], heard: list[Row]) -> list[float]:
    """Log-odds of the captions: intercept, by distance, by step, by prior; each cause weighs the same in all."""
    rows = [((1.0, *row), 0.0, 1 / len(spoken)) for row in spoken]
    rows += [((1.0, *row), 1.0, 1 / len(heard)) for row in heard]
    size = 1 + len(spoken[0])
    weights = [0.0] * size
    for _ in range(60):
        slope = [0.0] * size
        curve = [[RIDGE if i == j else 0.0 for j in range(size)] for i in range(size)]
        for x, y, share in rows:
            chance = 1 / (1 + math.exp(-_sum(weights, x)))
            for i in range(size):
                slope[i] += share * (y - chance) * x[i]
                for j in range(size):
                    curve[i][j] += share * chance * (1 - chance) * x[i] * x[j]
        step = _solved(curve, slope)
        weights = [weight + change for weight, change in zip(weights, step, strict=True)]
    return weights


def _sum(weights: Sequence[float], x: Sequence[float]) -> float:
    return sum(weight * value for weight, value in zip(weights, x, strict=True))


def _solved(matrix: list[list[float]], right: list[float]) -> list[float]:
    """Gaussian elimination; the matrix is positive definite."""
    rows = [[*row, value] for row, value in zip(matrix, right, strict=True)]
    size = len(rows)
    for i in range(size):
        rows[i] = [value / rows[i][i] for value in rows[i]]
        for j in range(size):
            if j != i:
                rows[j] = [value - rows[j][i] * own for value, own in zip(rows[j], rows[i], strict=True)]
    return [row[-1] for row in rows]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("talks", nargs="+", type=Path)
    parser.add_argument("--write", action="store_true")
    arguments = parser.parse_args()
    files = [f for path in arguments.talks for f in (sorted(path.glob("*.talk")) if path.is_dir() else [path])]
    spoken, priors = speakers(files)
    heard = captions(priors)
    same, per_distance, per_step, per_prior = weights = fit(spoken, heard)
    for name, rows in (("slips of speakers", spoken), ("drawn for captions", heard)):
        apart, steps, _ = (sum(column) / len(rows) for column in zip(*rows, strict=True))
        print(f"{len(rows)} {name}, mean distance {apart:.2f}, {steps:.2f} a step apart")
    print(
        f"same = {same:.3f}, per_distance = {per_distance:.3f}, per_step = {per_step:.3f}, per_prior = {per_prior:.3f}"
    )
    for name, rows in (("speaker", spoken), ("caption", heard)):
        shares = [1 / (1 + math.exp(-_sum(weights, (1.0, *row)))) for row in rows]
        speaker = sum(share <= odds().surest_speaker for share in shares)
        caption = sum(share >= odds().surest_caption for share in shares)
        print(f"{name}: called caption {caption}, speaker {speaker}, unsure {len(rows) - caption - speaker}")
    if arguments.write:
        file = Path(__file__).parents[2] / "aligner" / "errata" / "data" / "cause.toml"
        lines = file.read_text(encoding="utf-8").splitlines()
        kept = [line for line in lines if line.startswith(("#", "[", "surest")) or not line]
        at = kept.index("[caption]") + 1
        kept[at:at] = [
            f"same = {same:.3f}", f"per_distance = {per_distance:.3f}", f"per_step = {per_step:.3f}",
            f"per_prior = {max(per_prior, 0.0):.3f}"
        ]  # fmt: skip
        file.write_text("\n".join(kept) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()

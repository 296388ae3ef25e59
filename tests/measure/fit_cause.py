"""Fits who is to blame by sound: `python tests/measure/fit_cause.py TALKS... [--write]`.

Speakers' slips are those of the marked-up talks, with the distance at which they sound. Captions' slips cannot be had
from talks that were never recorded: they are drawn, with a fixed seed, from the table of what sounds alike, each pair
as often as exp(-distance), which is invented. Both causes count the same, so the shares are odds for a talk of which
nothing else is known. Logistic regression by Newton's method.
"""

from __future__ import annotations

import argparse
import math
import random
from pathlib import Path

import chess
import talkscript

from aligner.errata.cause import DEAF, SOUNDING, distance
from aligner.speech.sounds import sound_table

DRAWN = 400


def speakers(files: list[Path]) -> list[float]:
    """Distances of the slips that speakers made."""
    found = []
    for file in files:
        script = talkscript.parse(file.read_text(encoding="utf-8"), file.name)
        for m in script.mentions:
            if m.kind == "slip" and m.slip in SOUNDING and m.paths and m.paths[-1]:
                board = chess.Board(script.head.get("FEN") or chess.STARTING_FEN)
                for uci in m.paths[-1][:-1]:
                    board.push_uci(uci)
                uci = m.paths[-1][-1]
                piece = board.piece_type_at(chess.Move.from_uci(uci).from_square)
                found.append(distance(m.text, m.slip, uci, chess.piece_name(piece or 1)))
    return found


def captions() -> list[float]:
    """Distances of confusions drawn from the table of what sounds alike."""
    pairs = [(cost, math.exp(-cost)) for cost in sound_table().confusions.values() if cost < DEAF]
    draw = random.Random(4)
    return draw.choices([cost for cost, _ in pairs], [weight for _, weight in pairs], k=DRAWN)


def fit(spoken: list[float], heard: list[float]) -> tuple[float, float]:
    """Intercept and slope of the log-odds of the captions, each cause weighing the same in all."""
    rows = [(d, 0.0, 1 / len(spoken)) for d in spoken] + [(d, 1.0, 1 / len(heard)) for d in heard]
    a, b = 0.0, 0.0
    for _ in range(60):
        g0 = g1 = h00 = h01 = h11 = 0.0
        for d, y, w in rows:
            p = 1 / (1 + math.exp(-(a + b * d)))
            g0 += w * (y - p)
            g1 += w * (y - p) * d
            v = w * p * (1 - p)
            h00, h01, h11 = h00 + v, h01 + v * d, h11 + v * d * d
        h00, h11 = h00 + 1e-3, h11 + 1e-3
        det = h00 * h11 - h01 * h01
        a, b = a + (h11 * g0 - h01 * g1) / det, b + (h00 * g1 - h01 * g0) / det
    return a, b


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("talks", nargs="+", type=Path)
    parser.add_argument("--write", action="store_true")
    arguments = parser.parse_args()
    files = [f for path in arguments.talks for f in (sorted(path.glob("*.talk")) if path.is_dir() else [path])]
    spoken, heard = speakers(files), captions()
    a, b = fit(spoken, heard)
    print(f"{len(spoken)} slips of speakers, mean distance {sum(spoken) / len(spoken):.2f}")
    print(f"{len(heard)} drawn for captions, mean distance {sum(heard) / len(heard):.2f}")
    print(f"same = {a:.3f}, per_distance = {b:.3f}; even odds at {-a / b:.2f}")
    for name, rows in (("speaker", spoken), ("caption", heard)):
        shares = [1 / (1 + math.exp(-(a + b * d))) for d in rows]
        caption, speaker = sum(s >= 0.7 for s in shares), sum(s <= 0.3 for s in shares)
        print(f"{name}: called caption {caption}, speaker {speaker}, unsure {len(rows) - caption - speaker}")
    if arguments.write:
        file = Path(__file__).parents[2] / "aligner" / "errata" / "data" / "cause.toml"
        lines = file.read_text(encoding="utf-8").splitlines()
        kept = [line for line in lines if line.startswith(("#", "[", "surest")) or not line]
        at = kept.index("[caption]") + 1
        kept[at:at] = [f"same = {a:.3f}", f"per_distance = {b:.3f}"]
        file.write_text("\n".join(kept) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()

"""Fit the weights that restore sentences: `python fit_sentences.py TALK.talk ... -o sentences.json`.

Multinomial logistic regression over the words around each gap, by stochastic gradient descent, on the punctuation of
talk scripts (tests/measure/talkscript.py), whose words the captions then lose. Prints how well it cuts other talks
(`--check TALK.talk ...`): precision and recall of sentence ends, without the help of any pause.
"""

from __future__ import annotations

import argparse
import json
import math
import random
import sys
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "measure"))
import talkscript

from aligner.chapters import sentences as room
from aligner.record.model import SpokenWord

_QUOTES = "\"'”\u2019)"
RATE, DECAY, ROUNDS, RAREST = 0.06, 0.0004, 16, 3


def scripted(path: Path) -> tuple[list[str], list[tuple[int, int]]]:
    """The words of a talk script with their punctuation, and the ranges that name moves."""
    talk = talkscript.parse(path.read_text(encoding="utf-8"), path.name)
    named = sorted({(m.w0, m.w1) for m in talk.mentions if m.kind not in ("none", "claim")})
    return talk.words, named


def examples(path: Path) -> list[tuple[list[str], str]]:
    words, moves = scripted(path)
    parts = room.units(words, moves)
    texts = [part.text for part in parts]
    found = []
    for at in range(len(parts) - 1):
        sign = words[parts[at].past - 1].rstrip(_QUOTES)[-1:]
        label = "stop" if sign in ".!?…" else "comma" if sign in ",;:—" else "none"
        found.append((room.features(texts, at), label))
    return found


def fit(rows: list[tuple[list[str], str]]) -> dict[str, dict[str, float]]:
    """Weights of "stop" and "comma" against "none"."""
    counts = Counter(name for names, _ in rows for name in names)
    kept = [([name for name in names if counts[name] >= RAREST], label) for names, label in rows]
    weights: dict[str, dict[str, float]] = {"stop": {}, "comma": {}}
    order = random.Random(3)
    for turn in range(ROUNDS):
        order.shuffle(kept)
        rate = RATE / (1 + turn / 3)
        for names, label in kept:
            scores = {kind: math.exp(sum(table.get(name, 0.0) for name in names)) for kind, table in weights.items()}
            total = 1 + sum(scores.values())
            for kind, table in weights.items():
                error = (label == kind) - scores[kind] / total
                for name in names:
                    old = table.get(name, 0.0)
                    table[name] = old + rate * (error - DECAY * len(kept) / 1000 * old)
    return {
        kind: {name: round(value, 1) for name, value in sorted(table.items()) if abs(value) >= 0.2}
        for kind, table in weights.items()
    }


def measure(path: Path) -> tuple[int, int, int, int]:
    """Sentence ends found rightly, found, and there, and those found where at least a comma stands.

    The talk's words have lost all punctuation and pauses.
    """
    words, moves = scripted(path)
    true = {i for i, word in enumerate(words) if word.rstrip(_QUOTES)[-1:] in tuple(".!?…")}
    clauses = {i for i, word in enumerate(words) if word.rstrip(_QUOTES)[-1:] in tuple(".!?…,;:—")}
    plain = [SpokenWord(talkscript.bare(word) or "-", i * 0.3, (i + 1) * 0.3) for i, word in enumerate(words)]
    found = {sentence.past - 1 for sentence in room.sentences(plain, moves)}
    return len(true & found), len(found), len(true), len(clauses & found)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("talks", nargs="+", type=Path)
    parser.add_argument("--check", nargs="*", type=Path, default=[])
    parser.add_argument("-o", "--out", type=Path, required=True)
    options = parser.parse_args()
    rows = [row for path in options.talks for row in examples(path)]
    args = fit(rows)
    lines = [
        f' "{kind}": {{\n' + ",\n".join(f"  {json.dumps(n)}: {v}" for n, v in table.items()) + "\n }"
        for kind, table in args.items()
    ]
    options.out.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")
    print(f"{len(rows)} gaps in {len(options.talks)} talks, {sum(map(len, args.values()))} weights")
    for path in options.check:
        right, found, true, clauses = measure(path)
        print(
            f"{path.stem}: precision {right / found:.2f} (at a clause's end {clauses / found:.2f}), "
            f"recall {right / true:.2f} of {true} sentence ends"
        )


if __name__ == "__main__":
    main()

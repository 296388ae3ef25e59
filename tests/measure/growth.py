"""How time and memory grow with the length of a talk, and how near they are to the floor.

`python tests/measure/growth.py [--minutes 20] [--lengths 1 3 10 30] [--unit 2] [--talk NAME]`

Prints, from the file to the PGN: a cold start (a new process), a warm run with the score and without, peak memory, the
floor and the ratio to it. The floor is what no program for this job can do without: the same words tokenised by spaCy's
blank pipeline, and the same moves replayed and written in SAN by python-chess. Then the same at several lengths, as
ratios to the first. Seconds are processor time, so other work on the machine disturbs them little; the cold start is
told in both kinds.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import chess
import long_talks
import spacy

from aligner.captions.words import Captions
from aligner.pgn.score import Score
from aligner.pgn.writer import write_pgn
from aligner.pipeline import align
from aligner.record.model import Record


def seconds(work: Callable[[], object], times: int = 1) -> float:
    """Processor time of the fastest of so many runs."""
    best = float("inf")
    for _ in range(times):
        began = time.process_time()
        work()
        best = min(best, time.process_time() - began)
    return best


def floor(captions: Captions, record: Record) -> float:
    """Seconds for tokenising the words and replaying every line of the record."""
    pipeline = spacy.blank("en")
    text = " ".join(word.text for word in captions.words)
    pipeline("knight f3")

    def work() -> None:
        pipeline.make_doc(text) if len(text) < pipeline.max_length else [
            pipeline.make_doc(text[at : at + 500_000]) for at in range(0, len(text), 500_000)
        ]
        for game in record.games:
            boards = {0: chess.Board(game.start_fen)}
            for node in game.nodes:
                if node.parent is None or node.uci is None:
                    continue
                board = boards[node.parent].copy(stack=False)
                move = chess.Move.from_uci(node.uci)
                board.san_and_push(move)
                boards[node.id] = board

    return seconds(work, 5)


def whole(captions: Captions, scores: tuple[Score, ...]) -> str:
    """Captions to PGN."""
    return write_pgn(align(captions, scores, force=True))


def cold(talk: long_talks.Benchmark, text: str) -> tuple[float, float, float]:
    """A new process, from the file to the PGN: seconds on the clock, processor seconds, peak memory in MB."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "talk.vtt").write_text(text, encoding="utf-8")
        (folder / "score.pgn").write_text(talk.pgn, encoding="utf-8")
        # as installed, with its modules compiled: without that a start takes a third longer
        environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        subprocess.run([sys.executable, "-m", "compileall", "-q", str(long_talks.ROOT / "aligner")], check=False)
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        began = time.perf_counter()
        command = [sys.executable, "-m", "aligner", "align", str(folder / "talk.vtt"), "--force", "--quiet"]
        command += ["--game", str(folder / "score.pgn"), "-o", str(folder / "out.pgn")]
        subprocess.run(command, check=True, cwd=long_talks.ROOT, env=environment)
        took = time.perf_counter() - began
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        return took, used, after.ru_maxrss / 1024


def as_vtt(captions: Captions) -> str:
    """The words as WebVTT, eight a cue."""

    def stamp(ms: int) -> str:
        return f"{ms // 3_600_000:02d}:{ms // 60_000 % 60:02d}:{ms // 1000 % 60:02d}.{ms % 1000:03d}"

    words = captions.words
    rows = [words[at : at + 8] for at in range(0, len(words), 8)]
    cues = [f"{stamp(row[0].start)} --> {stamp(row[-1].end)}\n{' '.join(word.text for word in row)}" for row in rows]
    return "WEBVTT\n\n" + "\n\n".join(cues) + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=float, default=20)
    parser.add_argument("--lengths", type=float, nargs="+", default=[1, 3, 10, 30])
    parser.add_argument("--unit", type=float, default=2, help="minutes of the shortest talk")
    parser.add_argument(
        "--talk", default=next((path.stem for path in long_talks.TALKS if long_talks.compiled(path).scores), "")
    )
    parser.add_argument("--without-scores", action="store_true", help="also grow without the score")
    arguments = parser.parse_args()
    talk = long_talks.compiled(next(path for path in long_talks.TALKS if path.stem == arguments.talk))
    captions = long_talks.lasting(talk.captions, arguments.minutes)
    whole(long_talks.lasting(talk.captions, 0.5), talk.scores)

    took, used, memory = cold(talk, as_vtt(captions))
    first_row = {"cold": round(took, 2), "cold_processor": round(used, 2), "memory_mb": round(memory)}
    print(json.dumps(first_row), flush=True)
    with_score = seconds(lambda: whole(captions, talk.scores), 2)
    without = seconds(lambda: whole(captions, ()))
    record = align(captions, talk.scores, force=True)
    least = floor(captions, record)
    row = {
        "talk": talk.name, "minutes": arguments.minutes, "words": len(captions.words),
        "warm_with_score": round(with_score, 2), "warm_without": round(without, 2),
        "floor": round(least, 4), "ratio_to_floor": round(with_score / least, 1),
    }  # fmt: skip
    print(json.dumps(row))
    modes = [("with score", talk.scores), *([("without", ())] if arguments.without_scores else [])]
    for mode, scores in modes:
        first = None
        for length in arguments.lengths:
            part = long_talks.lasting(talk.captions, arguments.unit * length)
            took = seconds(lambda part=part, scores=scores: whole(part, scores))  # type: ignore[misc]
            first = first or took
            growth = {"mode": mode, "times_the_length": length / arguments.lengths[0], "words": len(part.words)}
            growth |= {"seconds": round(took, 2), "times_the_time": round(took / first, 2)}
            print(json.dumps(growth), flush=True)


if __name__ == "__main__":
    main()

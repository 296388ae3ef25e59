"""Accuracy on marked-up talks: `python tests/measure/accuracy.py TALKS... [--without-scores] [--detail]`.

Compiles the talks, aligns them and scores the records with score.py (here beside). A row a talk, means below.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from pathlib import Path

import score as scorer
import talkscript

from aligner.captions import read_captions
from aligner.pgn.reader import read_scores
from aligner.pipeline import align
from aligner.record.document import record_to_json


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("talks", nargs="+", type=Path)
    parser.add_argument("--without-scores", action="store_true")
    parser.add_argument("--detail", action="store_true")
    parser.add_argument("--prices", type=Path)
    parser.add_argument("--captions", help="a style of talkscript.py instead of each talk's own; auto has no stops")
    arguments = parser.parse_args()
    files = [f for path in arguments.talks for f in (sorted(path.glob("*.talk")) if path.is_dir() else [path])]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for file in files:
            script = talkscript.parse(file.read_text(encoding="utf-8"), file.name)
            talkscript.clock(script)
            stem = folder / file.stem
            stem.with_suffix(".vtt").write_text(
                talkscript.vtt(script.words, script.times, arguments.captions or script.head.get("Captions", "clean")),
                encoding="utf-8",
            )
            truth = talkscript.truth(script)
            mode = truth["mode"]
            if arguments.without_scores and mode == "game":
                truth["mode"] = mode = "talk"
            (folder / f"{file.stem}.truth.json").write_text(json.dumps(truth), encoding="utf-8")
            scores = ()
            if mode == "game":
                stem.with_suffix(".pgn").write_text(talkscript.full_pgn(script, True), encoding="utf-8")
                scores = read_scores(stem.with_suffix(".pgn"))
            began = time.perf_counter()
            record = align(
                read_captions(stem.with_suffix(".vtt")), scores, start_fen=script.head.get("FEN") or None,
                force=True, prices=arguments.prices,
            )  # fmt: skip
            took = time.perf_counter() - began
            stem.with_suffix(".json").write_text(record_to_json(record), encoding="utf-8")
            print(f"{file.stem}: {took:.2f} s, {len(script.words)} words")
        scorer.main([str(folder), str(folder), *(["--detail"] if arguments.detail else [])])


if __name__ == "__main__":
    main()

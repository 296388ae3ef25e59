"""Accuracy on marked-up talks: `python tests/measure/accuracy.py TALKS... [--without-scores] [--detail]`.

Compiles the talks, aligns them and scores the records with score.py (here beside). A row a talk, means below. Each talk
has its score or has none, as its script says; `--with-scores` gives every one its game, `--without-scores` none. Talks
that leanings were fitted on take those that have not seen them (`--unseen`, a folder of fit_leanings.py).
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from functools import partial
from pathlib import Path
from unittest.mock import patch

import score as scorer
import talkscript
from truth import fold_of

from aligner.captions import read_captions
from aligner.pgn.reader import read_scores
from aligner.pipeline import align
from aligner.record.document import record_to_json
from aligner.speech.leanings import leaning_model, read_leaning_model, with_leanings


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("talks", nargs="+", type=Path)
    scored = parser.add_mutually_exclusive_group()
    scored.add_argument("--without-scores", action="store_true")
    scored.add_argument("--with-scores", action="store_true")
    parser.add_argument("--unseen", type=Path)
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
            if arguments.without_scores or arguments.with_scores:
                truth["mode"] = mode = "game" if arguments.with_scores else "talk"
            (folder / f"{file.stem}.truth.json").write_text(json.dumps(truth), encoding="utf-8")
            scores = ()
            if mode == "game":
                stem.with_suffix(".pgn").write_text(talkscript.full_pgn(script, True), encoding="utf-8")
                scores = read_scores(stem.with_suffix(".pgn"))
            folds = arguments.unseen and arguments.unseen / f"{fold_of(file.stem)}.txt"
            model = read_leaning_model(folds) if folds else leaning_model()
            began = time.perf_counter()
            with patch("aligner.pipeline.with_leanings", partial(with_leanings, model=model)):
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

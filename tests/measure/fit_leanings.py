"""Fit what the words around a phrase make of it: `python tests/measure/fit_leanings.py TALKS... [--unseen FOLDER]`.

Logistic regressions over marked-up talks (scikit-learn, in the extra `fitting`), written to `leanings.txt` of the
language: whether a phrase speaks of no move; whether a move is spoken of again; whether the game goes on, where the
talk is in the game and where it is in a sideline. Each talk counts twice, as its captions are and without stops and
commas, as recognisers write.

Prices and trust that are fitted on the same talks must not take weights that know these talks for as good as they
look. So `--unseen` writes, for each of `FOLDS` parts of the talks, the weights fitted on all others into a folder,
which fit_game.py and fit_trust.py take. The nats that the weights leave of talks not seen are printed.
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from pathlib import Path

import numpy
from leaning_cases import Case, cases_of
from sklearn.feature_extraction import DictVectorizer
from sklearn.linear_model import LogisticRegression
from truth import FOLDS, read_talk

from aligner.speech.leanings import WEIGHED, Leaning, LeaningModel, leaning_text

STRENGTH = 0.05
"""Inverse of the pull of weights towards nothing; 0.1 leaves more nats on talks left out, 0.03 as many."""
FEWEST = 3
"""Phrases that a feature must stand beside."""
LEAST = 0.02
"""Features whose weights are all smaller are left out of the file."""
OUTPUT = Path("aligner/speech/data/en/leanings.txt")


def weights_of(cases: list[Case], without: int | None) -> tuple[LeaningModel, dict[str, list[float]]]:
    """The weights, and by question the nats of each case that they have not seen."""
    constants: dict[str, float] = {}
    weights: dict[str, dict[str, float]] = defaultdict(lambda: dict.fromkeys(WEIGHED, 0.0))
    left: dict[str, list[float]] = {}
    # the two that ask for the game share what features say in both, and each has more of its own
    for question in (("none",), ("again",), ("game", "back")):
        rows = [case for case in cases if case.what in question]
        shared = len(question) > 1
        vectorizer = DictVectorizer()
        amounts = vectorizer.fit_transform([_amounts(case, shared) for case in rows]).tocsr()
        true = numpy.array([case.true for case in rows], dtype=int)
        seen = numpy.array([case.fold != without for case in rows])
        often = numpy.asarray((amounts[seen] != 0).sum(axis=0)).ravel() >= FEWEST
        amounts = amounts[:, often]
        names = [name for name, keep in zip(vectorizer.feature_names_, often, strict=True) if keep]
        regression = LogisticRegression(C=STRENGTH, max_iter=400, solver="liblinear")
        regression.fit(amounts[seen], true[seen])
        for what in question:
            constants[what] = float(regression.intercept_[0])
        for name, weight in zip(names, regression.coef_[0].tolist(), strict=True):
            own, _, feature = name.partition("\t")
            for what in [own] if own else question:
                if feature:
                    weights[feature][what] += weight
                else:
                    constants[what] += weight
        if not seen.all():
            share = regression.predict_proba(amounts[~seen])[:, 1]
            right = numpy.where(true[~seen] == 1, share, 1.0 - share)
            left[question[-1]] = (-numpy.log(numpy.clip(right, 1e-3, 1.0))).tolist()
    rows_of = {feature: Leaning(*(row[what] for what in WEIGHED)) for feature, row in weights.items()}
    return LeaningModel(Leaning(*(constants[what] for what in WEIGHED)), rows_of), left


def _amounts(case: Case, shared: bool) -> dict[str, float]:
    found = {f"\t{feature}": 1.0 for feature in case.features}
    if shared:
        found |= {f"{case.what}\t{feature}": 1.0 for feature in case.features}
        found[f"{case.what}\t"] = 1.0
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("talks", nargs="+", type=Path)
    parser.add_argument("-o", "--output", type=Path, default=OUTPUT)
    parser.add_argument("--unseen", type=Path, help="a folder for weights that have not seen a part of the talks")
    arguments = parser.parse_args()
    files = [f for path in arguments.talks for f in (sorted(path.glob("*.talk")) if path.is_dir() else [path])]
    cases = [case for file in files for style in (None, "auto") for case in cases_of(read_talk(file, style=style))]
    heading = f"Weights of tests/measure/fit_leanings.py on {len(files)} talks; not by hand. Of {', '.join(WEIGHED)}."
    model, _ = weights_of(cases, None)
    arguments.output.write_text(leaning_text(model, heading, LEAST), encoding="utf-8")
    if arguments.unseen is None:
        return
    arguments.unseen.mkdir(parents=True, exist_ok=True)
    nats: dict[str, list[float]] = defaultdict(list)
    for fold in range(FOLDS):
        model, left = weights_of(cases, fold)
        (arguments.unseen / f"{fold}.txt").write_text(leaning_text(model, heading, LEAST), encoding="utf-8")
        for what, row in left.items():
            nats[what] += row
        print(f"part {fold} of {FOLDS}", file=sys.stderr, flush=True)
    for what, row in nats.items():
        print(f"{what}: {sum(row) / len(row):.3f} nats left of {len(row)} cases")


if __name__ == "__main__":
    main()

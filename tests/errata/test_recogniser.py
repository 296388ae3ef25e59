"""Who is blamed, held against what a real recogniser mishears.

fixtures/talks/heard holds moves of invented talks, spoken by espeak-ng 1.51 and written down by PocketSphinx 5.1.1 with
its own English sounds (tests/measure/recogniser.py): what it confuses, nobody here has chosen.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "measure"))

import talkscript

from aligner.errata.cause import a_step, caption_share, cause, distance, named_in, odds

TALKS = Path(__file__).parents[2] / "fixtures" / "talks"


def confused() -> list[tuple[str, str]]:
    """(words as heard, the move meant in UCI) of the squares that were written down as other squares."""
    found = []
    for file in sorted((TALKS / "heard").glob("*.json")):
        (talk,) = (path for room in ("corpus", "fit") if (path := TALKS / room / f"{file.stem}.talk").exists())
        script = talkscript.parse(talk.read_text(encoding="utf-8"), talk.name)
        heard = json.loads(file.read_text(encoding="utf-8"))
        for mention in script.mentions:
            said = " ".join(heard[mention.w0 : mention.w1])
            if mention.kind in ("move", "again") and mention.paths and mention.paths[-1]:
                uci, square = mention.paths[-1][-1], named_in(said).square
                if square and square != uci[2:4] and named_in(mention.text).square == uci[2:4]:
                    found.append((said, uci))
    return found


@pytest.fixture(scope="module")
def pairs() -> list[tuple[str, str]]:
    return confused()


def test_what_the_recogniser_confuses_sounds_alike(pairs: list[tuple[str, str]]) -> None:
    """The sounds are those of the pronouncing dictionary; three in four confusions lie within one unit of distance."""
    near = sum(distance(said, "square", uci, "") < 1.0 for said, uci in pairs)
    assert len(pairs) > 60
    assert near >= 0.75 * len(pairs)


def test_the_captions_are_blamed_for_what_the_recogniser_confuses(pairs: list[tuple[str, str]]) -> None:
    blamed = [cause(said, "square", uci, "") for said, uci in pairs]
    assert blamed.count("caption") > 3 * blamed.count("speaker")


def test_where_the_captions_are_surely_to_blame_the_recogniser_agrees(pairs: list[tuple[str, str]]) -> None:
    """Of its confusions, about as many get a share from the surest bound on as that bound promises."""
    shares = [caption_share(distance(said, "square", uci, ""), 0.0, a_step(said, "square", uci)) for said, uci in pairs]
    sure = [share for share in shares if share >= odds().surest_caption]
    assert len(sure) / len(shares) == pytest.approx(sum(shares) / len(shares), abs=0.1)

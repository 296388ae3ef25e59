"""Talks of any length for benchmarks: marked-up talks compiled to captions, put one after the other.

All talks are of one game each, so a longer talk goes through its game again and again; that is harder than most talks,
and the same at every length.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import talkscript

from aligner.captions.reading import parse_captions
from aligner.captions.words import Captions, Word
from aligner.pgn.reader import parse_scores
from aligner.pgn.score import Score

ROOT = Path(__file__).resolve().parents[2]
TALKS = tuple(sorted((ROOT / "fixtures/talks/fit").glob("a-*.talk")))


@dataclass(frozen=True, slots=True)
class Benchmark:
    """A talk with its score.

    Attributes:
        name: of the script.
        captions: of the talk.
        text: its captions file.
        scores: the game's; empty where the talk has none.
        pgn: the score's file.
    """

    name: str
    captions: Captions
    text: str
    scores: tuple[Score, ...]
    pgn: str


def compiled(path: Path) -> Benchmark:
    """A marked-up talk as captions and score."""
    script = talkscript.parse(path.read_text(encoding="utf-8"), path.name)
    talkscript.clock(script)
    text = talkscript.vtt(script.words, script.times, script.head.get("Captions", "clean"))
    game = script.head.get("Mode", "game") == "game"
    pgn = talkscript.full_pgn(script, True) if game else ""
    scores = parse_scores(pgn, path.name) if game else ()
    return Benchmark(path.stem, parse_captions(text, f"{path.stem}.vtt"), text, scores, pgn)


def lasting(talk: Captions, minutes: float) -> Captions:
    """The talk, said again and again until it lasts so many minutes, and cut there."""
    words: list[Word] = []
    round_ms, cues = talk.duration + 1000, len(talk.cues)
    turn = 0
    while turn * round_ms < minutes * 60_000:
        shift = turn * round_ms
        words += [
            replace(word, start=word.start + shift, end=word.end + shift, cue=word.cue + turn * cues)
            for word in talk.words
            if word.start + shift < minutes * 60_000
        ]
        turn += 1
    return replace(talk, words=tuple(words), duration=words[-1].end)

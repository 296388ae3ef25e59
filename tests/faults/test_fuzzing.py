"""Coverage-guided fuzzing of what reads other people's files, for a bounded time.

Two seconds of processor time a target by default; ALIGNER_FUZZ_SECONDS sets another time.
"""

from __future__ import annotations

import os
from collections.abc import Callable

import pytest
from coverage_guided import fuzz
from mutations import mutated
from seeds import CAPTIONS, SCORES, SHORT_TALK
from test_mutations import captions_of, scores_of

from aligner.captions.words import Word
from aligner.speech.listen import listen

SECONDS = float(os.environ.get("ALIGNER_FUZZ_SECONDS", "2"))
SAID = (
    b"knight to f3 knight takes e5 and bishop b five check, no, queen's knight to c3",
    b"white castles short, then pawn to king four; on move fourteen e8 equals queen e8=Q+ O-O-O F-3 Nbd2",
    b"takes takes takes, the rook on d1, both sides castle, the sicilian defence before see four of three",
)


def hear(data: bytes) -> None:
    """The mention finder on any words."""
    texts = data.decode("utf-8", "replace").split()[:120]
    words = tuple(Word(text, 300 * at, 300 * at + 250, at // 8) for at, text in enumerate(texts))
    speech = listen(words)
    for stretch in speech.stretches:
        for spoken in stretch.spoken:
            first, past = speech.span(spoken.phrase)
            assert 0 <= first < past <= len(words)


@pytest.mark.parametrize(
    ("target", "seeds"),
    [(captions_of, (*CAPTIONS, SHORT_TALK)), (scores_of, SCORES), (hear, SAID)],
    ids=["captions", "scores", "mentions"],
)
def test_nothing_raises(target: Callable[[bytes], object], seeds: tuple[bytes, ...]) -> None:
    runs, first, last = fuzz(target, seeds, mutated, SECONDS, seed=7)
    assert runs > 10
    # damage finds ways that whole files never take
    assert last > first

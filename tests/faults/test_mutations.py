"""Damaged captions and scores: a result or one clear sentence, never a traceback, always in time.

2,000 damaged files, fixed seed. All go through the readers; by default every hundredth goes the whole way to the PGN,
with ALIGNER_LONG_TESTS=1 all of them do.
"""

from __future__ import annotations

import io
import os
import random
import time

import chess.pgn
import pytest
from mutations import mutated
from seeds import CAPTIONS, SCORES, SHORT_TALK

from aligner.captions.decoding import decode
from aligner.captions.reading import parse_captions
from aligner.captions.words import Captions
from aligner.errors import AlignerError
from aligner.pgn.reader import parse_scores
from aligner.pgn.score import Score
from aligner.pgn.writer import write_pgn
from aligner.pipeline import align
from aligner.record.document import record_from_json, record_to_json

LONG = bool(os.environ.get("ALIGNER_LONG_TESTS"))
NUMBER = 2000
WHOLE_WAY = 1 if LONG else 100
SLOWEST = 5.0
"""Seconds of processor time for one damaged file of at most 40 kB."""

[SCORE] = parse_scores("1. e4 e5 2. Nf3 Nc6 3. Bb5 a6 4. Bxc6 dxc6 5. O-O *", "score.pgn")


def told(error: AlignerError) -> None:
    sentence = str(error)
    assert sentence and "\n" not in sentence and "\x1b" not in sentence and len(sentence) < 1500
    assert "Traceback" not in sentence and error.exit_status in (2, 3)


def captions_of(data: bytes) -> Captions | None:
    try:
        text, _ = decode(data, "talk.vtt")
        return parse_captions(text, "talk.vtt")
    except AlignerError as error:
        told(error)
        return None


def scores_of(data: bytes) -> tuple[Score, ...]:
    try:
        return parse_scores(data.decode("utf-8", "surrogateescape"), "score.pgn")
    except AlignerError as error:
        told(error)
        return ()


@pytest.mark.parametrize("part", range(4))
def test_damaged_captions(part: int) -> None:
    source = random.Random(801 + part)
    seeds = (*CAPTIONS, SHORT_TALK)
    for _ in range(NUMBER // 8):
        data = mutated(source.choice(seeds), source, seeds)
        began = time.process_time()
        captions = captions_of(data)
        if captions is not None:
            assert all(word.text and 0 <= word.start <= word.end for word in captions.words)
            starts = [word.start for word in captions.words]
            assert starts == sorted(starts)
        assert time.process_time() - began < SLOWEST


@pytest.mark.parametrize("part", range(4))
def test_damaged_scores(part: int) -> None:
    source = random.Random(901 + part)
    for _ in range(NUMBER // 8):
        data = mutated(source.choice(SCORES), source, SCORES)
        began = time.process_time()
        for score in scores_of(data):
            board = chess.Board(score.start_fen)
            for uci in score.moves:
                assert chess.Move.from_uci(uci) in board.legal_moves
                board.push_uci(uci)
        assert time.process_time() - began < SLOWEST


@pytest.mark.parametrize("known", [True, False], ids=["score", "talk"])
def test_the_whole_way_with_damaged_files(known: bool) -> None:
    source = random.Random(1001)
    for _ in range(NUMBER // 2 // WHOLE_WAY):
        damaged_talk = source.random() < 0.7
        talk = mutated(SHORT_TALK, source, CAPTIONS) if damaged_talk else SHORT_TALK
        captions = captions_of(talk)
        scores = (SCORE,) if known and damaged_talk else scores_of(mutated(SCORES[0], source, SCORES)) if known else ()
        if captions is None:
            continue
        began = time.process_time()
        try:
            record = align(captions, scores, force=True)
        except AlignerError as error:
            told(error)
            continue
        assert record_from_json(record_to_json(record), "record.json").games == record.games
        game = chess.pgn.read_game(io.StringIO(write_pgn(record)))
        assert game is not None and not game.errors
        assert time.process_time() - began < 20 * SLOWEST

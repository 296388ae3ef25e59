"""Captions that grow: what is final never changes, and the end is what the whole talk would have given."""

from __future__ import annotations

import random
import time
from pathlib import Path
from statistics import median

import chess
import pytest

from aligner.captions.reading import parse_captions
from aligner.captions.words import Captions
from aligner.errors import InputError
from aligner.follow.follower import Follower, one_score
from aligner.follow.hearing import Hearing
from aligner.pgn.reader import read_scores
from aligner.prices.prices import read_prices
from aligner.record.document import record_from_json, record_to_json
from aligner.search.order import in_order
from aligner.search.reading import Choice, read
from aligner.speech.listen import listen

ROOT = Path(__file__).resolve().parents[2]
BLOCKS = (ROOT / "demo/rook-lift.vtt").read_text(encoding="utf-8").strip().split("\n\n")
[SCORE] = read_scores(ROOT / "demo/rook-lift.pgn")
CUES, STEP = 24, 2


def captions(cues: int) -> Captions:
    return parse_captions("\n\n".join(BLOCKS[: cues + 1]) + "\n", "talk.vtt")


def told(choice: Choice) -> tuple[object, ...]:
    return choice.words, choice.decision.kind, [node.line() for node in choice.decision.nodes]


def heard(speech: object) -> list[object]:
    """The stretches without their numbers, which are only names."""
    return [
        (stretch.start, stretch.number, [(s.phrase, s.signs, s.inside, s.who, s.at_move) for s in stretch.spoken])
        for stretch in speech.stretches  # type: ignore[attr-defined]
    ]


@pytest.mark.parametrize("seed", [1, 2])
def test_hearing_in_pieces_is_hearing_the_whole(seed: int) -> None:
    steps = random.Random(seed)
    hearing = Hearing(("Wren",))
    cues = 0
    while cues < len(BLOCKS) - 1:
        cues = min(cues + steps.randint(1, 9), len(BLOCKS) - 1)
        before = heard(hearing)
        changed = hearing.hear(captions(cues).words)
        assert heard(hearing)[:changed] == before[:changed]
    whole = listen(captions(cues).words, ("Wren",))
    assert heard(hearing) == heard(whole)
    assert hearing.speech().tokens == whole.tokens and hearing.speech().entries == whole.entries
    numbers = [spoken.number for stretch in hearing.stretches for spoken in stretch.spoken]
    assert len(set(numbers)) == len(numbers)


@pytest.mark.parametrize("score", [None, SCORE], ids=["talk", "score"])
def test_what_is_final_never_changes_and_the_end_is_what_the_whole_talk_gives(score: object) -> None:
    follower = Follower(score)  # type: ignore[arg-type]
    final: list[object] = []
    took, most_open = [], 0
    for cues in range(STEP, CUES + 1, STEP):
        talk = captions(cues)
        began = time.process_time()
        update = follower.update(talk, ended=cues == CUES)
        took.append(time.process_time() - began)
        assert not update.again
        final += map(told, update.decided)
        assert [told(choice) for choice in follower._following.final] == final
        most_open = max(most_open, len(update.record.games[0].mentions) - len(final))
        text = record_to_json(update.record)
        assert record_to_json(record_from_json(text, "record.json")) == text
    speech = listen(talk.words)
    moves = follower.moves
    cast = follower._following.options.cast
    prices = read_prices(None, "score" if moves else "talk")
    if moves:
        speech = in_order(speech, follower.start_fen, moves, prices.table)
    whole = [told(choice) for choice in read(speech, chess.Board(follower.start_fen), moves, prices, cast=cast).choices]
    if moves:  # whether a phrase tells the game's moves in their order, words long after it may show
        assert sum(choice in whole for choice in final) >= 0.9 * len(whole)
    else:
        assert final == whole
    # a decision is on the board long before it is final, and some are final before the end
    assert most_open > 1
    assert median(took) < 1.0


def test_captions_mended_near_their_end_are_read_as_mended() -> None:
    follower = Follower(SCORE)
    follower.update(captions(20))
    mended = "\n\n".join(BLOCKS[:21]).replace(BLOCKS[20].splitlines()[-1], "and now knight f3") + "\n"
    update = follower.update(parse_captions(mended, "talk.vtt"))
    assert not update.again
    assert " ".join(word.text for word in update.record.words).endswith("and now knight f3")


def test_captions_changed_where_all_was_final_are_read_anew() -> None:
    follower = Follower(SCORE)
    follower.update(captions(30))
    assert follower._following.decided
    changed = "\n\n".join(BLOCKS[:31]).replace(BLOCKS[1].splitlines()[-1], "Knight f3, and welcome") + "\n"
    update = follower.update(parse_captions(changed, "talk.vtt"), ended=True)
    assert update.again
    assert update.record.words[0].text == "Knight"


def test_of_several_games_one_must_be_named() -> None:
    with pytest.raises(InputError, match="--game-number"):
        one_score([SCORE, SCORE], None, "games.pgn")
    with pytest.raises(InputError, match="choose 1 to 2"):
        one_score([SCORE, SCORE], 3, "games.pgn")
    assert one_score([SCORE, SCORE], 2, "games.pgn") is SCORE

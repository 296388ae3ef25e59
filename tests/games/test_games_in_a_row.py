"""Recordings of several games in a row: invented talks; the PGN is read again by python-chess."""

from __future__ import annotations

import io

import chess.pgn
import pytest
from told_games import (
    QUEENS_PAWN,
    QUEENS_PAWN_MOVES,
    SICILIAN,
    SICILIAN_MOVES,
    SPANISH,
    SPANISH_MOVES,
    score_of,
    told,
)  # fmt: skip

from aligner.games.beginnings import beginnings
from aligner.games.part import Part, heard
from aligner.pgn.writer import write_pgn
from aligner.pins.pin import MOVE, Pin, anchor
from aligner.pipeline import WholeTalk, align
from aligner.record.checks import faults
from aligner.record.document import record_from_json, record_to_json
from aligner.record.model import Game, Record
from aligner.speech.listen import listen

SCORES = (
    score_of("f4 d5 Nf3 g6 g3 Bg7 Bg2 Nf6 O-O O-O d3 c5", 1, "Nobody Here"),
    score_of(SICILIAN_MOVES, 2, "Greta Holm"),
    score_of(QUEENS_PAWN_MOVES, 3, "Ines Marsh"),
    score_of(SPANISH_MOVES, 4, "Orla Finch"),
)
EVENING = (
    "Good evening and welcome to the club.", *SPANISH,
    "So much for that. Let us have a look at the next game.", *QUEENS_PAWN,
    "And on to game three, the last game of our evening.", *SICILIAN,
)  # fmt: skip
ALL_MOVES = [SPANISH_MOVES, QUEENS_PAWN_MOVES, SICILIAN_MOVES]


def main_line(game: Game) -> str:
    return " ".join(node.san for node in game.nodes if node.main and node.san)


def reread(record: Record) -> list[chess.pgn.Game]:
    text, found = io.StringIO(write_pgn(record)), []
    while (game := chess.pgn.read_game(text)) is not None:
        assert not game.errors
        found.append(game)
    return found


def check(record: Record) -> None:
    """What holds of any record: legal, times and words of the whole recording, the same after writing and reading."""
    assert list(faults(record)) == []
    assert record_from_json(record_to_json(record), "evening.json") == record
    ends = [0.0]
    for game in record.games:
        assert ends[-1] <= game.start < game.end
        ends.append(game.end)
        for mention in game.mentions:
            first, past = mention.words
            assert game.start <= mention.start <= mention.end <= game.end
            assert " ".join(word.text for word in record.words[first:past]) == mention.text
            assert (record.words[first].start, record.words[past - 1].end) == (mention.start, mention.end)
        for finding in game.findings:
            assert game.start <= finding.start <= game.end
    games = reread(record)
    assert [" ".join(node.san() for node in game.mainline()) for game in games] == [
        main_line(game) for game in record.games
    ]


@pytest.mark.parametrize("bare", [False, True])
def test_each_game_takes_the_score_that_fits_it(bare: bool) -> None:
    record = align(told(*EVENING, bare=bare), SCORES)
    check(record)
    assert [main_line(game) for game in record.games] == ALL_MOVES
    assert [game.headers["White"] for game in record.games] == ["Orla Finch", "Ines Marsh", "Greta Holm"]
    assert any("3 games" in note for note in record.notes)
    assert [game.headers["White"] for game in reread(record)] == ["Orla Finch", "Ines Marsh", "Greta Holm"]


@pytest.mark.parametrize("bare", [False, True])
def test_games_are_found_without_any_score(bare: bool) -> None:
    record = align(told(*EVENING, bare=bare))
    check(record)
    assert [main_line(game) for game in record.games] == ALL_MOVES


def test_a_game_begins_where_it_is_announced() -> None:
    record = align(told(*EVENING), SCORES)
    first = [next(word.text for word in record.words if word.start >= game.start) for game in record.games]
    assert first == ["Good", "Let", "And"]
    assert record.games[-1].end == record.words[-1].end


def test_games_that_nothing_announces_are_told_apart_by_their_moves() -> None:
    captions = told(*SPANISH, "A fine fight, and thank you.", *QUEENS_PAWN)
    for scores in (SCORES, ()):
        record = align(captions, scores)
        check(record)
        assert [main_line(game) for game in record.games] == ALL_MOVES[:2]


@pytest.mark.parametrize("scores", [SCORES, ()])
@pytest.mark.parametrize(
    "aside",
    [
        "This was the second game of the match. What about the next game? We shall see.",
        "Board two is still playing, and game three has not begun. On to the next one, then!",
        "Once more from the start: pawn to e4, pawn to e5, knight to f3, knight to c6, bishop to b5, pawn to a6.",
        "In another game they tried pawn to d4, pawn to d5, pawn to c4, pawn to c6.",
    ],
)
@pytest.mark.parametrize("place", [6, len(SPANISH)])
def test_a_talk_of_one_game_stays_one(scores: tuple[object, ...], aside: str, place: int) -> None:
    record = align(told(*SPANISH[:place], aside, *SPANISH[place:]), scores)  # type: ignore[arg-type]
    assert len(record.games) == 1


def test_a_chosen_game_is_the_only_one() -> None:
    record = align(told(*EVENING), SCORES, game_number=3, force=True)
    assert [main_line(game) for game in record.games] == [QUEENS_PAWN_MOVES]


def test_a_decision_belongs_to_the_game_that_it_is_about() -> None:
    captions = told(*EVENING)
    whole = WholeTalk(captions, SCORES)
    texts = [word.text for word in captions.words]
    at = next(i for i in range(len(texts)) if texts[i : i + 4] == ["Instead", "pawn", "to", "h6"])
    line = tuple([*QUEENS_PAWN_MOVES.split()[:15], "h6"])
    pin = Pin(anchor(captions.words, at + 1, at + 4), MOVE, line, 1, False)
    record = whole.record(whole.read((pin,)))
    check(record)
    settled = [m for m in record.games[1].mentions if m.words == (at + 1, at + 4)]
    assert len(settled) == 1 and settled[0].confidence == 1.0
    assert not any("no longer fits" in note for note in record.notes)
    assert whole.record(whole.read()).games[0] == record.games[0]


def test_a_part_is_heard_with_the_words_in_their_places() -> None:
    captions = told(*EVENING)
    speech = listen(captions.words)
    first = next(one.word for one in beginnings(speech) if one.announced)
    part = heard(speech, Part(first, len(captions.words)))
    assert part.words == speech.words
    spans = [speech.span(s.phrase) for stretch in speech.stretches for s in stretch.spoken]
    kept = [part.span(s.phrase) for stretch in part.stretches for s in stretch.spoken]
    assert kept == [span for span in spans if span[0] >= first]
    assert [stretch.number for stretch in part.stretches] == list(range(len(part.stretches)))

"""Decisions about a recording of two games: each is looked for, and bound, in the game that its words are about."""

from __future__ import annotations

from pathlib import Path

import chess
import pytest
from told_games import QUEENS_PAWN, QUEENS_PAWN_MOVES, SPANISH, SPANISH_MOVES, told

from aligner.captions.words import Captions
from aligner.desk.opening import open_talk
from aligner.desk.settling import settle_at
from aligner.desk.talk import Talk
from aligner.record.model import Game

SENTENCES = (*SPANISH, "So much for that. Let us have a look at the next game.", *QUEENS_PAWN)
SCORE = f"""[White "Orla Finch"]
[Black "Tomas Reed"]
[Result "*"]

{SPANISH_MOVES} *

[White "Ines Marsh"]
[Black "Tomas Reed"]
[Result "*"]

{QUEENS_PAWN_MOVES} *
"""


@pytest.fixture(params=["with the scores", "without a score"])
def talk(request: pytest.FixtureRequest, tmp_path: Path) -> Talk:
    captions = tmp_path / "evening.vtt"
    captions.write_text(told(*SENTENCES).source, encoding="utf-8")
    score = tmp_path / "evening.pgn"
    score.write_text(SCORE, encoding="utf-8")
    return open_talk(captions, score if request.param == "with the scores" else None, remembers=True)


def main_line(game: Game) -> str:
    return " ".join(node.san for node in game.nodes if node.main and node.san)


def word_at(captions: Captions, text: str) -> int:
    texts, wanted = [word.text for word in captions.words], text.split()
    return next(i for i in range(len(texts)) if texts[i : i + len(wanted)] == wanted)


def test_rows_of_both_games_are_shown_in_order(talk: Talk) -> None:
    view = talk.aligned.view
    assert len(talk.record.games) == 2
    assert [row.words for row in view.rows] == sorted(row.words for row in view.rows)
    second = word_at(talk.alignment.captions, "Pawn to d4, pawn to d5.")
    row = next(row for row in view.rows if row.words[0] == second)
    assert row.fen == chess.STARTING_FEN and row.name == "1.d4"


def test_typed_moves_stand_in_the_game_that_the_words_are_about(talk: Talk) -> None:
    captions = talk.alignment.captions
    first, second = word_at(captions, "Bishop e7"), word_at(captions, "Rook to c1")
    for word, text, line in ((first, "Be7", SPANISH_MOVES), (second, "Rc1", QUEENS_PAWN_MOVES)):
        moves = line.split()
        place = talk.places(word, text, True)[0]
        assert talk.line(place.node) == tuple(moves[: moves.index(text) + 1])
        assert talk.node(word, moves) is not None
    assert talk.node(first, QUEENS_PAWN_MOVES.split()[:2]) is not None  # legal there, but a line


def test_a_decision_changes_its_own_game_only(talk: Talk) -> None:
    captions = talk.alignment.captions
    before = talk.record
    word = word_at(captions, "pawn to h6")
    settle_at(talk, captions.words[word].start, "pawn to h6", "none", None, "")
    talk.align()
    assert talk.record.games[0] == before.games[0]
    assert [main_line(game) for game in talk.record.games] == [SPANISH_MOVES, QUEENS_PAWN_MOVES]
    assert not any(mention.words[0] == word for mention in talk.record.games[1].mentions)
    assert "h6" not in [node.san for node in talk.record.games[1].nodes]
    word = word_at(captions, "rook takes c3,")
    settle_at(talk, captions.words[word].start, "rook takes c3", "Rxc3", None, "")
    talk.align()
    settled = [mention for mention in talk.record.games[1].mentions if mention.words[0] == word]
    assert [mention.confidence for mention in settled] == [1.0]
    assert not any("no longer fits" in note for note in talk.record.notes)

"""Which score is it? The index of a file of games, and the game a talk is about."""

from __future__ import annotations

import random
from pathlib import Path

import chess
import pytest
from archive import invented_record, spoken

from aligner.captions.words import Word
from aligner.catalogue.faults import CatalogueError
from aligner.catalogue.positions import move_code
from aligner.catalogue.scores import which_score, write_score
from aligner.catalogue.scores_index import ScoresIndex, index_path, move_codes, open_index
from aligner.errors import ScoreError
from aligner.pgn.reader import parse_scores
from aligner.pgn.score import Score
from aligner.record.tree import main_line
from aligner.speech.listen import Speech, listen


def invented_score(seed: int) -> Score:
    """The game of an invented talk."""
    game = invented_record(seed, 1, 0).games[0]
    moves = tuple(node.uci or "" for node in main_line(game))
    return Score(game.start_fen, moves, {**game.headers, "Round": str(seed)})


def invented_speech(score: Score, seed: int, share: float = 0.7) -> Speech:
    """A talk about a game: some of its moves left out, other moves in between, words around them."""
    draw = random.Random(seed)
    board = chess.Board(score.start_fen)
    texts: list[str] = []
    for uci in score.moves:
        move = chess.Move.from_uci(uci)
        if draw.random() < 0.2:  # a sideline of one move
            texts += [
                "instead",
                "of",
                *spoken(board, draw.choice(list(board.legal_moves))).split(),
                "which",
                "is",
                "worse",
            ]
        if draw.random() < share:
            texts += (
                spoken(board, move).split() + draw.choice(["and then", "of course", "a good move", "so now"]).split()
            )
        board.push(move)
    return listen([Word(text, 400 * number, 400 * number + 300, 0) for number, text in enumerate(texts)])


@pytest.fixture(scope="module")
def scores() -> list[Score]:
    return [invented_score(seed) for seed in range(120)]


@pytest.fixture
def database(tmp_path: Path, scores: list[Score]) -> Path:
    path = tmp_path / "games.pgn"
    path.write_text("".join(map(write_score, scores)), encoding="utf-8")
    return path


def test_written_scores_read_back(scores: list[Score]) -> None:
    assert [(one.moves, one.headers["White"]) for one in parse_scores("".join(map(write_score, scores)), "x")] == [
        (one.moves, one.headers["White"]) for one in scores
    ]


def test_the_game_is_found_among_many(database: Path, scores: list[Score], tmp_path: Path) -> None:
    index = open_index(database, tmp_path)
    assert index.games == len(scores)
    for number in range(0, 120, 10):
        found = which_score(invented_speech(scores[number], number), index)
        assert found.best is not None
        assert found.best.game.number == number + 1
        assert found.best.game.score.headers["Round"] == str(number)
        assert found.best.evidence.matched > max(match.evidence.matched for match in found.others)
    index.close()


def test_codes_of_moves_are_those_of_a_board(scores: list[Score]) -> None:
    line = "e4 e5 Nf3 Nc6 Bc4 d5 exd5 Bg4 O-O Qd6 dxc6 O-O-O cxb7+ Kb8 d4 f6 d5 c5 dxc6 Qe6 Qd5 Qc8 bxc8=N Rxd5 Na7"
    board = chess.Board()
    known = tuple(board.push_san(san).uci() for san in line.split())
    # castled already, so that the king's move from e1 to g1 is no castling
    late = Score("4k3/8/8/8/8/8/8/4K1R1 w - - 0 1", ("e1d2", "e8d7"), {})
    for score in (*scores, Score(chess.STARTING_FEN, known, {}), late):
        board, expected = chess.Board(score.start_fen), []
        for uci in score.moves:
            expected.append(move_code(board, chess.Move.from_uci(uci)))
            board.push_uci(uci)
        assert move_codes(score) == expected


def test_none_fits(database: Path, tmp_path: Path) -> None:
    index = open_index(database, tmp_path)
    for seed in range(500, 506):
        found = which_score(invented_speech(invented_score(seed), seed), index)
        assert found.best is None and found.games == 120
    assert which_score(listen([]), index).best is None
    index.close()


def _numbers(index: ScoresIndex) -> int:
    games = index.games
    index.close()
    return games


def test_the_index_follows_the_file(database: Path, scores: list[Score], tmp_path: Path) -> None:
    read: list[int] = []
    assert _numbers(open_index(database, tmp_path, read.append)) == 120 and read == [120]
    assert _numbers(open_index(database, tmp_path, read.append)) == 120 and read == [120]
    with database.open("a", encoding="utf-8") as file:
        file.write(write_score(invented_score(900)))
    index = open_index(database, tmp_path, read.append)
    found = which_score(invented_speech(invented_score(900), 1), index)
    assert found.best is not None and found.best.game.number == 121 and read == [120, 121]
    index.close()
    database.write_text("".join(map(write_score, scores[:40])), encoding="utf-8")
    assert _numbers(open_index(database, tmp_path, read.append)) == 40


def test_a_bad_game_is_left_out_and_told(database: Path, tmp_path: Path) -> None:
    with database.open("a", encoding="latin-1") as file:
        file.write('[White "Bj\xf6rn"]\n\n1. e4 e5 2. Qh7 *\n\n[White "Good"]\n\n1. e4 {a [comment "x"]} e5 *\n')
    index = open_index(database, tmp_path)
    assert (index.games, index.skipped) == (121, 1)
    assert index.game(122).score.headers["White"] == "Good"
    index.close()


def test_files_that_cannot_be_used(tmp_path: Path, database: Path) -> None:
    for path, data in (
        (tmp_path / "none.pgn", None),
        (tmp_path / "empty.pgn", b""),
        (tmp_path / "no.pgn", b"\x00\xff" * 50),
    ):
        if data is not None:
            path.write_bytes(data)
        with pytest.raises(ScoreError) as told:
            open_index(path, tmp_path)
        assert str(told.value).endswith(".")
    (tmp_path / "file").write_text("x")
    with pytest.raises(CatalogueError):
        open_index(database, tmp_path / "file" / "deeper")


def test_a_damaged_index_is_made_again(database: Path, tmp_path: Path) -> None:
    open_index(database, tmp_path).close()
    index_path(database, tmp_path).write_bytes(b"no database at all" * 500)
    assert _numbers(open_index(database, tmp_path)) == 120

"""Scores out of PGN and FEN: python-chess as the reference, the PGN standard and the FIDE Laws for single facts."""

from __future__ import annotations

import io
import os
import time
from pathlib import Path

import chess
import chess.pgn
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from invented_records import games

from aligner.errors import ScoreError
from aligner.pgn.reader import parse_fen, parse_scores, read_scores
from aligner.record.model import Game

# FIDE Laws of Chess, appendix C, sample game, in its first and second form; final position worked out by python-chess.
FIDE_FIRST = (
    "1. e4 e5 2. Nf3 Nf6 3. d4 exd4 4. e5 Ne4 5. Qxd4 d5 6. exd6 e.p. Nxd6 7. Bg5 Nc6 8. Qe3+ Be7 9. Nbd2 0-0 "
    "10. 0-0-0 Re8 11. Kb1 (=)"
)
FIDE_SECOND = (
    "1. e4 e5 2. Nf3 Nf6 3. d4 ed4 4. e5 Ne4 5. Qd4 d5 6. ed6 Nd6 "
    "7. Bg5 Nc6 8. Qe3 Be7 9 Nbd2 0-0 10. 0-0-0 Re8 11. Kb1"
)
FIDE_END = "r1bqr1k1/ppp1bppp/2nn4/6B1/8/4QN2/PPPN1PPP/1K1R1B1R b - - 9 11"


def played(moves: tuple[str, ...]) -> str:
    """The FEN after these moves from the usual start."""
    board = chess.Board()
    for uci in moves:
        board.push_uci(uci)
    return board.fen()


def moves_of(text: str) -> str:
    """The own line of the only game, in UCI."""
    (score,) = parse_scores(text, "game.pgn")
    return " ".join(score.moves)


def fault(text: str) -> str:
    """The sentence that a text gets."""
    with pytest.raises(ScoreError) as caught:
        parse_scores(text, "game.pgn")
    return str(caught.value)


@pytest.mark.parametrize("text", [FIDE_FIRST, FIDE_SECOND])
def test_the_sample_game_of_the_laws(text: str) -> None:
    assert played(parse_scores(text, "fide.pgn")[0].moves) == FIDE_END


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # 8.2.2.1: numbers are not needed, and periods may be many, none or apart.
        ("e4 e5 Nf3", "e2e4 e7e5 g1f3"),
        ("1.e4 e5 2.Nf3", "e2e4 e7e5 g1f3"),
        ("1 e4 1 ... e5 2 . Nf3", "e2e4 e7e5 g1f3"),
        # 5: braces do not nest; semicolon to the end of the line; brackets in comments mean nothing.
        ("1. e4 {a ( ; {} e5 ; 2. d4 ( {\n2. Nf3", "e2e4 e7e5 g1f3"),
        ("1. e4 {over\n\nan empty line} e5", "e2e4 e7e5"),
        # 6: a percent sign in column 1 escapes the line.
        ("1. e4\n% 1... c5\ne5", "e2e4 e7e5"),
        # 8.2.3.8 and 8.2.4: judgements.
        ("1. e4! $1 e5?? 2. Nf3!?", "e2e4 e7e5 g1f3"),
        ("1. e4+- e5 += 2. Nf3±", "e2e4 e7e5 g1f3"),
        # 8.2.5: sidelines nest, and hold comments with brackets in them.
        ("1. e4 (1. d4 d5 (1... Nf6 {)} 2. c4) ; )\n2. c4) 1... e5", "e2e4 e7e5"),
        # 8.2.3.7: letters of promotion without "=", long form; FIDE Laws C.8.
        ("1. e2-e4 e7e5 2. Ng1f3", "e2e4 e7e5 g1f3"),
    ],
)
def test_import_format(text: str, expected: str) -> None:
    """PGN standard, sections named beside each; a fact without one is common practice."""
    assert moves_of(text) == expected


def test_tags() -> None:
    """PGN standard, 8.1: several on a line, any order; 7.1: escapes. A careless quote inside is common practice."""
    text = '[Black "B"][White "A \\"x\\" \\\\ y"]\n[Event "the "old" one"]\n[Result "1-0"]\n\n1. e4 1-0\n'
    assert parse_scores(text, "a.pgn")[0].headers == {
        "Black": "B", "White": 'A "x" \\ y', "Event": 'the "old" one', "Result": "1-0",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "result"),
    [
        ("1. e4 1-0", "1-0"),
        ("1. e4 ½-½", "1/2-1/2"),
        ("1. e4", "*"),
        ('[Result "0-1"]\n\n1. e4 *', "0-1"),
        ('[Result "?"]\n\n1. e4 0-1', "0-1"),
    ],
)
def test_result_is_always_there(text: str, result: str) -> None:
    assert parse_scores(text, "a.pgn")[0].headers["Result"] == result


def test_several_games() -> None:
    """By marker, by tag pairs where the marker is missing, by a new move 1 after an empty line."""
    text = '1. e4 *\n[White "A"]\n\n1. d4 (1. c4\n[White "B"]\n\n1. f4 f5\n\n1. g3 d5\n'
    scores = parse_scores(text, "many.pgn")
    assert [score.moves[0] for score in scores] == ["e2e4", "d2d4", "f2f4", "g2g3"]
    assert [score.number for score in scores] == [1, 2, 3, 4]
    assert [score.headers.get("White") for score in scores] == [None, "A", "B", None]


def test_another_start() -> None:
    fen = "4k3/8/8/8/8/8/4P3/4K3 w - - 0 1"
    (score,) = parse_scores(f'[SetUp "1"]\n[FEN "{fen}"]\n\n1. e4 *', "a.pgn")
    assert (score.start_fen, score.moves, score.headers) == (fen, ("e2e4",), {"Result": "*"})
    (score,) = parse_scores(f'[FEN "{fen}"]\n\n*', "a.pgn")
    assert (score.start_fen, score.moves) == (fen, ())


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "game.pgn: the file is empty"),
        ("\ufeff \n", "the file is empty"),
        ("*", "line 1: no game was found"),
        ("WEBVTT\n\nhello", "line 1: no game was found in it; a PGN holds tag pairs like"),
        ("; only a remark", "game.pgn: no game was found"),
        (
            "1. e4 *\n\n1. e4 e5\n2. Ke3 *",
            "game.pgn, line 4: game 2, move 2 of White, 'Ke3', is not legal in the position "
            "rnbqkbnr/pppp1ppp/8/4p3/4P3/8/PPPP1PPP/RNBQKBNR w KQkq - 0 2.",
        ),
        ("1. e4 Nf9", "game 1, move 1 of Black, 'Nf9', is no move in algebraic notation in the position"),
        ("1. d4 d5 2. Nf3 a6 3. Nd2", "can be made by more than one piece; say from which file or rank"),
        ("1. e4 -- 2. d4", "move 1 of Black, '--', is a null move"),
        ("1. e4 Z0", "is a null move"),
        ("1. e4\n{never closed\n\n", "line 2: the comment that begins here"),
        ('[White "A"\n\n1. e4', "line 1: this tag pair cannot be read"),
        ('[FEN "8/8/8/8/8/8/8/8 w - - 0 1"]\n\n*', "game 1: the position '8/8/8/8/8/8/8/8 w - - 0 1'"),
        ('[Variant "Atomic"]\n\n1. e4', "game 1 follows the rules of 'Atomic'"),
        ("1. e4 \x00", "line 1: this is not text"),
    ],
)
def test_each_fault_has_its_sentence(text: str, sentence: str) -> None:
    message = fault(text)
    assert sentence in message and message.endswith(".") and "\n" not in message


@settings(max_examples=300, deadline=None)
@given(st.one_of(st.text(), st.text(alphabet='[]"(){};%$*.12-e4Nf3O \n=', max_size=60)))
def test_any_text_gives_scores_or_a_sentence(text: str) -> None:
    try:
        scores = parse_scores(text, "game.pgn")
    except ScoreError as error:
        assert str(error).startswith("game.pgn") and str(error).endswith(".")
    else:
        for score in scores:
            board = chess.Board(score.start_fen)
            for uci in score.moves:
                assert chess.Move.from_uci(uci) in board.legal_moves
                board.push_uci(uci)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(games())
def test_against_what_python_chess_writes(game: Game) -> None:
    """python-chess as the writer: its main line is ours."""
    root = chess.pgn.Game()
    root.setup(chess.Board(game.start_fen))
    at: dict[int, chess.pgn.GameNode] = {0: root}
    for node in game.nodes[1:]:
        at[node.id] = at[node.parent or 0].add_variation(
            chess.Move.from_uci(node.uci or ""),
            comment=" ".join(node.comment.replace("\0", "").split()),
            nags=node.nags,
        )
    text = str(root)
    reference = chess.pgn.read_game(io.StringIO(text))
    assert reference is not None
    (score,) = parse_scores(text, "game.pgn")
    assert score.moves == tuple(move.uci() for move in reference.mainline_moves())


def test_thousands_of_nested_sidelines_are_quick() -> None:
    text = "1. e4 " + "(1. d4 {x (} " * 3000 + ")" * 3000 + " 1... e5 *"
    before = time.process_time()
    assert moves_of(text) == "e2e4 e7e5"
    assert moves_of("1. e4 " + "(1. d4 " * 3000 + " 1... e5 *") == "e2e4"
    assert time.process_time() - before < 1


def test_a_file_is_read_line_by_line(tmp_path: Path) -> None:
    """A thousand games with long sidelines, on one line each."""
    file = tmp_path / "many.pgn"
    file.write_text('[White "A"]\n\n1. e4 (' + "1. d4 d5 2. c4 " * 50 + ") 1... e5 1-0\n\n" * 1, encoding="utf-8")
    file.write_text(file.read_text(encoding="utf-8") * 1000, encoding="utf-8")
    scores = read_scores(file)
    assert len(scores) == 1000 and scores[-1].number == 1000 and scores[-1].moves == ("e2e4", "e7e5")


NAMES = '[White "Zoë Müller-Łuk"]\n\n1. e4 *\n'


@pytest.mark.parametrize(
    ("data", "white"),
    [
        (NAMES.encode(), "Zoë Müller-Łuk"),
        (b"\xef\xbb\xbf" + NAMES.encode(), "Zoë Müller-Łuk"),
        (NAMES.encode("utf-16"), "Zoë Müller-Łuk"),
        (NAMES.replace("Ł", "L").encode("latin-1"), "Zoë Müller-Luk"),
        (NAMES.encode().replace(b"\n", b"\r\n") + b"\x1a", "Zoë Müller-Łuk"),
        (NAMES.encode().replace(b"\n", b"\r"), "Zoë Müller-Łuk"),
    ],
)
def test_encodings(tmp_path: Path, data: bytes, white: str) -> None:
    """PGN standard, 4.1: Latin-1; UTF-8 and marked UTF-16 are common practice."""
    file = tmp_path / "game.pgn"
    file.write_bytes(data)
    (score,) = read_scores(file)
    assert score.headers["White"] == white and score.moves == ("e2e4",)


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "the file is empty"),
        (b"  \n", "the file is empty"),
        (bytes(range(256)) * 10, "this is not text"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "this is not text"),
        (NAMES.encode("utf-16-le"), "this is not text"),
        (b"\xff\xfe[\x00W", "damaged UTF-16"),
        (b"\xff\xfe[\x00\x00\xd8a", "damaged UTF-16"),
    ],
)
def test_files_that_are_no_pgn(tmp_path: Path, data: bytes, sentence: str) -> None:
    file = tmp_path / "game.pgn"
    file.write_bytes(data)
    with pytest.raises(ScoreError, match=rf"^game\.pgn.*: .*({sentence})"):
        read_scores(file)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(ScoreError, match="there is no such file"):
        read_scores(tmp_path / "none.pgn")
    with pytest.raises(ScoreError, match="this is a folder"):
        read_scores(tmp_path)
    with pytest.raises(ScoreError, match="cannot be read"):
        read_scores(Path("a\0b"))
    locked = tmp_path / "locked.pgn"
    locked.write_text("1. e4")
    locked.chmod(0)
    if not os.access(locked, os.R_OK):
        with pytest.raises(ScoreError, match="may not be read"):
            read_scores(locked)


# PGN standard, 16.1.4: the three worked examples (after 1. e4, then 1... c5, then 2. Nf3).
@pytest.mark.parametrize(
    "fen",
    [
        "rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1",
        "rnbqkbnr/pppppppp/8/8/4P3/8/PPPP1PPP/RNBQKBNR b KQkq e3 0 1",
        "rnbqkbnr/pp1ppppp/8/2p5/4P3/8/PPPP1PPP/RNBQKBNR w KQkq c6 0 2",
        "rnbqkbnr/pp1ppppp/8/2p5/4P3/5N2/PPPP1PPP/RNBQKB1R b KQkq - 1 2",
    ],
)
def test_examples_of_fen(fen: str) -> None:
    assert parse_fen(fen) == fen
    assert parse_fen(f"  {fen.replace(' ', '  ')}\n") == fen


def test_four_fields_are_taken() -> None:
    assert parse_fen("4k3/8/8/8/8/8/4P3/4K3 w - -") == "4k3/8/8/8/8/8/4P3/4K3 w - - 0 1"


@pytest.mark.parametrize(
    ("fen", "sentence"),
    [
        ("", "six fields, and this one is empty"),
        ("hello", "'hello' has 1"),
        ("4k3/8/8/8/8/8/8/4K3 x - - 0 1", "who moves"),
        ("4k3/8/8/8/8/8/8/4K3 w - - a 1", "count moves"),
        ("4k3/8/8/8/8/8/8/4K3 w - - 0 " + "9" * 5000, "count moves"),
        ("4k3/8/8/8/8/8/8 w - - 0 1", "is no FEN"),
        ("4k3/9/8/8/8/8/8/4K3 w - - 0 1", "is no FEN"),
        ("8/8/8/8/8/8/8/4K3 w - - 0 1", "Black has no king"),
        ("4k3/8/8/8/8/8/8/4K2K w - - 0 1", "more than one king"),
        ("4k2P/8/8/8/8/8/8/4K3 w - - 0 1", "first or the eighth rank"),
        ("4k3/8/8/8/PPPPPPPP/P7/8/4K3 w - - 0 1", "more than eight pawns"),
        ("4k3/8/8/8/8/8/8/4K3 w K - 0 1", "castling rights"),
        ("4k3/8/8/8/8/8/8/4K3 w - e6 0 1", "en passant square"),
        ("4k3/8/8/8/8/8/8/4RK2 w - - 0 1", "has just moved stands in check"),
    ],
)
def test_positions_that_cannot_be(fen: str, sentence: str) -> None:
    with pytest.raises(ScoreError, match=sentence):
        parse_fen(fen)


@settings(max_examples=200, deadline=None)
@given(st.one_of(st.text(), st.text(alphabet="kKqQrRpP12345678/ wb-e3", min_size=20, max_size=80)))
def test_any_text_is_a_position_or_a_sentence(text: str) -> None:
    try:
        assert chess.Board(parse_fen(text)).is_valid()
    except ScoreError as error:
        assert str(error).endswith(".") and "\n" not in str(error)

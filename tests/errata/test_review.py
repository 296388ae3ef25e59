"""Cause, reason and report of misnamed moves. Talks are invented."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import chess
import pytest
from talks import heard, played

from aligner.errata.cause import a_step, caption_share, cause, distance, named_in, prior_of
from aligner.errata.reasons import diagram, reason
from aligner.errata.report import Erratum, write
from aligner.errata.review import reviewed
from aligner.record.model import Finding, Game, Meant


def misnamed(text: str, said: str, kind: str) -> tuple[Finding, Game]:
    speech = heard(text)
    game = played(speech, [("e4", "e4"), ("e5", "e5"), ("Nf3", said)], kind="move")
    mention = game.mentions[-1]
    board = chess.Board("rnbqkbnr/pppp1ppp/8/4p3/4P3/8/PPPP1PPP/RNBQKBNR w KQkq - 0 2")
    finding = Finding(
        mention.start, mention.end, said, mention.words, kind, "unsure", Meant("g1f3", "Nf3", 3), 0.9, "", board.fen()
    )
    slip = replace(mention, kind="slip")
    game = replace(game, mentions=(*game.mentions[:-1], slip), findings=(finding,))
    return reviewed(speech, game).findings[0] if reviewed(speech, game).findings else finding, reviewed(speech, game)


@pytest.mark.parametrize(("said", "kind", "sentence"), [
    ("knight f4", "rank", '"knight f4" is not possible here; the game has 2.Nf3, one rank away.'),
    ("knight h3", "file", '"knight h3" is possible here too; the game has 2.Nf3, two files away.'),
    ("bishop f3", "piece",
     '"bishop f3" is not possible here; the game has 2.Nf3, a knight\'s move and not a bishop\'s.'),
    ("nite f3", "garble", '"nite f3" is 2.Nf3 misheard: the game has this move, and the words sound like it.'),
])  # fmt: skip
def test_reasons(said: str, kind: str, sentence: str) -> None:
    finding, _ = misnamed(f"e4 e5 {said} of course", said, kind)
    assert finding.message == sentence


# Common practice: who takes a slip back at once has made none that anyone must be told of.
@pytest.mark.parametrize(("said", "kind", "then", "found"), [
    ("knight f4", "rank", "no sorry knight f3 of course", False),
    ("knight f4", "rank", "no f3. The e5 pawn is next", False),
    ("knight f4", "rank", "what am I saying knight f3 of course", False),
    ("knight f4", "rank", "oops f3", False),
    ("knight f4", "rank", "er f3 I think", False),
    ("knight f4", "rank", "knight f3 I should say", False),
    ("bishop f3", "piece", "not bishop f3 knight f3", False),
    ("bishop f3", "piece", "sorry with the knight", False),
    ("castles long", "castling", "sorry kingside of course", False),
    ("castles long", "castling", "no short", False),
    ("knight f4", "rank", "no e5 is weak", True),
    ("knight f4", "rank", "sorry sorry knight f3 knight f3 of course", True),  # told twice: more ado than a word
    ("knight f4", "rank", "not a bad move", True),
    ("knight f4", "rank", "and knight f3 is a fine square", True),
    ("castles long", "castling", "not a bad move", True),
])  # fmt: skip
def test_a_slip_put_right_at_once_is_no_finding(said: str, kind: str, then: str, found: bool) -> None:
    _, game = misnamed(f"e4 e5 {said} {then}", said, kind)
    assert bool(game.findings) == found
    assert game.mentions[-1].kind == ("slip" if found else "move")


def test_what_is_put_right_only_in_the_next_sentence_stays_a_slip() -> None:
    _, game = misnamed("e4 e5 knight f4. Knight f3, I should say", "knight f4", "rank")
    assert game.findings


# Common practice: a square behind a preposition ends what was said before; no piece comes from where it goes.
@pytest.mark.parametrize(("said", "before", "found"), [
    ("f6 knight f3", "they meet on", False), ("f6 knight f3", "and the", True),
    ("the pawn on f3 takes", "so", False), ("g4 knight f3", "with", False),
    ("f3 knight f3", "what is free", False),  # a square called out, then the move
])  # fmt: skip
def test_what_is_glued_to_a_move_is_no_slip(said: str, before: str, found: bool) -> None:
    _, game = misnamed(f"e4 e5 {before} {said} of course", said, "origin")
    assert bool(game.findings) == found


# A square alone names a pawn's move (FIDE Laws of Chess, appendix C.3), and "takes" alone names none.
@pytest.mark.parametrize(("said", "kind", "found"), [
    ("eats it", "capture", False), ("take this", "capture", False), ("f4", "rank", False), ("f four", "rank", False),
    ("with the knight", "capture", False), ("knight takes", "capture", True), ("goes to f4", "rank", True),
    ("castles long", "castling", True),
])  # fmt: skip
def test_words_that_name_no_move_misname_none(said: str, kind: str, found: bool) -> None:
    _, game = misnamed(f"e4 e5 {said} of course", said, kind)
    assert bool(game.findings) == found


@pytest.mark.parametrize(("said", "before", "found"), [
    ("the bishop goes to f3", "after taking", False), ("the bishop goes to f3", "and so", True),
    ("bishop from c1 f3", "finally the", False), ("bishop from g1 to f3", "finally the", True),
    ("bishop four to f3", "the knight from", False), ("queens i took", "he changed", False),
])  # fmt: skip
def test_a_piece_that_is_spoken_of_before_does_not_move(said: str, before: str, found: bool) -> None:
    _, game = misnamed(f"e4 e5 {before} {said} of course", said, "piece")
    assert bool(game.findings) == found


@pytest.mark.parametrize(("said", "found"), [
    ("knight takes i", False), ("take back of", False), ("knight takes the", False), ("knight of three", True),
    ("nite f3", True),
])  # fmt: skip
def test_a_garble_ends_before_a_word_that_belongs_to_what_follows(said: str, found: bool) -> None:
    _, game = misnamed(f"e4 e5 {said} course", said, "garble")
    assert bool(game.findings) == found
    assert game.mentions[-1].kind == ("slip" if found else "move")


@pytest.mark.parametrize(("sure", "found"), [(0.9, True), (0.6, False)])
def test_words_that_hardly_sound_like_a_move_are_no_finding(sure: float, found: bool) -> None:
    finding, game = misnamed("e4 e5 nite f3 of course", "nite f3", "garble")
    speech = heard("e4 e5 nite f3 of course")
    assert bool(reviewed(speech, replace(game, findings=(replace(finding, confidence=sure),))).findings) == found


# CMU Pronouncing Dictionary, by way of the table of sounds: B and D differ in one consonant, A and H in more.
def test_the_cause_follows_the_sound() -> None:
    near, far = distance("bishop b5", "file", "a4d5", "bishop"), distance("bishop a5", "file", "a4g5", "bishop")
    assert near < far
    assert caption_share(near) > caption_share(far)
    assert cause("nite f3", "garble", "g1f3", "knight") == "caption"
    # words that name no square were misheard, whatever square they sound like
    assert cause("di five", "file", "g7g5", "pawn", prior_of(0, 5)) == "caption"
    assert cause("f5", "file", "g7g5", "pawn", prior_of(0, 5)) == "speaker"
    # a neighbouring file is the tongue's slip sooner than one that sounds as like and lies farther off
    assert caption_share(near, step=True) < caption_share(near)
    assert a_step("knight f4", "rank", "g1f3") and a_step("rook e d1", "origin", "d4d1")
    assert not a_step("knight g4", "square", "g1f3") and not a_step("bishop f3", "piece", "g1f3")
    assert cause("castles long", "castling", "e1g1", "king") == "speaker"
    # captions that garble much else are blamed sooner
    assert caption_share(near, prior_of(20, 2)) > caption_share(near, prior_of(0, 5))


@pytest.mark.parametrize(("said", "piece", "square", "file"), [
    ("Rook f d8,", "rook", "d8", "f"), ("queen takes b four", "queen", "b4", ""), ("Nxe5!", "knight", "e5", ""),
    ("knight F-3", "knight", "f3", ""), ("castles", "", "", ""),
])  # fmt: skip
def test_what_is_named(said: str, piece: str, square: str, file: str) -> None:
    named = named_in(said)
    assert (named.piece, named.square, named.file) == (piece, square, file)


def erratum() -> Erratum:
    finding, _ = misnamed("e4 e5 knight f4 of course", "knight f4", "rank")
    return Erratum(1, replace(finding, said='=knight "f4" | `x`\x1b[2J', start=61.5))


def test_reports_read_back() -> None:
    data = json.loads(write([erratum()], "json"))
    assert data[0]["meant"]["san"] == "Nf3" and chess.Board(data[0]["fen"]).turn is chess.WHITE
    rows = list(csv.DictReader(io.StringIO(write([erratum()], "csv"))))
    assert rows[0]["meant"] == "Nf3" and rows[0]["time"] == "1:01" and rows[0]["said"].startswith("'=")
    assert "\x1b" not in write([erratum()], "table") + write([erratum()], "markdown") + write([erratum()], "csv")


def test_a_markdown_row_has_as_many_cells_as_the_heading() -> None:
    lines = write([erratum()], "markdown").splitlines()
    assert lines[2].replace("\\|", "").count("|") == lines[0].count("|")


def test_the_diagram_is_the_position() -> None:
    rows = diagram(chess.STARTING_FEN).splitlines()
    assert rows[0] == "8 r n b q k b n r" and rows[8] == "  a b c d e f g h" and rows[9] == "  White to move"


def test_a_finding_without_a_move_keeps_its_message() -> None:
    finding = Finding(0, 1, "x", (0, 1), "number", "speaker", Meant(), 1.0, "as it was", chess.STARTING_FEN)
    assert reason(finding, None) == "as it was"

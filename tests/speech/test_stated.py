"""What is stated of a position as a whole, heard; how people say it is common practice, the sentences are invented."""

from __future__ import annotations

import pytest

from aligner.captions.words import Word
from aligner.speech.listen import Speech, listen
from aligner.speech.statements import Statement


def heard(text: str) -> Speech:
    return listen([Word(word, 400 * i, 400 * i + 350, 0) for i, word in enumerate(text.split())])


@pytest.mark.parametrize(("text", "stated"), [
    ("so White is a pawn up", Statement(2, 5, "ahead", "pawn", 1, True)),
    ("so White is a pawn down", Statement(2, 6, "ahead", "pawn", 1, False)),
    ("two clear pawns to the good", Statement(0, 6, "ahead", "pawn", 2)),
    ("we are up the exchange", Statement(1, 5, "ahead", "exchange")),
    ("the material is level", Statement(1, 4, "level")),
    ("it's Black's turn to move", Statement(0, 0, "turn", "black")),
    ("with the queens off the board", Statement(2, 4, "gone", "Q")),
    ("a rook ending now", Statement(1, 3, "ending", "R")),
    ("so this endgame", Statement(2, 3, "ending", "BNR")),
    ("down the open d-file", Statement(2, 5, "open", "3")),
    ("the e-file is open", Statement(1, 5, "open", "4")),
])  # fmt: skip
def test_statements_heard(text: str, stated: Statement) -> None:
    found = heard(text).statements
    assert [(one.kind, one.value, one.count, one.side) for one in found] == [
        (stated.kind, stated.value, stated.count, stated.side)
    ]


@pytest.mark.parametrize("text", [
    "if the queens are off he holds it",
    "that would be a rook ending",
    "he is not a pawn up",
    "a pawn up the board",
    "a pawn up for two bishops",
    "a queen behind the rook",
    "on the d-file",
])  # fmt: skip
def test_what_is_supposed_denied_or_no_statement(text: str) -> None:
    assert heard(text).statements == ()


@pytest.mark.parametrize("text", [
    "and I'm a clean pawn down in an endgame",
    "he is a pawn up for nothing",
    "if I were two pawns up",
    "he's a rook down",
])  # fmt: skip
def test_who_is_ahead_is_no_move(text: str) -> None:
    assert heard(text).stretches == ()


def test_a_pawn_that_walks_is_one() -> None:
    assert heard("he shoved a pawn up the board").stretches

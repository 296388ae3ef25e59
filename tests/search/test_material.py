"""Statements held against positions. What is called what is common practice; the positions are standard ones or built
for this, and what stands in them is counted by python-chess."""

from __future__ import annotations

import chess
import pytest

from aligner.search.material import holds
from aligner.speech.statements import Statement

START = chess.STARTING_FEN
LUCENA = "1K1k4/1P6/8/8/8/8/r7/2R5 w - - 0 1"
"""The position that carries Lucena's name, in every handbook of rook endings: rook and pawn against rook."""
OPEN_FILE = "r3k2r/ppp2ppp/2n2n2/4p3/4P3/2N2N2/PPP2PPP/R3K2R b KQkq - 0 1"


def said(kind: str, value: str = "", count: int = 1, side: bool | None = None) -> Statement:
    return Statement(0, 1, kind, value, count, side)


@pytest.mark.parametrize(("fen", "stated", "true"), [
    (START, said("level"), True), (LUCENA, said("level"), False),
    (START, said("turn", "white"), True), (START, said("turn", "black"), False),
    (OPEN_FILE, said("turn", "black"), True),
    (START, said("gone", "Q"), False), (LUCENA, said("gone", "Q"), True), (LUCENA, said("gone", "R"), False),
    (LUCENA, said("ending", "R"), True), (LUCENA, said("ending", "BNR"), True), (LUCENA, said("ending", "P"), False),
    (OPEN_FILE, said("ending", "R"), False), (OPEN_FILE, said("ending", "BNR"), True),
    (LUCENA, said("ahead", "pawn"), True), (LUCENA, said("ahead", "pawn", side=True), True),
    (LUCENA, said("ahead", "pawn", side=False), False), (LUCENA, said("ahead", "rook"), False),
    (OPEN_FILE, said("open", "3"), True), (OPEN_FILE, said("open", "4"), False), (START, said("open", "3"), False),
])  # fmt: skip
def test_whether_a_statement_holds(fen: str, stated: Statement, true: bool) -> None:
    assert holds(chess.Board(fen), stated) is true

"""Opening names and codes against an open data set: ocn-chess 1.2.1 (PyPI), its catalogue under CC-BY-4.0."""

from __future__ import annotations

import csv
import tomllib
from functools import cache
from importlib import resources

import chess
import pytest

from aligner.catalogue.openings import by_position, opening_of
from aligner.catalogue.positions import position_of

ROWS = tomllib.loads((resources.files("aligner.speech") / "data" / "en" / "openings.toml").read_text(encoding="utf-8"))[
    "opening"
]


DISPUTED = {"Pirc Defence", "Benoni Defence", "Open Sicilian"}
"""Here the data set files the position under another code than common practice does, or than ours."""


@cache
def reference() -> dict[int, set[str]]:
    """Codes by position, of every line of the data set."""
    pytest.importorskip("ocn", reason="the data set of opening names is not installed (ocn-chess)")
    known: dict[int, set[str]] = {}
    text = (resources.files("ocn") / "data" / "ocn-1.csv").read_text(encoding="utf-8")
    for row in csv.DictReader(text.splitlines()):
        if not row["moves_uci"]:
            continue
        board = chess.Board()
        for uci in row["moves_uci"].split():
            board.push_uci(uci)
        known.setdefault(position_of(board).key, set()).update(filter(None, row["eco_legacy"].split("|")))
    return known


def keys(moves: str) -> list[int]:
    board = chess.Board()
    found = [position_of(board).key]
    for san in moves.split():
        board.push_san(san)
        found.append(position_of(board).key)
    return found


def test_codes_are_those_of_the_data_set() -> None:
    known = reference()
    compared = 0
    for row in ROWS:
        codes = known.get(keys(row["moves"])[-1])
        if codes:
            compared += 1
            assert row["eco"] in codes or row["name"] in DISPUTED, (row["name"], row["eco"], sorted(codes))
    assert compared >= 0.7 * len(ROWS)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["name"])
def test_every_name_is_found_by_its_position(row: dict[str, str]) -> None:
    assert by_position()[keys(row["moves"])[-1]] == (row["eco"], row["name"])


def test_headers_count_before_moves() -> None:
    line = keys("e4 c5 Nf3 d6")
    assert opening_of({}, line) == ("B20", "Sicilian Defence")
    # PGN standard, 9.4: Opening, Variation and ECO are the tags for it
    assert opening_of({"ECO": "B50", "Opening": "Sicilian", "Variation": "Modern"}, line) == ("B50", "Sicilian, Modern")
    assert opening_of({"ECO": "?", "Opening": "?"}, line) == ("B20", "Sicilian Defence")
    assert opening_of({}, keys("a3 a6")) == ("", "")


def test_by_whatever_order_of_moves() -> None:
    assert opening_of({}, keys("c4 e6 d4 d5"))[1] == "Queen's Gambit Declined"

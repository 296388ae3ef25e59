"""Numbers of moves read out before them; sentences invented."""

from __future__ import annotations

import chess

from aligner.captions.words import Word
from aligner.speech.listen import Speech, listen

_NAMES = "one two three four five six seven eight nine ten eleven twelve thirteen fourteen".split()


def heard(text: str) -> Speech:
    return listen([Word(word, 400 * i, 400 * i + 350, 0) for i, word in enumerate(text.split())])


def numbers(speech: Speech) -> list[int]:
    return [stretch.spoken[0].at_move for stretch in speech.stretches if stretch.spoken[0].phrase.moves[0].piece]


def test_numbers_read_out_before_moves_are_those_of_the_moves() -> None:
    """As printed game scores number them (FIDE Laws of Chess, appendix C)."""
    text = " ".join(f"{name} knight {chess.SQUARE_NAMES[16 + i]}" for i, name in enumerate(_NAMES))
    assert numbers(heard(text))[1:] == list(range(2, 15))  # "one knight" may also be any knight


def test_numbers_printed_with_moves_are_read_as_python_chess_prints_them() -> None:
    board = chess.Board()
    moves = [board.push_san(san) for san in "e4 c6 d4 d5 Nc3 dxe4 Nxe4 Bf5".split()]
    white = chess.Board().variation_san(moves).replace(". ", ".")
    board = chess.Board()
    board.push(moves[0])
    black = board.variation_san(moves[1:2]).replace("... ", "...")
    told = [(one.spoken[0].at_move, one.spoken[0].who) for one in heard(f"so {white} and then {black}").stretches]
    assert told == [pair for number in (1, 2, 3, 4) for pair in ((number, "white"), (0, ""))] + [(1, "black")]


def test_numbers_in_words_of_their_own_are_not_printed_with_a_move() -> None:
    assert heard("chapter 3. e5 is next").stretches[0].spoken[0].at_move == 0


def test_a_few_numbers_are_no_habit() -> None:
    assert set(numbers(heard("one knight f3 and then two bishop c4 or one knight c3"))) == {0}


def test_numbers_that_count_other_things_are_none_of_moves() -> None:
    told = (7, 3, 9, 1, 12, 5, 10, 2, 14, 6)
    text = " ".join(f"that cost him {_NAMES[number - 1]} knight f3" for number in told)
    assert set(numbers(heard(text))) == {0}

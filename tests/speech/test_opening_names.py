"""Names of openings by their sound. What recognisers write for them is common practice, seen in what they wrote."""

from __future__ import annotations

import chess
import pytest

from aligner.captions.words import Word
from aligner.openings.names import names_by_sound, opening_at
from aligner.prices.prices import Prices
from aligner.search.fits import Fits
from aligner.search.lines import Lines
from aligner.speech.lexicon import lexicon
from aligner.speech.listen import listen
from aligner.speech.opening_names import heard_openings


def named(text: str) -> list[str]:
    """The openings that a text names, as the position after their moves is called."""
    speech = listen([Word(word, 400 * i, 400 * i + 350, 0) for i, word in enumerate(text.split())])
    found = []
    for entry in speech.entries:
        if entry.kind == "opening":
            board = chess.Board()
            for san in entry.value.split():
                board.push_san(san)
            one = opening_at(board)
            found.append(one.name if one else "")
    return found


@pytest.mark.parametrize(("text", "name"), [
    ("we get the Roy Lopez on the board", "Ruy Lopez"),
    ("he wanted to play the perk defense", "Pirc Defence"),
    ("a modern or the pyrrhic defense", "Pirc Defence"),
    ("against the caro can", "Caro-Kann Defence"),
    ("the karo khan defense", "Caro-Kann Defence"),
    ("a night door variation", "Sicilian Defence, Najdorf Variation"),
    ("the gioco piano", "Giuoco Piano"),
    ("kind of like the ayokin's defense", "Alekhine Defence"),
    ("this is the ready opening", "Reti Opening"),
    ("the winner variation", "French Defence, Winawer Variation"),
    ("the greenfield defense", "Gruenfeld Defence"),
])  # fmt: skip
def test_a_name_is_known_by_its_sound(text: str, name: str) -> None:
    assert named(text) == [name]


@pytest.mark.parametrize("text", [
    "i'll read the opening without remarks", "two pawns and the attack", "a very safe opening", "he is ready for it",
    "the winner takes it all", "what a perk", "the main variation", "a new system", "the best defence. Roy said so",
])  # fmt: skip
def test_other_words_are_no_names(text: str) -> None:
    assert named(text) == []


def test_a_name_as_it_is_spelt_is_not_heard_again() -> None:
    tokens = listen(
        [Word(word, 400 * i, 400 * i + 350, 0) for i, word in enumerate("a caro kann defence".split())]
    ).tokens
    assert heard_openings(tokens, lexicon().find(tokens), lexicon().context) == []


def test_every_sound_is_of_a_name_that_may_be_spoken() -> None:
    sounds = names_by_sound()
    for moves in sounds.sounds.values():
        board = chess.Board()
        for san in moves.split():
            board.push_san(san)
        one = opening_at(board)
        assert one is not None and one.phrases, moves
    assert set(sounds.alone) <= set(sounds.sounds)
    assert {sound[0] for sound in sounds.alone} <= sounds.first_letters


@pytest.mark.parametrize(("text", "moves"), [
    ("c4 and that's the Panov attack", "e4 c6 d4 d5 exd5 cxd5 c4"),
    ("pawn to d4. That, ladies and gentlemen, is the Scotch game", "e4 e5 Nf3 Nc6 d4 exd4 Nxd4"),
    ("c4 and knight f6 and that's the Panov attack", ""),  # the move before the last is none of its business
    ("c4 which nobody would have believed possible in those days of the Panov attack", ""),
])  # fmt: skip
def test_a_move_is_named_by_the_opening_told_right_after_it(text: str, moves: str) -> None:
    speech = listen([Word(word, 400 * i, 400 * i + 350, 0) for i, word in enumerate(text.split())])
    assert speech.stretches[0].spoken[0].named == tuple(moves.split())


def test_an_opening_fits_the_move_that_leads_to_it_by_any_order() -> None:
    """Common practice: a position bears its opening's name, however it was come to."""
    speech = listen([Word(word, 400 * i, 400 * i + 350, 0) for i, word in enumerate("c4 the Panov attack".split())])
    for before, term in (
        ("e4 c6 d4 d5 exd5 cxd5", "named"),
        ("d4 d5 e4 c6 exd5 cxd5", "named"),
        ("d4 d5", "named_not"),
    ):
        lines = Lines(chess.Board(), ())
        node = lines.root
        for san in before.split():
            node = lines.after(node, node.board.parse_san(san))
        fits = Fits(lines, Prices({}), {}).fits(node, speech.stretches[0].spoken[0])
        told = next(fit for move, fit, _ in fits if move == chess.Move.from_uci("c2c4"))
        assert [name for name, _ in told.terms if name.startswith("named")] == [term]

"""Spoken into written English. What editors of transcripts take out and leave is common practice."""

from __future__ import annotations

import pytest
from scripted_records import script

from aligner.notes import take_notes
from aligner.notes.markdown import notes_markdown
from aligner.notes.model import Paragraph
from aligner.record.model import Record

ITALIAN = "1. e4 e5 2. Nf3 Nc6 3. Bc4 Bc5 4. O-O Nf6"


def prose(record: Record) -> str:
    """All paragraphs in a row, without their times."""
    written = []
    for section in take_notes(record).sections:
        for block in section.blocks:
            if isinstance(block, Paragraph):
                for pieces in block.sentences:
                    text = ""
                    for piece in pieces:
                        text += ("" if piece.glued or not text else " ") + piece.text
                    written.append(text)
    return " ".join(written)


@pytest.mark.parametrize(
    ("said", "written"),
    [
        ("We open with {e4|e4}, {e5|e5}, {Nf3|knight f3}.", "We open with 1.e4, e5, 2.Nf3."),
        ("We open with {e4|pawn to e4} and he goes {e5|e5}.", "We open with 1.e4 and he goes 1...e5."),
        # a move whose words are a sentence stays one, and the move follows
        (
            "{e4 e5 Nf3 Nc6 Bc4 Bc5|E4 e5 knight f3 knight c6 bishop c4 bishop c5}. White {O-O|castles short}.",
            "1.e4 e5 2.Nf3 Nc6 3.Bc4 Bc5. White castles short (4.O-O).",
        ),
        ("{e4 e5|E4, e5}, and now {Nf3|the knight comes out}.", "1.e4 e5, and now the knight comes out (2.Nf3)."),
        ("Now {e4|e4}. Black plays {e5|E5}.", "Now 1.e4. Black plays 1...e5."),
        # a plan is no move of the game
        ("{e4|E4} is played. White wants {~Bc4|bishop to c4} next.", "1.e4 is played. White wants Bc4 next."),
        ("After {e4|e4} he takes aim, hoping for {~exd5|e takes d5}.", "After 1.e4 he takes aim, hoping for exd5."),
        # sounds go, also where they carry the full stop
        ("Um, {e4|e4} was, uh, played, er.", "1.e4 was played."),
        ("Okay, so {e4|e4} was played.", "So 1.e4 was played."),
        ("Okay. {e4|E4} was, you know, played.", "1.e4 was played."),
        ("You know that {e4|e4} is a move.", "You know that 1.e4 is a move."),
        ("I I think that {e4|e4} is very very good.", "I think that 1.e4 is very very good."),
        ("We saw that that pawn goes to e4, {e4|e4}.", "We saw that that pawn goes to e4, 1.e4."),
        ("The knight eyes E5 after {e4|e4}.", "The knight eyes e5 after 1.e4."),
    ],
)
def test_punctuated_sentences(said: str, written: str) -> None:
    assert prose(script(said, ITALIAN)) == written


PADDING = " ".join(["and he thought about it for a while because the clock was on his side"] * 4)


@pytest.mark.parametrize(
    ("said", "kept", "gone"),
    [
        (
            "Um so white plays {e4|e4} and i think it is um the best move.",
            ["White plays", "I think it is the best"],
            ["um", " i "],
        ),
        ("The white king is safe and white is happy after {e4|e4}.", ["white king", "White is happy"], []),
        (
            "It is a sicilian they said but it is the ruy lopez says ada {e4|e4}.",
            ["Sicilian", "Ruy Lopez", "Ada"],
            ["sicilian"],
        ),
        ("It is kind of nice and that kind of move wins, {e4|e4}.", ["is nice", "that kind of move"], ["kind of nice"]),
    ],
)
def test_captions_without_punctuation(said: str, kept: list[str], gone: list[str]) -> None:
    text = prose(script(f"{said} {PADDING}.", ITALIAN, captions="auto"))
    assert all(part in text for part in kept), text
    assert not any(part in text for part in gone), text
    assert text.endswith((".", "?"))
    assert text[0].isupper() or text[0].isdigit()


def test_a_black_move_has_its_number_unless_it_follows_its_own() -> None:
    text = prose(script("First {e4|e4}, then after a while {e5|e5}. {Nf3|Knight f3}. {Nc6|Knight c6}.", ITALIAN))
    assert text == "First 1.e4, then after a while 1...e5. 2.Nf3. 2...Nc6."


def test_a_misnamed_move_is_written_as_it_was_meant() -> None:
    record = script("{e4 e5|E4, e5}, and {!Nf3|knight f4|square}.", ITALIAN)
    assert prose(record) == "1.e4 e5, and 2.Nf3."
    notes = take_notes(record)
    assert [(one.said, one.meant, one.cause) for one in notes.errata] == [("knight f4", "2.Nf3", "Slip of the tongue")]
    assert "## Errata" in notes_markdown(notes)


def test_a_move_named_across_a_full_stop_leaves_both_sentences_whole() -> None:
    record = script("{e4 e5|E4, e5}, he took {Nf3|the centre. Knight f3}, and so on.", ITALIAN)
    assert prose(record) == "1.e4 e5, he took the centre. 2.Nf3, and so on."

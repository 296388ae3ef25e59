"""Spelling alphabets of the speaker's own. Common practice: who calls moves by telephone spells the files by words."""

from __future__ import annotations

import chess
import pytest

from aligner.captions.words import Word
from aligner.speech.listen import listen

# an invented caller; of his words the lexicon knows "egg" alone
CALLER = (
    "pawn to egg four, egg five. knight to fish three, knight to coal six. bishop to coal four, bishop to coal five. "
    "pawn to door three, door six. castles, knight to fish six. pawn to hat three, hat six. bishop to goat five. "
    "goat four, bandage five. bishop bandage three. "
)


def squares(text: str) -> list[str]:
    """Squares of the whole phrases that start nowhere inside another one."""
    speech = listen([Word(word, 400 * i, 400 * i + 350, 0) for i, word in enumerate(text.split())])
    found = []
    for stretch in speech.stretches:
        first = stretch.spoken[0]
        target = first.phrase.moves[0].target
        if not first.inside and target is not None:
            found.append(chess.square_name(target))
    return found


def test_the_words_of_a_caller_are_files() -> None:
    assert squares(CALLER) == "e4 e5 f3 c6 c4 c5 d3 d6 f6 h3 h6 g5 g4 b5 b3".split()


@pytest.mark.parametrize("text", [
    "board five, board three and game four, game two, they all won. door two was open, door one as well",
    "chapter four, chapter five, chapter six, hat five",
])  # fmt: skip
def test_words_before_numbers_are_no_files_where_there_is_no_alphabet(text: str) -> None:
    assert squares(text) == []

"""Comments and judgements: readable text of what was said, glyphs as section 10 of the PGN standard means them."""

from __future__ import annotations

import pytest
from search.invented_talks import QUIET, captions_of, score_of, spoken, words_of

from aligner.pipeline import align
from aligner.record.model import Game
from aligner.speech.lexicon import lexicon
from aligner.speech.listen import listen
from aligner.tree.remarks import LONGEST_REMARK, judgements, remark


def remark_of(text: str) -> str:
    speech = listen(words_of(text))
    return remark(speech, 0, len(speech.words))


@pytest.mark.parametrize(("text", "expected"), [
    ("and that is quiet. It keeps everything together.", "And that is quiet. It keeps everything together."),
    ("a very calm answer. And now he", "A very calm answer."),
    ("a very calm answer and now he plays", "A very calm answer"),
    ("Is it good? I think so! So then", "Is it good? I think so!"),
    ("well, yes", ""),
    ("", ""),
    ("— a very calm answer", "A very calm answer"),
])  # fmt: skip
def test_a_remark_is_whole_sentences(text: str, expected: str) -> None:
    assert remark_of(text) == expected


def test_a_long_remark_is_cut_at_a_sentence_or_a_word() -> None:
    cut = remark_of("This sentence is one of many. " * 60)
    assert len(cut) <= LONGEST_REMARK and cut.endswith("many.")
    cut = remark_of("words and words " * 100)
    assert len(cut) <= LONGEST_REMARK + 2 and cut.endswith("…") and "word…" not in cut


@pytest.mark.parametrize(("text", "glyphs"), [
    ("a brilliant move and white is winning", (3, 18)), ("that's a blunder", (4,)), ("a clear mistake", (2,)),
    ("a good move", (1,)), ("dubious", (6,)), ("the only move", (7,)), ("it's equal", (10,)),
    ("black is better", (17,)),
    ("an interesting move", (5,)), ("white is in zugzwang", (22,)), ("black is in time trouble", (139,)),
    ("it is not a mistake", ()), ("this would be a blunder", ()), ("a quiet day", ()), ("good move, bad move", (1,)),
])  # fmt: skip
def test_judgements(text: str, glyphs: tuple[int, ...]) -> None:
    """Meanings: see test_lexicon.py, where the standard's wording stands."""
    speech = listen(words_of(text))
    entries = [entry for entry in speech.entries if entry.kind == "judgement"]
    assert judgements(speech, entries, 0, len(speech.words), dict(lexicon().judgements)) == glyphs


def game_of(text: str) -> Game:
    return align(captions_of(text), [score_of(QUIET)]).games[0]


def test_a_comment_stands_with_the_move_it_follows() -> None:
    text = "Hello all. " + spoken("e4 e5 Nf3") + " This attacks the pawn at once. " + spoken("Nc6 Bc4 Bc5 c3")
    comments = {node.san: node.comment for node in game_of(text).nodes if node.comment}
    assert comments == {"Nf3": "This attacks the pawn at once."}


def test_a_judgement_stands_with_its_move() -> None:
    text = "Hello all. " + spoken("e4 e5 Nf3") + " A brilliant move. " + spoken("Nc6 Bc4")
    game = game_of(text + " A blunder, and black is better. " + spoken("Bc5 c3"))
    assert {node.san: node.nags for node in game.nodes if node.nags} == {"Nf3": (3,), "Bc4": (4, 17)}

"""Slips put right with some ado. Common practice: only what is corrected in the same breath needs no note. Invented."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from talks import heard, played

from aligner.captions import Word
from aligner.errata.review import reviewed
from aligner.errata.statements import false_statements
from aligner.record.model import Finding, Meant
from aligner.speech.listen import listen

_AFTER_TWO = "rnbqkbnr/pppp1ppp/8/4p3/4P3/8/PPPP1PPP/RNBQKBNR w KQkq - 0 2"


@pytest.mark.parametrize(("said", "kind"), [
    ("knight f4. Sorry, knight f3", "rank"),
    ("knight to f4, nothing can go there, what am I saying, knight f3", "rank"),
    ("knight to f5, no, listen to me, now, knight f3", "rank"),  # f5 is out of reach: "no" refuses no move
    ("bishop f3. No, that is the wrong card, sorry, knight f3", "piece"),
    ("knight f4 knight f4 no sorry knight f3", "rank"),  # wondered at before it is put right
    ("knight f4, so near, knight f3, I mean f3", "rank"),  # put right, then taken back and told again
])  # fmt: skip
def test_what_is_put_right_with_some_ado_is_told(said: str, kind: str) -> None:
    speech = heard(f"e4 e5 {said} of course")
    found = false_statements(speech, played(speech, [("e4", "e4"), ("e5", "e5"), ("Nf3", "knight f3")]))
    assert [(f.kind, f.meant.san) for f in found] == [(kind, "Nf3")]
    assert found[0].fen == _AFTER_TWO


@pytest.mark.parametrize("said", [
    "knight f4 no knight f3",  # in one breath
    "knight f4, sorry, knight f3",
    "knight h3? No. It is knight f3",  # a move that could be played is refused
    "bishop c4 is good and so is knight f3",
    "f4. That is what I like, sorry to say, but knight f3",
])  # fmt: skip
def test_what_is_put_right_at_once_or_only_refused_is_not(said: str) -> None:
    speech = heard(f"e4 e5 {said} of course")
    assert not false_statements(speech, played(speech, [("e4", "e4"), ("e5", "e5"), ("Nf3", "knight f3")]))


@pytest.mark.parametrize(("said", "then", "found"), [
    ("knight f4", "f3 sorry I do apologise it is on f3", True),  # named again after it was taken back
    ("knight f4", "no no that's wrong it was f3", True),
    ("bishop f3", "I mean she can swap the queen now", True),  # more is said of it, and no other piece moves
    ("knight f4", "f3 sorry and on we go", False),
])  # fmt: skip
def test_a_doubtful_slip_is_sure_where_the_speaker_puts_it_right(said: str, then: str, found: bool) -> None:
    speech = heard(f"e4 e5 {said} {then}")
    game = played(speech, [("e4", "e4"), ("e5", "e5"), ("Nf3", said)], kind="move")
    mention = game.mentions[-1]
    kind = "piece" if said.startswith("bishop") else "rank"
    sure = 0.9 if kind == "piece" else 0.2
    finding = Finding(
        mention.start, mention.end, said, mention.words, kind, "unsure", Meant("g1f3", "Nf3", 3), sure, "", _AFTER_TWO
    )
    mentions = (*game.mentions[:-1], replace(mention, kind="slip"))
    kept = reviewed(speech, replace(game, mentions=mentions, findings=(finding,))).findings
    assert bool(kept) == found


# Captions with word times alone show the pause at the end of a sentence by a word held on. Common practice.
@pytest.mark.parametrize("held", [True, False])
def test_a_word_held_on_ends_the_breath(held: bool) -> None:
    text = "e4 e5 knight f4 sorry f3 of course and what then".split()
    starts = [at * 400 + (300 if held and at > 3 else 0) for at in range(len(text) + 1)]
    speech = listen([Word(word, *times, 0) for word, times in zip(text, pairwise(starts), strict=True)])
    game = played(speech, [("e4", "e4"), ("e5", "e5"), ("Nf3", "knight f4")])
    mention = game.mentions[-1]
    finding = Finding(
        mention.start, mention.end, "knight f4", mention.words, "rank", "unsure", Meant("g1f3", "Nf3", 3), 0.9, "",
        _AFTER_TWO,
    )  # fmt: skip
    mentions = (*game.mentions[:-1], replace(mention, kind="slip"))
    assert bool(reviewed(speech, replace(game, mentions=mentions, findings=(finding,))).findings) == held


@pytest.mark.parametrize(("said", "glued"), [
    ("and after e5 knight f3", "e5 knight f3"),
    ("and the pawn takes d5 knight f3", "d5 knight f3"),  # which ends what was said before
])  # fmt: skip
def test_a_square_just_gone_to_begins_no_move(said: str, glued: str) -> None:
    speech = heard(f"e4 e5 {said} of course")
    game = played(speech, [("e4", "e4"), ("e5", "e5"), ("Nf3", glued)])
    mention = game.mentions[-1]
    finding = Finding(
        mention.start, mention.end, glued, mention.words, "origin", "unsure", Meant("g1f3", "Nf3", 3), 1.0, "",
        _AFTER_TWO,
    )  # fmt: skip
    mentions = (*game.mentions[:-1], replace(mention, kind="slip"))
    assert not reviewed(speech, replace(game, mentions=mentions, findings=(finding,))).findings

"""Words: packing, folding, stemming, and what FTS5 and PostgreSQL document of their full text."""

from __future__ import annotations

import sqlite3
from dataclasses import replace

import pytest
from archive import invented_record
from hypothesis import given, settings
from hypothesis import strategies as st

from aligner.catalogue.find import find
from aligner.catalogue.passages import OVERLAP, passages
from aligner.catalogue.question import ask
from aligner.catalogue.stemming import stem
from aligner.catalogue.store import Catalogue
from aligner.catalogue.words import PART, TalkWords, fold, pack, parse_words, timed_words, unpack
from aligner.errors import InputError
from aligner.record.model import SpokenWord

words = st.lists(
    st.tuples(st.text(min_size=1, max_size=8), st.integers(0, 90_000), st.integers(0, 90_000)), max_size=1200
).map(lambda rows: sorted(rows, key=lambda row: row[1]))


@given(words)
@settings(max_examples=30, deadline=None)
def test_packed_words_come_back(rows: list[tuple[str, int, int]]) -> None:
    talk = [SpokenWord(text, start / 100, (start + long) / 100) for text, start, long in rows]
    blocks = [unpack(block) for block in pack(timed_words(talk))]
    expected = [" ".join(word.text.split()).encode("utf-8", "replace").decode() for word in talk]
    assert [text for block in blocks for text in block.texts] == expected
    whole = TalkWords(dict(enumerate(blocks)))
    for number, word in list(enumerate(talk))[:: max(1, len(talk) // 20)]:
        assert whole.span(number, number + 1) == (pytest.approx(word.start), pytest.approx(word.end))


def test_words_across_two_blocks_are_read_together() -> None:
    talk = [SpokenWord(f"w{number}", number / 10, number / 10 + 0.05) for number in range(2 * PART)]
    whole = TalkWords({number: unpack(block) for number, block in enumerate(pack(timed_words(talk)))})
    assert whole.around(PART - 1, PART + 1, 2) == (
        f"w{PART - 3} w{PART - 2}", f"w{PART - 1} w{PART}", f"w{PART + 1} w{PART + 2}"
    )  # fmt: skip


@given(st.lists(st.text(max_size=6), max_size=300), st.randoms())
@settings(max_examples=40, deadline=None)
def test_every_word_is_in_one_passage_and_the_next_begins_where_it_ends(texts: list[str], draw: object) -> None:
    talk = [SpokenWord(text, number, number + 0.5) for number, text in enumerate(texts)]
    pieces = passages(timed_words(talk))
    assert [number for piece in pieces for number in range(piece.first, piece.past)] == list(range(len(talk)))
    assert all(piece.heard == min(len(talk), piece.past + OVERLAP) for piece in pieces)


def test_folding() -> None:
    # unicode61 with remove_diacritics takes accents off and parts words at all but letters and digits (FTS5, 4.3.1)
    assert fold("The King's Gambit -- déjà vu, Grünfeld!") == "the king s gambit deja vu grunfeld"
    assert fold("ПЕШКА f5") == "пешка f5"
    assert fold("O-O-O e8=Q+") == "o o o e8 q"


@given(st.text(max_size=40))
def test_folding_leaves_letters_digits_and_single_spaces(text: str) -> None:
    folded = fold(text)
    assert folded == fold(folded)
    assert all(part.isalnum() for part in folded.split(" ") if part) and "  " not in folded


def test_questions_in_words() -> None:
    query = parse_words('minority attack "on the queenside" -kingside')
    assert query.wanted == ("minority", "attack", "on the queenside") and query.unwanted == ("kingside",)
    for nothing in ("", "  ", '""', "-pawn", "?!"):
        with pytest.raises(InputError, match="no word"):
            parse_words(nothing)
    with pytest.raises(InputError, match="more than"):
        parse_words("a b " * 100)


# Pairs from Porter's own paper (An algorithm for suffix stripping, Program 14(3), 1980), steps 1 to 5; the words on
# the right have another stem. The paper's examples are from memory.
ALIKE = (("caresses", "caress"), ("ponies", "poni"), ("cats", "cat"), ("plastered", "plaster"), ("motoring", "motor"),
         ("hopping", "hop"), ("falling", "fall"), ("relational", "relate"), ("conditional", "condition"),
         ("valency", "valenci"), ("triplicate", "triplic"), ("hopefulness", "hope"), ("adjustment", "adjust"),
         ("controlling", "control"), ("sacrifices", "sacrifice"), ("attacking", "attacks"))  # fmt: skip
UNLIKE = (("universe", "unit"), ("caress", "care"), ("knight", "night"))


def test_stems_and_stop_words_are_the_same_in_both_databases(empty: Catalogue) -> None:
    record = invented_record(1, 5)
    said = [pair[0] for pair in ALIKE + UNLIKE] + "to be or not to be Grünfeld f5 O-O 3rd king's 1e5 0x1f".split()
    talk = tuple(SpokenWord(text, 10.0 * number, 10.0 * number + 1) for number, text in enumerate(said))
    game = replace(record.games[0], mentions=(), findings=())
    empty.add(replace(record, words=talk, games=(game,)), "stems")
    for one, other in ALIKE:
        assert find(empty, ask(words=one)) and find(empty, ask(words=other)), (one, other)
    for one, other in UNLIKE:
        assert find(empty, ask(words=one)) and not find(empty, ask(words=other)), (one, other)
    # neither has stop words: FTS5's porter tokeniser none, PostgreSQL's simple dictionary none unless given
    for text in ("the", '"or not to be"', "grunfeld", "f5", '"o o"', "3rd", '"king s"', "1e5", "0x1f"):
        assert bool(find(empty, ask(words=text))) == (text != "the"), text
    assert not find(empty, ask(words='"be to"'))  # a phrase has its words in a row and in order (FTS5, 3.2)
    assert not find(empty, ask(words="grunfeld -f5"))


def test_the_stemmer_is_that_of_sqlite() -> None:
    """The most frequent English words (wordfreq), stemmed by FTS5's own porter tokeniser."""
    from wordfreq import top_n_list

    common = [word for word in dict.fromkeys(map(fold, top_n_list("en", 20_000))) if word and " " not in word]
    common += [
        "y",
        "sky",
        "syzygy",
        "ies",
        "eed",
        "ed",
        "ing",
        "bing",
        "sses",
        "пешки",
        "grunfeld",
        "ss",
        "a" * 63 + "s",
    ]
    table = sqlite3.connect(":memory:")
    table.execute("CREATE VIRTUAL TABLE t USING fts5(x, tokenize='porter unicode61 remove_diacritics 2')")
    table.execute("CREATE VIRTUAL TABLE v USING fts5vocab(t, 'instance')")
    table.executemany("INSERT INTO t (rowid, x) VALUES (?, ?)", list(enumerate(common)))
    for expected, number in table.execute("SELECT term, doc FROM v"):
        assert stem(common[number]) == expected


def test_a_phrase_where_two_passages_meet_is_found_once(empty: Catalogue) -> None:
    record = invented_record(1, 5)
    texts = [f"w{number}" for number in range(200)]
    talk = tuple(SpokenWord(text, number / 2, number / 2 + 0.4) for number, text in enumerate(texts))
    empty.add(replace(record, words=talk, games=(replace(record.games[0], mentions=(), findings=()),)), "long")
    for at in range(195):
        assert len(find(empty, ask(words=f'"w{at} w{at + 1} w{at + 2}"'))) == 1, at

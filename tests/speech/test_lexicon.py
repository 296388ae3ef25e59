"""The lexicon's data: every opening legal, every glyph as the standard words it, no phrase twice by accident."""

from __future__ import annotations

import re
import tomllib
from collections import defaultdict
from importlib import resources
from typing import Any

import chess
import pytest
from spacy.matcher import PhraseMatcher
from spacy.tokens import Doc

from aligner.captions.words import Word
from aligner.speech.lexicon import lexicon
from aligner.speech.tokens import split, tokenise, vocabulary

DATA = resources.files("aligner.speech") / "data" / "en"


def table(name: str) -> dict[str, Any]:
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


MOVES, CUES = table("moves"), table("cues")
JUDGEMENTS: list[dict[str, Any]] = table("judgements")["judgement"]

# PGN standard (S. J. Edwards, 1994), section 10, table of Numeric Annotation Glyphs, in the standard's own words.
# The rows of which a speaker's judgement may be one; those of piece placement and pawn structure are left out.
GLYPHS = {
    1: "good move (traditional \"!\")", 2: "poor move (traditional \"?\")", 3: "very good move (traditional \"!!\")",
    4: "very poor move (traditional \"??\")", 5: "speculative move (traditional \"!?\")",
    6: "questionable move (traditional \"?!\")", 7: "forced move (all others lose quickly)",
    8: "singular move (no reasonable alternatives)", 9: "worst move", 10: "drawish position",
    11: "equal chances, quiet position", 12: "equal chances, active position", 13: "unclear position",
    14: "White has a slight advantage", 15: "Black has a slight advantage",
    16: "White has a moderate advantage", 17: "Black has a moderate advantage",
    18: "White has a decisive advantage", 19: "Black has a decisive advantage",
    20: "White has a crushing advantage (Black should resign)",
    21: "Black has a crushing advantage (White should resign)",
    22: "White is in zugzwang", 23: "Black is in zugzwang",
    36: "White has the initiative", 37: "Black has the initiative", 40: "White has the attack",
    41: "Black has the attack", 132: "White has moderate counterplay", 133: "Black has moderate counterplay",
    136: "White has moderate time control pressure", 137: "Black has moderate time control pressure",
    138: "White has severe time control pressure", 139: "Black has severe time control pressure",
}  # fmt: skip


@pytest.mark.parametrize("row", JUDGEMENTS, ids=lambda row: str(row["nag"]))
def test_a_glyph_means_what_the_standard_says(row: dict[str, Any]) -> None:
    assert row["meaning"] == re.sub(r' \(traditional ".*"\)', "", GLYPHS[row["nag"]])


def test_each_glyph_has_one_row() -> None:
    assert len({row["nag"] for row in JUDGEMENTS}) == len(JUDGEMENTS)


@pytest.mark.parametrize("row", [row for row in JUDGEMENTS if row["nag"] >= 14], ids=lambda row: str(row["nag"]))
def test_a_judgement_about_a_side_names_that_side(row: dict[str, Any]) -> None:
    side, other = ("white", "black") if row["meaning"].startswith("White") else ("black", "white")
    assert all(side in phrase and other not in phrase for phrase in row["phrases"])


# Chess is the same for both sides: what is said of White is said of Black, and the standard's glyphs come in pairs.
def test_what_is_said_of_white_is_said_of_black() -> None:
    by_glyph = {row["nag"]: row["phrases"] for row in JUDGEMENTS if row["nag"] >= 14}
    for glyph, phrases in by_glyph.items():
        if glyph % 2 == 0:
            assert [phrase.replace("white", "black") for phrase in phrases] == by_glyph[glyph + 1]


# Phrases that mean two things by intent, and that the board or the fitted prices tell apart.
INTENDED = {
    "go": {"runs", "lunges"},  # a piece runs, a pawn runs
    "wing_file": {"rook", "rook's", "knight", "knight's", "bishop", "bishop's"},  # either wing's
}


@pytest.mark.parametrize("name", MOVES)
def test_no_phrase_has_two_meanings_in_one_table(name: str) -> None:
    meanings: dict[tuple[str, ...], set[str]] = defaultdict(set)
    for value, phrases in MOVES[name].items():
        for phrase in phrases:
            meanings[tuple(split(phrase))].add(value)
    twice = {" ".join(phrase) for phrase, values in meanings.items() if len(values) > 1}
    assert twice == INTENDED.get(name, set())


def test_no_phrase_has_two_judgements() -> None:
    meanings: dict[tuple[str, ...], set[int]] = defaultdict(set)
    for row in JUDGEMENTS:
        for phrase in row["phrases"]:
            meanings[tuple(split(phrase))].add(row["nag"])
    assert [phrase for phrase, values in meanings.items() if len(values) > 1] == []


@pytest.mark.parametrize("kind", CUES["cue"])
def test_a_cue_stands_once_in_its_row(kind: str) -> None:
    phrases = CUES["cue"][kind]
    assert sorted(set(phrases)) == sorted(phrases)


@pytest.mark.parametrize("name", ["moves", "cues"])
def test_every_phrase_survives_the_tokenizer(name: str) -> None:
    for rows in table(name).values():
        for phrases in rows.values():
            for phrase in phrases:
                assert split(phrase), phrase
                assert phrase == phrase.lower() == phrase.strip(), phrase


def test_every_phrase_is_found_where_it_is_spoken() -> None:
    words = lexicon()
    for name in ("moves", "cues"):
        for kind, rows in table(name).items():
            for value, phrases in rows.items():
                text = " , ".join(phrases)
                tokens = tokenise([Word(word, 400 * i, 400 * i + 350, 0) for i, word in enumerate(text.split())])
                said = [" ".join(t.text for t in tokens[e.start : e.end]) for e in words.find(tokens)
                        if (e.kind, e.value) == (kind, value)]  # fmt: skip
                assert {" ".join(split(phrase)) for phrase in phrases} <= set(said), (kind, value)


def test_phrases_given_as_hashes_are_found_like_phrases_given_as_documents() -> None:
    """spaCy's manual gives the matcher a document for each phrase: that is what is compared with."""
    matcher = PhraseMatcher(vocabulary())
    spoken: list[str] = []
    for name in ("moves", "cues"):
        for kind, rows in table(name).items():
            for value, phrases in rows.items():
                cut = [split(phrase) for phrase in phrases]
                matcher.add(f"{kind} {value}", [Doc(vocabulary(), words=tokens) for tokens in cut])
                spoken += [token for tokens in cut for token in tokens]
    strings = vocabulary().strings
    documented = {(strings[key], *span) for key, *span in matcher(Doc(vocabulary(), words=spoken))}
    tokens = tokenise([Word(word, 400 * i, 400 * i + 350, 0) for i, word in enumerate(spoken)])
    assert [token.text for token in tokens] == spoken
    assert documented == {
        (f"{entry.kind} {entry.value}", entry.start, entry.end)
        for entry in lexicon().find(tokens)
        if entry.kind not in ("opening", "judgement")
    }


def test_pieces_files_and_ranks_are_complete() -> None:
    assert set("KQRBNP") <= set(MOVES["piece"])
    assert set(MOVES["file"]) == set(MOVES["wing_file"]) == set("abcdefgh")
    assert set(MOVES["rank"]) == set("12345678")
    # FIDE Laws of Chess (2023), appendix D.2.1
    names = ["anna", "bella", "cesar", "david", "eva", "felix", "gustav", "hector"]
    assert all(name in MOVES["file"][name[0]] for name in names)
    # descriptive notation, Lasker, "Chess Strategy" (1915), chapter I: the pieces as they stand at the start
    board = chess.Board()
    for file, phrases in MOVES["wing_file"].items():
        piece = board.piece_at(chess.parse_square(f"{file}1"))
        assert piece is not None
        name = chess.piece_name(piece.piece_type)
        assert all(name in phrase for phrase in phrases), file


def test_a_language_that_is_not_there_is_an_error() -> None:
    with pytest.raises(FileNotFoundError):
        lexicon("xx")

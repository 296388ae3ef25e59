"""Corrected captions: moves put right, everything else byte for byte. Captions are invented.

What sounds alike is the table's, made from the CMU Pronouncing Dictionary; what is written is read back by webvtt-py.
"""

from __future__ import annotations

import inspect
import io
from collections.abc import Sequence
from itertools import pairwise

import chess
import pytest
import webvtt

from aligner.captions import Captions, parse_captions
from aligner.captions.conversion import converted, format_of_name
from aligner.cli.captions import captions as captions_verb
from aligner.errata.correct import SURE, correct, corrected
from aligner.errors import InputError
from aligner.record.model import Finding, Game, Meant, Mention, Node, Record, Recording

Moves = Sequence[tuple[str, int, int, str, str]]
"""SAN, first word, word after the last, kind of finding ("" for none), cause."""


def record(captions: Captions, moves: Moves) -> Record:
    """The record that aligns words with moves as a test says."""
    board, nodes = chess.Board(), [Node(0, None, None)]
    mentions, findings = [], []
    for san, first, last, kind, cause in moves:
        move = board.parse_san(san)
        number = len(nodes)
        start, end = captions.words[first].start / 1000, captions.words[last - 1].end / 1000
        said = " ".join(word.text for word in captions.words[first:last])
        nodes.append(Node(number, number - 1, move.uci(), board.san(move), number, times=((start, end),)))
        mentions.append(Mention(start, end, said, (first, last), "slip" if kind else "move", (number,), 0.95))
        if kind:
            meant = Meant(move.uci(), board.san(move), number)
            findings.append(Finding(start, end, said, (first, last), kind, cause, meant, 0.95, "", board.fen()))
        board.push(move)
    game = Game(chess.STARTING_FEN, {"Result": "*"}, tuple(nodes), tuple(mentions), tuple(findings))
    return Record(Recording(captions.name, None, None, captions.duration / 1000, len(captions.words)), (game,), ())


def fixed(source: str, moves: Moves, **options: object) -> str:
    captions = parse_captions(source, "talk")
    return correct(captions, record(captions, moves), **options)[0]  # type: ignore[arg-type]


GARBLE = ("garble", "caption")
OPENING = [("e4", 0, 1, "", ""), ("e5", 1, 2, "", "")]


@pytest.mark.parametrize(("said", "spoken", "symbols"), [
    ("night f3,", "knight f3,", "Nf3,"), ("Night to f3", "Knight to f3", "Nf3"),
    ("knight eff three", "knight f3", "Nf3"),
    ("nite eff three.", "knight f3.", "Nf3."),
])  # fmt: skip
def test_a_misheard_move_is_spelt_as_the_trade_spells_it(said: str, spoken: str, symbols: str) -> None:
    source = f"WEBVTT\n\n00:00.000 --> 00:09.000\ne4 e5 {said} of course.\n"
    moves = [*OPENING, ("Nf3", 2, 2 + len(said.split()), *GARBLE)]
    assert fixed(source, moves) == source.replace(said, spoken)
    assert fixed(source, moves, spelling="symbols") == source.replace(said, symbols)


@pytest.mark.parametrize(("said", "mention", "san", "right"), [
    ("Night f3", (3, 4), "Nf3", "Knight f3"),  # before the words that are known to speak of the move,
    ("knight moves to eff three", (2, 4), "Nf3", "knight moves to f3"),  # behind them,
    ("eff fore", (2, 3), "f4", "f4"),  # across their end
    ("knight from ji one to f3", (5, 7), "Nf3", "knight from g1 to f3"),
])  # fmt: skip
def test_what_stands_beside_a_mention_is_put_right(said: str, mention: tuple[int, int], san: str, right: str) -> None:
    source = f"WEBVTT\n\n00:00.000 --> 00:09.000\ne4 e5 {said}.\n"
    assert fixed(source, [*OPENING, (san, *mention, "", "")]) == source.replace(said, right)


@pytest.mark.parametrize(("said", "right"), [
    ("knight eff three", "knight f3"),  # a legal move of its own
    ("and this bishop cee four", "and this bishop c4"),
    ("knight dee three", "knight dee three"),  # can be played nowhere near
    ("the night was long", "the night was long"), ("be a four", "be a four"),
])  # fmt: skip
def test_a_move_that_no_mention_speaks_of_is_put_right(said: str, right: str) -> None:
    source = f"WEBVTT\n\n00:00.000 --> 00:09.000\ne4 e5 {said}.\n"
    assert fixed(source, OPENING) == source.replace(said, right)


@pytest.mark.parametrize(("said", "spoken", "symbols"), [
    ("queenie two,", "queen e2,", "Qe2,"), ("queenie 2", "queen e2", "Qe2"),
])  # fmt: skip
def test_a_piece_run_together_with_its_file_is_parted(said: str, spoken: str, symbols: str) -> None:
    source = f"WEBVTT\n\n00:00.000 --> 00:09.000\ne4 e5 {said} of course.\n"
    moves = [*OPENING, ("Qe2", 2, 4, *GARBLE)]
    assert fixed(source, moves) == source.replace(said, spoken)
    assert fixed(source, moves, spelling="symbols") == source.replace(said, symbols)


def test_a_capture_misheard_in_a_row_of_captures_is_put_right() -> None:
    source = "WEBVTT\n\n00:00.000 --> 00:09.000\ne4 d5 takes tapes and now queen a5.\n"
    moves = [("e4", 0, 1, "", ""), ("d5", 1, 2, "", ""), ("exd5", 2, 3, "", "")]
    assert fixed(source, moves) == source.replace("tapes", "takes")


def test_symbols_stand_for_all_that_was_said() -> None:
    source = "WEBVTT\n\n00:00.000 --> 00:09.000\ne4 e5 night f3 of course.\n"
    moves = [*OPENING, ("Nf3", 3, 4, "", "")]
    assert fixed(source, moves, spelling="symbols") == source.replace("night f3", "Nf3")


@pytest.mark.parametrize(("said", "right"), [
    ("f three", "f three"), ("knight F-3", "knight f3"), ("Knightf3", "Knight f3"),
])  # fmt: skip
def test_broken_moves_are_joined(said: str, right: str) -> None:
    source = f"WEBVTT\n\n00:00.000 --> 00:09.000\ne4 e5 {said} of course.\n"
    assert fixed(source, [*OPENING, ("Nf3", 2, 2 + len(said.split()), "", "")]) == source.replace(said, right)


FORMATS = {
    "webvtt": "WEBVTT - a talk\r\nKind: captions\r\n\r\nNOTE night f3\r\n\r\n7\r\n00:01.000 --> 00:03.500 align:start "
    "position:0%\r\n<v Bram>e4 e5 <i>night</i> f3\r\n\r\nSTYLE\r\n::cue { color: red }\r\n",
    "subrip": "1\n00:00:01,000 --> 00:00:03,500\ne4 e5 <i>night</i> f3\n\n2\n"
    "00:00:04,000 --> 00:00:05,000\nnight falls\n",
    "sbv": "0:00:01.000,0:00:03.500\ne4 e5 night f3\n\n0:00:04.000,0:00:05.000\nnight falls\n",
    "text": "[0:01] e4 e5 night f3\n[0:04] night falls\n",
}


@pytest.mark.parametrize("form", FORMATS)
def test_all_else_stays_byte_for_byte(form: str) -> None:
    source = FORMATS[form]
    captions = parse_captions(source, "talk")
    assert captions.format == form
    text = fixed(source, [*OPENING, ("Nf3", 2, 4, *GARBLE)])
    at = source.index("night", source.index("e5"))
    assert text == source[:at] + "knight" + source[at + 5 :]


def test_word_times_survive() -> None:
    source = (
        "WEBVTT\n\n00:00.000 --> 00:05.000\ne4 <00:01.000><c>e5</c> <00:02.000><c>knight</c> <00:03.000><c>eff</c> "
        "<00:03.500><c>three</c> <00:04.000><c>then</c>\n"
    )
    text = fixed(source, [*OPENING, ("Nf3", 2, 5, *GARBLE)])
    before, after = parse_captions(source, "t"), parse_captions(text, "t")
    assert [word.text for word in after.words] == ["e4", "e5", "knight", "f3", "then"]
    kept = {word.text: word.start for word in before.words}
    assert all(word.start == kept.get(word.text, 3000) for word in after.words)
    cue = webvtt.from_buffer(io.BytesIO(text.encode())).captions[0]
    assert cue.text.split() == ["e4", "e5", "knight", "f3", "then"]


def test_a_line_that_comes_twice_is_mended_twice() -> None:
    source = "WEBVTT\n\n" + "\n".join(
        f"00:0{n}.000 --> 00:0{n + 1}.000\n{a}\n{b}\n"
        for n, (a, b) in enumerate(pairwise([" ", "e4 e5", "night f3", "and so", "it goes"]))
    )
    text = fixed(source, [*OPENING, ("Nf3", 2, 4, *GARBLE)])
    assert text == source.replace("night f3", "knight f3")


def test_a_slip_stays_as_said_and_is_marked_where_asked() -> None:
    source = "WEBVTT\n\n00:00.000 --> 00:09.000\ne4 e5 knight f4, of course.\n"
    moves = [*OPENING, ("Nf3", 2, 4, "rank", "speaker")]
    assert fixed(source, moves) == source
    marked = fixed(source, moves, note_slips=True)
    assert marked == source.replace("f4,", "f4 [Nf3],")
    assert fixed(marked, moves, note_slips=True) == marked


def test_a_square_that_the_captions_misheard_is_put_right() -> None:
    source = "WEBVTT\n\n00:00.000 --> 00:09.000\ne4 e5 bishop d5 of course.\n"
    assert "bishop b5" in fixed(source, [*OPENING, ("Bb5", 2, 4, "file", "caption")])
    assert fixed(source, [*OPENING, ("Bb5", 2, 4, "file", "unsure")]) == source


def test_correcting_again_changes_nothing() -> None:
    source = "WEBVTT\n\n00:00.000 --> 00:09.000\ne4 e5 nite eff three of course.\n"

    def aligned(captions: Captions) -> Record:
        size = len(captions.words) - 4
        kind = GARBLE if captions.words[2].text == "nite" else ("", "")
        return record(captions, [*OPENING, ("Nf3", 2, 2 + size, *kind)])

    text, changes = corrected(parse_captions(source, "t"), aligned)
    assert "knight f3 of course" in text and changes
    assert corrected(parse_captions(text, "t"), aligned) == (text, [])


def test_no_line_is_left_empty() -> None:
    # W3C WebVTT: an empty line ends the cue, so a word that stands alone on its line cannot be taken out
    source = "WEBVTT\n\n00:00.000 --> 00:09.000\ne4 e5 knight eff\nthree\nof course\n"
    text = fixed(source, [*OPENING, ("Nf3", 2, 5, *GARBLE)])
    assert "\n\nof" not in text and len(parse_captions(text, "t").cues) == 1


def test_from_webvtt_to_subrip_and_back() -> None:
    source = "WEBVTT\n\n00:01.000 --> 01:00:03.500 align:start\nR&amp;B\nsecond line\n\n"
    source += "01:00:04.000 --> 01:00:05.000\nend\n"
    subrip = converted(source, "t.vtt", "subrip")
    read = webvtt.from_buffer(io.BytesIO(subrip.encode()), format="srt")
    assert [(c.start, c.end, c.text) for c in read] == [
        ("00:00:01.000", "01:00:03.500", "R&B\nsecond line"), ("01:00:04.000", "01:00:05.000", "end"),
    ]  # fmt: skip
    back = converted(subrip, "t.srt", "webvtt")
    assert [(c.start, c.end, c.text) for c in parse_captions(back, "t").cues] == [
        (c.start, c.end, c.text) for c in parse_captions(source, "t").cues
    ]
    assert len(webvtt.from_buffer(io.BytesIO(back.encode()))) == 2
    assert converted(source, "t.vtt", "webvtt") == source


def test_only_known_formats_are_written() -> None:
    assert format_of_name("x.srt", "webvtt") == "subrip" and format_of_name("x", "sbv") == "sbv"
    with pytest.raises(InputError, match="WebVTT"):
        format_of_name("x.sbv", "webvtt")


def test_the_verb_changes_words_from_the_same_confidence_on() -> None:
    assert inspect.signature(captions_verb).parameters["at_least"].default == SURE

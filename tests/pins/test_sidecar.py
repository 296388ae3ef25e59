"""The sidecar file: round trips, damage, two writers at once (TOML 1.0.0 as the standard library reads it)."""

from __future__ import annotations

import multiprocessing
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.errors import InputError
from aligner.pins.pin import BACK, DECISIONS, INFERRED, MOVE, NO_MOVE, Anchor, Pin, in_order, plain, with_pin
from aligner.pins.sidecar import change_pins, clock_value, joined_line, parse_pins, pins_text, read_pins, split_line

SANS = st.sampled_from(["e4", "Nf3", "O-O", "O-O-O+", "exd8=Q#", "R1xa3", "Qh4xe1", "bxa1=N"])
WORDS = st.lists(st.text(st.characters(exclude_categories=("C", "Z")), min_size=1, max_size=12), min_size=1, max_size=6)


@st.composite
def pins(draw: st.DrawFn) -> Pin:
    at = draw(st.integers(0, 9_000_000))
    words, before, after = (" ".join(draw(WORDS)) for _ in range(3))
    anchor = Anchor(at, at + draw(st.integers(0, 60_000)), words, before, after)
    decision = draw(st.sampled_from(DECISIONS))
    number = draw(st.integers(0, 10_000))
    if decision not in (MOVE, INFERRED):
        return Pin(anchor, decision, number=number)
    line = tuple(draw(st.lists(SANS, min_size=1, max_size=30)))
    again = draw(st.sampled_from([None, True, False]))
    return Pin(anchor, decision, line, draw(st.integers(1, len(line))), draw(st.booleans()), again, number)


@given(st.lists(pins(), max_size=8))
def test_what_is_written_is_read_back(some: list[Pin]) -> None:
    text = pins_text(some, "talk.vtt")
    tomllib.loads(text)
    assert list(parse_pins(text, "t")) == list(in_order(some))
    assert pins_text(parse_pins(text, "t"), "talk.vtt") == text


@given(st.text(max_size=300))
def test_hostile_words_stay_in_their_quotes(text: str) -> None:
    words = " ".join(text.split()) or "x"
    pin = Pin(Anchor(0, 1, words, text, text), NO_MOVE)
    written = pins_text([pin], text)
    data = tomllib.loads(written)
    assert list(data) == ["version", "settled"] and len(data["settled"]) == 1
    assert data["settled"][0]["as"] == NO_MOVE


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("settled = 3", "[[settled]]"),
        ("not toml at all", "no TOML"),
        ("version = 99", "version"),
        ("version = true", "version"),
        ('[[settled]]\nat = "1:00"\nas = "move"', "words"),
        ('[[settled]]\nat = "1:00"\nwords = "e4"\nas = "perhaps"', "as"),
        ('[[settled]]\nat = "soon"\nwords = "e4"\nas = "no move"', "at"),
        ('[[settled]]\nat = -1\nwords = "e4"\nas = "no move"', "at"),
        ('[[settled]]\nat = true\nwords = "e4"\nas = "no move"', "at"),
        ('[[settled]]\nat = 1\nwords = 3\nas = "no move"', "words"),
        ('[[settled]]\nat = 1\nwords = "e4"\nas = "move"\nin = "game"', "line"),
        ('[[settled]]\nat = 1\nwords = "e4"\nas = "move"\nline = "1. e4; rm"\nin = "game"', "line"),
        ('[[settled]]\nat = 1\nwords = "e4"\nas = "move"\nline = "1. e4"\nin = "there"', "in"),
        ('[[settled]]\nat = 1\nwords = "e4"\nas = "move"\nline = "1. e4"\nin = "game"\nspoken = 2', "spoken"),
        ('[[settled]]\nat = 1\nwords = "e4"\nas = "move"\nline = "1. e4"\nin = "game"\nagain = 1', "again"),
        ('[[settled]]\nat = 1\nwords = "e4"\nas = "no move"\ncolour = "red"', "colour"),
        ('[[settled]]\nat = 1\nwords = "e4"\nas = "no move"\nnumber = -4', "number"),
        (f'[[settled]]\nat = 1\nwords = "{"x" * 3000}"\nas = "no move"', "words"),
        ("a = " + "[" * 5000, "TOML"),
    ],
)
def test_damage_is_one_clear_sentence(text: str, says: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_pins(text, "talk.settled.toml")
    message = str(caught.value)
    assert says in message and message.startswith("talk.settled.toml") and "\n" not in message


def test_a_file_too_large_or_not_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "talk.settled.toml"
    assert read_pins(path) == ()
    path.write_bytes(b"#" * 9_000_000)
    with pytest.raises(InputError, match="larger"):
        read_pins(path)
    path.write_bytes(b"# \xff\xfe")
    with pytest.raises(InputError, match="UTF-8"):
        read_pins(path)


def test_a_later_decision_takes_the_place_of_one_about_the_same_words() -> None:
    first = Pin(Anchor(1000, 1500, "knight f3,"), NO_MOVE)
    some = with_pin((), first)
    some = with_pin(some, Pin(Anchor(1000, 1500, "Knight F3"), MOVE, ("Nf3",)))
    assert [(pin.decision, pin.number) for pin in some] == [(MOVE, 2)]
    some = with_pin(some, Pin(Anchor(1000, 1500, "knight f3"), BACK))
    assert [pin.decision for pin in some] == [BACK, MOVE]
    some = with_pin(some, Pin(Anchor(1200, 1800, "f3 check"), NO_MOVE))
    assert [pin.decision for pin in some] == [BACK, NO_MOVE]


def test_lines_and_times_as_people_write_them() -> None:
    assert split_line("1. e4 e5 2. Nf3") == ("e4", "e5", "Nf3")
    assert split_line("12... Nf6 13.O-O") == ("Nf6", "O-O")
    assert split_line("1. e4 {comment}") is None and split_line("") == ()
    assert joined_line(("e5", "Nf3"), "8/8/8/8/8/8/8/K6k b - - 0 7") == "7... e5 8. Nf3"
    assert clock_value("7:12") == 432_000 and clock_value("1:07:12.5") == 4_032_500 and clock_value("432.5") == 432_500
    assert clock_value("7:72") is None and clock_value("soon") is None and clock_value("1:70:00") is None
    assert plain("«Knight,” F3!") == "«knight f3"


def _settle_many(captions: Path, first: int) -> None:
    for number in range(first, first + 20):
        pin = Pin(Anchor(number * 1000, number * 1000 + 1, f"w{number}"), NO_MOVE)
        change_pins(captions, lambda old, pin=pin: with_pin(old, pin))


def test_two_programs_at_once_lose_nothing(tmp_path: Path) -> None:
    captions = tmp_path / "talk.vtt"
    captions.write_text("WEBVTT\n", encoding="utf-8")
    both = [multiprocessing.get_context("spawn").Process(target=_settle_many, args=(captions, n)) for n in (0, 100)]
    for process in both:
        process.start()
    for process in both:
        process.join(60)
        assert process.exitcode == 0
    some = read_pins(tmp_path / "talk.settled.toml")
    assert len(some) == 40 and len({pin.number for pin in some}) == 40
    assert sorted(path.name for path in tmp_path.iterdir()) == ["talk.settled.toml", "talk.vtt"]

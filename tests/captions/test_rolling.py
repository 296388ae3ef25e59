"""Captions whose lines scroll (common practice of recognisers): each word once, its other places as echoes."""

from __future__ import annotations

from pathlib import Path

import pytest

from aligner.captions import Captions, parse_captions, read_captions

FIXTURES = Path(__file__).parents[2] / "fixtures" / "captions"


def text(captions: Captions) -> str:
    return " ".join(word.text for word in captions.words)


def made(*screens: str) -> Captions:
    """Cues of one second, one after the other, with the given lines."""
    cues = (f"00:{at:02d}.000 --> 00:{at + 1:02d}.000\n{screen}" for at, screen in enumerate(screens))
    return parse_captions("WEBVTT\n\n" + "\n\n".join(cues), "talk.vtt")


def test_with_word_times_and_short_cues() -> None:
    captions = read_captions(FIXTURES / "rolling.vtt")
    # The line that is truly said twice stays twice.
    assert text(captions) == "white goes e4 and black c5 and black c5 again"
    assert [word.start for word in captions.words] == [1000, 1400, 1900, 3000, 3300, 3800, 5000, 5500, 6000, 7000]
    assert [len(word.echoes) for word in captions.words] == [2] * 9 + [0]
    assert [word.cue for word in captions.words] == [0, 0, 0, 2, 2, 2, 4, 4, 4, 6]
    assert captions.problems == ()


def test_without_word_times() -> None:
    captions = read_captions(FIXTURES / "rolling-plain.vtt")
    assert text(captions) == "white goes e4 and black c5 knight f3 next and d6"
    assert [len(word.echoes) for word in captions.words] == [1] * 9 + [0] * 2
    assert captions.words[3].start == 3000


@pytest.mark.parametrize("name", ["rolling.vtt", "rolling-plain.vtt"])
def test_every_word_of_the_file_is_a_place_of_one_word(name: str) -> None:
    captions = read_captions(FIXTURES / name)
    places = [span for word in captions.words for span in (word.span, *word.echoes)]
    assert len(places) == len(set(places)) == sum(len(cue.text.split()) for cue in captions.cues)
    for word in captions.words:
        assert {captions.source[slice(*span)] for span in (word.span, *word.echoes)} == {word.text}


def test_three_lines() -> None:
    captions = made("a b", "a b\nc d", "a b\nc d\ne f", "c d\ne f\ng h", "e f\ng h\ni j")
    assert text(captions) == "a b c d e f g h i j"


def test_the_screen_goes_empty_in_between() -> None:
    captions = made("a b", "a b\nc d", "c d\ne f", " ", "g h", "g h\ni j", "i j\nk l")
    assert text(captions) == "a b c d e f g h i j k l"


def test_lines_that_grow_word_by_word() -> None:
    captions = made("white", "white goes", "white goes e4", "and", "and black", "and black c5")
    assert text(captions) == "white goes e4 and black c5"
    assert [word.start for word in captions.words] == [0, 1000, 2000, 3000, 4000, 5000]
    assert [len(word.echoes) for word in captions.words] == [2, 1, 0, 2, 1, 0]


def test_the_same_line_again_and_again() -> None:
    assert text(made("one two", "one two", "one two", "three", "three", "three")) == "one two three"


# Captions that do not roll keep what is said twice.
@pytest.mark.parametrize(
    "screens",
    [
        ("takes", "takes"),
        ("takes", "takes", "takes"),
        ("check", "king h1", "check", "check", "king g1", "mate"),
        ("a b\nc d", "e f\ng h", "g h\ni j", "k l\nm n", "o p\nq r"),
    ],
)
def test_what_is_said_twice_stays(screens: tuple[str, ...]) -> None:
    assert text(made(*screens)) == " ".join(" ".join(screens).split())


def test_rolling_subrip() -> None:
    captions = parse_captions(
        "1\n00:00:00,000 --> 00:00:02,000\nwhite goes e4\n\n"
        "2\n00:00:02,000 --> 00:00:04,000\nwhite goes e4\nblack c5\n\n"
        "3\n00:00:04,000 --> 00:00:06,000\nblack c5\nknight f3\n",
        "talk.srt",
    )
    assert text(captions) == "white goes e4 black c5 knight f3"

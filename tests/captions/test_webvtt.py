"""WebVTT: facts of the W3C standard and of the web-platform-tests (webvtt/parsing), told again as tests of our own."""

from __future__ import annotations

from pathlib import Path

import pytest
import webvtt

from aligner.captions import Captions, parse_captions, read_captions
from aligner.errors import CaptionsError

FIXTURES = Path(__file__).parents[2] / "fixtures" / "captions"
SECOND = "00:00:00.000 --> 00:00:01.000"


def vtt(body: str) -> Captions:
    return parse_captions("WEBVTT\n\n" + body, "talk.vtt")


def cue_words(text: str) -> list[str]:
    return [word.text for word in vtt(f"00:00.000 --> 00:09.000\n{text}\n").words]


def sound(captions: Captions) -> list[tuple[int, int, str]]:
    """Cues that no problem is told of: those which the standard's own parser keeps."""
    told = {problem.line for problem in captions.problems}
    return [(cue.start, cue.end, cue.text) for cue in captions.cues if cue.line not in told]


# W3C WebVTT: the signature is WEBVTT at the beginning, then a space, a tab or a line end; a BOM may come first.
# web-platform-tests file-parsing/tests: signature-bom, -space, -tab, -timings, header-garbage, header-timings.
@pytest.mark.parametrize(
    "head",
    [
        "WEBVTT\n\n",
        "\ufeffWEBVTT\n\n",
        "WEBVTT \n\n",
        "WEBVTT\t\n\n",
        "WEBVTT - a talk\n\n",
        "WEBVTT\ngarbage\n\n",
        "WEBVTT\n",
        "WEBVTT\nKind: captions\nLanguage: en\n\n",
    ],
)
def test_the_header_is_no_cue(head: str) -> None:
    captions = parse_captions(f"{head}{SECOND}\ntext", "talk.vtt")
    assert (captions.format, captions.problems) == ("webvtt", ())
    assert [(cue.start, cue.end, cue.text) for cue in captions.cues] == [(0, 1000, "text")]


# web-platform-tests file-parsing/tests/newlines: CR, LF and CR LF end lines alike.
@pytest.mark.parametrize("end", ["\r", "\n", "\r\n"])
def test_line_ends(end: str) -> None:
    text = f"WEBVTT\n\na\n{SECOND}\nknight f3\n\nb\n{SECOND}\ntwo\nlines\n".replace("\n", end)
    captions = parse_captions(text, "talk.vtt")
    assert [cue.text for cue in captions.cues] == ["knight f3", "two\nlines"]
    assert [cue.line for cue in captions.cues] == [4, 8]
    assert captions.source == text


# web-platform-tests file-parsing/tests/arrows: a line with an arrow ends the cue above it; six cues are read.
def test_arrows() -> None:
    lines = [
        "-->",
        SECOND,
        "text1",
        "foo-->",
        SECOND,
        "text2",
        "-->foo",
        SECOND,
        "text3",
        "--->",
        SECOND,
        "text4",
        "-->-->",
        SECOND,
        "text5",
        SECOND,
        "text6",
        "",
        "00:00:00.000 -a -->",
        "",
        "00:00:00.000 --a -->",
        "",
        "00:00:00.000 - -->",
        "",
        "00:00:00.000 -- -->",
    ]
    captions = vtt("\n".join(lines))
    assert [cue.text for cue in captions.cues] == [f"text{number}" for number in range(1, 7)]


# web-platform-tests file-parsing/tests/ids: what stands above the times is the identifier, never text.
@pytest.mark.parametrize("name", [" leading space", "trailing space ", "-- >", "->", " ", "1", "knight f3"])
def test_identifiers(name: str) -> None:
    captions = vtt(f"{name}\n{SECOND}\ntext")
    assert sound(captions) == [(0, 1000, "text")]


# web-platform-tests file-parsing/tests/whitespace-chars: spaces, tabs and form feeds around the arrow.
@pytest.mark.parametrize("white", [" ", "   ", "\t", "\f", ""])
def test_white_space_around_the_arrow(white: str) -> None:
    captions = vtt(f"{white}00:00:00.000{white}-->{white}00:00:01.000{white}\n{white}text")
    assert sound(captions) == [(0, 1000, "text")]


# web-platform-tests file-parsing/tests/timings-too-short and -too-long: the standard drops these cues. Where the time
# can be read all the same the cue is kept and a problem told; it never counts as sound.
@pytest.mark.parametrize(
    "start",
    [
        "00:0:00.000",
        "00:00:0.000",
        "00:00:00.00",
        "00:00:00",
        "00:00",
        "0:00.000",
        "00:0.000",
        "00:00.0",
        "00:000.000",
        "000:00.000",
        "00:00:00.0000",
        "00::00:00.000",
        "00:00::00.000",
        "0000.000",
        "00:",
        "0",
        ".",
        ":00.",
    ],
)
def test_times_against_the_standard_are_told(start: str) -> None:
    captions = vtt(f"first\n{SECOND}\ntext1\n\n{start} --> 00:00:01.000\ninvalid\n\n0:00:00.000 --> 0:00:01.000\ntext2")
    assert sound(captions) == [(0, 1000, "text1"), (0, 1000, "text2")]
    assert any(problem.line == 7 for problem in captions.problems)


# web-platform-tests file-parsing/tests/timings-negative: such cues are kept. Words need an order: the end is mended.
@pytest.mark.parametrize(("start", "end"), [("00:01.000", "00:00.999"), ("01:00:00.000", "00:59:59.999")])
def test_an_end_before_the_beginning(start: str, end: str) -> None:
    captions = vtt(f"{start} --> {end}\ntext")
    assert [problem.line for problem in captions.problems] == [3]
    assert captions.cues[0].start == captions.words[0].start < captions.words[0].end == captions.cues[0].end


# web-platform-tests file-parsing/tests/nulls and W3C WebVTT, parser step 2: a NUL is no line end and no space.
def test_nulls() -> None:
    captions = vtt(f"\0 (null in id)\n{SECOND}\n\0te\0xt\n\n00:00:0\x000.000 --> 00:00:01.000\nFAIL")
    assert [word.text for word in captions.words] == ["text"]


# W3C WebVTT "collect a WebVTT block"; web-platform-tests file-parsing/tests/stylesheets-newlines.
def test_style_region_and_comment_blocks() -> None:
    captions = vtt(
        "STYLE\n::cue(#foo) {\n width: 20px;\n} /*\nNOTE hello\n00:00:00.000 -- > 00:00:01.000\n*/\n\n"
        f"REGION\nid:fred\n\nNOTE a comment\nof two lines\n\nNOTE\n\nfoo\n{SECOND}\ntext\n\nNOTE\nlast\n"
    )
    assert (sound(captions), captions.problems) == ([(0, 1000, "text")], ())


# W3C WebVTT, "cue text tokenizer" and "cue text DOM": class, italics, bold, underline, ruby, language, voice.
@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("<i.move>Nf3</i> is <b>good</b>", ["Nf3", "is", "good"]),
        ("<c.a.b>one</c> <u>two</u>", ["one", "two"]),
        ("<lang en-GB>one</lang>", ["one"]),
        ("<ruby>test<rt>note</rt></ruby>er", ["tester"]),
        ("N<b>f3", ["Nf3"]),
        ("<v Mary>No way!", ["No", "way!"]),
        ("<c>a</c><c> b</c>", ["a", "b"]),
        ("one<c", ["one"]),
        ("</>x", ["x"]),
    ],
)
def test_tags(text: str, words: list[str]) -> None:
    assert cue_words(text) == words


# web-platform-tests cue-text-parsing/dat/entities, without those that differ in later editions of the standard.
@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("&", ["&"]),
        ("&amp;", ["&"]),
        ("&lt;", ["<"]),
        ("&gt;", [">"]),
        ("&&", ["&&"]),
        ("&1", ["&1"]),
        ("&1;", ["&1;"]),
        ("&;", ["&;"]),
        ("&<c", ["&"]),
        ("&AMP;x", ["&x"]),
        ("Célestes&trade;", ["Célestes™"]),
        ("e4&mdash;", ["e4—"]),
        ("a&nbsp;b", ["a", "b"]),
        ("a&lrm;b", ["ab"]),
        ("&nosuch;", ["&nosuch;"]),
        ("&#65;&#x42;", ["AB"]),
    ],
)
def test_character_references(text: str, words: list[str]) -> None:
    assert cue_words(text) == words


# A person's "<" is text where the standard's tokenizer would swallow the rest of the cue.
@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("I <3 chess", ["I", "<3", "chess"]),
        ("a < b > c", ["a", "<", "b", ">", "c"]),
        ("<check?> no", ["<check?>", "no"]),
        ("x<<y", ["x<<y"]),
        ("<b unclosed", ["<b", "unclosed"]),
    ],
)
def test_a_sign_that_is_no_tag(text: str, words: list[str]) -> None:
    assert cue_words(text) == words


# W3C WebVTT, section "Other caption and subtitling features", the example of voice spans (names as printed there).
def test_voices_of_the_standards_example() -> None:
    captions = vtt(
        "00:00.000 --> 00:02.000\n<v.first.loud Esme>It's a blue apple tree!\n\n"
        "00:02.000 --> 00:04.000\n<v Mary>No way!\n\n"
        "00:04.000 --> 00:06.000\n<v Esme>Hee!</v> <i>laughter</i>\n\n"
        "00:06.000 --> 00:08.000\n<v.loud Mary>That's\n"
    )
    assert [(word.text, word.speaker) for word in captions.words][-5:] == [
        ("No", "Mary"),
        ("way!", "Mary"),
        ("Hee!", "Esme"),
        ("laughter", None),
        ("That's", "Mary"),
    ]
    assert captions.cues[0].text == "It's a blue apple tree!"


def test_two_voices_in_a_cue_and_no_voice_after_it() -> None:
    captions = vtt(f"{SECOND}\n<v Ada &amp; Bo>one</v><v Cy> two</v> three\n\n{SECOND}\nfour")
    assert [word.speaker for word in captions.words] == ["Ada & Bo", "Cy", None, None]


# W3C WebVTT, "WebVTT cue timestamp": an inline time is when the text after it becomes active.
def test_inline_times() -> None:
    captions = read_captions(FIXTURES / "word-times.vtt")
    assert [(word.text, word.start) for word in captions.words if word.text not in ("a", "pawn")] == [
        ("knight", 1000),
        ("takes", 1500),
        ("on", 2000),
        ("e5", 2250),
        ("and", 10000),
        ("that", 10400),
        ("wins", 11000),
    ]
    assert captions.words[-1].end == 12500
    assert captions.words[0].end == 1500


@pytest.mark.parametrize("tag", ["<00:00:30.000>", "<00:00:00.500>"])
def test_an_inline_time_outside_its_cue_is_told(tag: str) -> None:
    captions = vtt(f"00:01.000 --> 00:03.000\none {tag}two")
    assert [problem.line for problem in captions.problems] == [3]
    assert 1000 < captions.words[1].start < 3000


@pytest.mark.parametrize("arrow", ["->", "--->", "-- >", "\u2192", "\u2013>", "—>"])
def test_an_arrow_written_wrong_is_read_and_told(arrow: str) -> None:
    captions = vtt(f"{SECOND}\nfirst\n\n00:01.000 {arrow} 00:02.000\nsecond")
    assert [(cue.start, cue.end, cue.text) for cue in captions.cues] == [(0, 1000, "first"), (1000, 2000, "second")]
    assert [problem.line for problem in captions.problems] == [6]


def test_what_is_passed_over_is_told() -> None:
    captions = read_captions(FIXTURES / "damaged.vtt")
    assert [problem.line for problem in captions.problems] == [3, 6, 9, 12, 14, 17, 17, 20]
    assert [cue.text for cue in captions.cues] == [
        "one arrow short",
        "commas for points",
        "ends too early",
        "out of order",
        "late",
    ]
    assert " ".join(word.text for word in captions.words) == (
        "one arrow short commas for points out of order ends too early late"
    )


def test_everything_at_once() -> None:
    captions = read_captions(FIXTURES / "lesson.vtt")
    assert captions.problems == ()
    assert [cue.text for cue in captions.cues] == [
        "White begins with e4,\nand Black answers e5.",
        "Knight to f3 & knight c6—Springer c6.",
        ">> Bishop b5 <check?> no",
    ]
    assert {word.speaker for word in captions.words} == {"Ada Quill", "Bo Marsh", None}
    assert not any(">>" in word.text for word in captions.words)
    raw = [captions.source[slice(*word.span)] for word in captions.words]
    assert "&amp;" in raw and "c6&mdash;<lang de>Springer" in raw and "e4</b>," in raw


@pytest.mark.parametrize("name", ["lesson.vtt", "word-times.vtt", "rolling.vtt", "rolling-plain.vtt"])
def test_cues_are_those_of_webvtt_py(name: str) -> None:
    # Outside opinion: PyPI webvtt-py, on files that it reads right.
    ours, theirs = read_captions(FIXTURES / name).cues, webvtt.read(str(FIXTURES / name)).captions
    assert [(cue.start, cue.end) for cue in ours] == [
        (cue.start_time.in_milliseconds(), cue.end_time.in_milliseconds()) for cue in theirs
    ]
    if name != "lesson.vtt":  # there webvtt-py keeps the ruby note and takes "<check?>" for a tag
        assert [cue.text.split() for cue in ours] == [cue.text.split() for cue in theirs]


@pytest.mark.parametrize("body", ["", "\n", f"\n\n{SECOND}\n", f"\n\n{SECOND}\n&gt;&gt; <i></i>"])
def test_no_words_is_an_error(body: str) -> None:
    with pytest.raises(CaptionsError, match=r"^talk\.vtt, line \d: no cue has any"):
        parse_captions("WEBVTT" + body, "talk.vtt")

"""Files that cannot be read end in one clear sentence; files a little wrong are read and it is told."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from aligner.captions import parse_captions, read_captions
from aligner.errors import CaptionsError

GOOD = "WEBVTT\n\n00:00.000 --> 00:01.000\nknight f3 — café\n"


def written(folder: Path, data: bytes) -> Path:
    path = folder / "talk.vtt"
    path.write_bytes(data)
    return path


def refusal(path: Path) -> str:
    with pytest.raises(CaptionsError) as caught:
        read_captions(path)
    assert caught.value.exit_status == 2
    return str(caught.value)


def test_no_such_file(tmp_path: Path) -> None:
    assert refusal(tmp_path / "gone.vtt") == "gone.vtt: there is no such file; check the name and the folder."


def test_a_folder(tmp_path: Path) -> None:
    assert refusal(tmp_path).endswith(": this is a folder; name the captions file in it.")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may read everything")
def test_a_file_that_may_not_be_read(tmp_path: Path) -> None:
    path = written(tmp_path, GOOD.encode())
    path.chmod(0)
    assert "may not be read" in refusal(path)


@pytest.mark.parametrize("name", ["a\0b.vtt", "x" * 5000, "a\x1b[31m.vtt"])
def test_names_no_file_can_have(tmp_path: Path, name: str) -> None:
    message = refusal(tmp_path / name)
    assert message.isprintable()


@pytest.mark.parametrize("data", [b"", b"\n \r\n\t", b"\xef\xbb\xbf", b"\xef\xbb\xbf\n", b"\xff\xfe"])
def test_an_empty_file(tmp_path: Path, data: bytes) -> None:
    assert refusal(written(tmp_path, data)) == "talk.vtt: the file is empty."


@pytest.mark.parametrize(
    "data",
    [
        b"\x1aE\xdf\xa3\x00\x01\x02\x03" * 20,
        b"\x00\x00\x00\x18ftypmp42" + bytes(range(256)),
        b"PK\x03\x04\x14\x00\x00\x00",
    ],
)
def test_a_recording_or_an_archive(tmp_path: Path, data: bytes) -> None:
    assert refusal(written(tmp_path, data)) == (
        "talk.vtt: this is not a text file; give the captions, not the recording."
    )


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "utf-32"])
def test_utf_16_and_32(tmp_path: Path, encoding: str) -> None:
    marks = {"utf-16-le": b"\xff\xfe", "utf-16-be": b"\xfe\xff"}
    captions = read_captions(written(tmp_path, marks.get(encoding, b"") + GOOD.encode(encoding)))
    assert (captions.source, captions.problems) == (GOOD, ())


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_utf_16_without_its_mark(tmp_path: Path, encoding: str) -> None:
    assert "UTF-16 without its byte order mark" in refusal(written(tmp_path, GOOD.encode(encoding)))


def test_a_mark_that_lies(tmp_path: Path) -> None:
    assert "says it is UTF-16 and is not" in refusal(written(tmp_path, b"\xff\xfe" + b"abc"))


def test_windows_1252(tmp_path: Path) -> None:
    captions = read_captions(written(tmp_path, GOOD.encode("cp1252")))
    assert captions.source == GOOD
    assert [(problem.line, "Windows-1252" in problem.message) for problem in captions.problems] == [(4, True)]


def test_utf_8_with_one_damaged_byte(tmp_path: Path) -> None:
    captions = read_captions(written(tmp_path, (GOOD + "é è ê — ").encode() + b"\xe2\x82 end\n"))
    assert "café" in captions.source and "�" in captions.source
    assert [problem.line for problem in captions.problems] == [5]


def test_neither_encoding(tmp_path: Path) -> None:
    message = refusal(written(tmp_path, b"WEBVTT\n\n00:00.000 --> 00:01.000\n\x81\x8d\n"))
    assert message == "talk.vtt, line 4: the file is neither UTF-8 nor Windows-1252 text; save it again as UTF-8."


@pytest.mark.parametrize(
    "text",
    [
        "Once upon a time there was a knight on f3.\n",
        '[Event "A game"]\n\n1. e4 e5 2. Nf3 *\n',
        '{"version": 1}',
        "1\n2\n3",
        "<html><body>Not found</body></html>",
        "a -> b",
        "at 10:30 -> 11:30 we play",
    ],
)
def test_what_is_no_captions(text: str) -> None:
    with pytest.raises(CaptionsError, match=r"^game\.txt, line 1: no line holds a time"):
        parse_captions(text, "game.txt")


def test_control_characters_never_reach_a_word_or_a_message() -> None:
    captions = parse_captions(
        "WEBVTT\n\n00:00.000 --> 00:01.000\n<v A\x1bda>knight\x1b[31m \x07 f\u202e3 \u200b na\u00efve &#27;x\n",
        "t\x1b.vtt",
    )
    assert captions.name == "t.vtt"
    assert [word.text for word in captions.words] == ["knight[31m", "f3", "naïve", "x"]
    assert {word.speaker for word in captions.words} == {"Ada"}
    assert captions.source[slice(*captions.words[0].span)] == "knight\x1b[31m"
    assert captions.cues[0].text.isprintable()

"""`aligner page` and `aligner picture`: what goes in, what comes out, what is said."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from invented_talk import talk

from aligner.cli.main import run
from aligner.record.document import record_to_json


@pytest.fixture
def record(tmp_path: Path) -> Path:
    path = tmp_path / "talk.json"
    path.write_text(record_to_json(talk()), encoding="utf-8")
    return path


def test_a_record_becomes_a_page(record: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["page", str(record), "-o", str(tmp_path / "talk.html"), "--title", "Tides"]) == 0
    html = (tmp_path / "talk.html").read_text(encoding="utf-8")
    assert html.startswith("<!doctype html>") and "<title>Tides</title>" in html
    assert capsys.readouterr() == ("", "")


def test_a_record_is_known_without_its_ending(record: Path, tmp_path: Path) -> None:
    other = record.rename(tmp_path / "record")
    assert run(["picture", str(other), "-o", str(tmp_path / "talk.svg")]) == 0
    assert (tmp_path / "talk.svg").read_text(encoding="utf-8").lstrip().startswith("<svg")


def test_captions_are_aligned_first(tmp_path: Path) -> None:
    captions = tmp_path / "talk.txt"
    captions.write_text("[0:01] we begin with e4\n[0:04] and e5\n[0:08] knight f3\n[0:12] the end\n", encoding="utf-8")
    assert run(["page", str(captions), "-o", str(tmp_path / "talk.html"), "-q"]) == 0
    assert ">1.e4<" in (tmp_path / "talk.html").read_text(encoding="utf-8")


def test_a_recording_that_is_not_there_yet_is_told(
    record: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["page", str(record), "-o", str(tmp_path / "t.html"), "--media", str(tmp_path / "talk.mp3")]) == 0
    assert "there is no recording" in capsys.readouterr().err
    assert '<audio id="media" src="talk.mp3"' in (tmp_path / "t.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"version": 99}, "version 99"),
        ({"games": []}, "no game"),
        ({"words": "none"}, "words"),
    ],
)
def test_a_damaged_or_newer_record_is_one_sentence(
    record: Path, capsys: pytest.CaptureFixture[str], change: dict[str, object], says: str
) -> None:
    record.write_text(json.dumps(json.loads(record.read_text()) | change), encoding="utf-8")
    out = record.with_name("talk.html")
    assert run(["page", str(record), "-o", str(out)]) == 2
    told = capsys.readouterr().err
    assert says in told and told.count("\n") == 1 and "Traceback" not in told
    assert not out.exists()


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--game", "score.pgn"], "--game goes with captions"),
        (["--game-number", "2"], "give the score too"),
        (["--fen", "8/8/8/8/8/8/8/8 w - - 0 1"], "--fen goes with captions"),
        (["--media", "javascript:alert(1)"], "neither a file nor an address"),
    ],
)
def test_options_that_do_not_fit_are_refused(
    record: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], says: str
) -> None:
    assert run(["page", str(record), "-o", str(record.with_name("talk.html")), *arguments]) == 2
    assert says in capsys.readouterr().err


@pytest.mark.parametrize("link", ["javascript:alert(1)", "//harbour.example/x", "talk.html#t=3"])
def test_a_picture_leads_only_where_it_may(record: Path, capsys: pytest.CaptureFixture[str], link: str) -> None:
    assert run(["picture", str(record), "-o", str(record.with_name("talk.svg")), "--link", link]) == 2
    assert "without '#'" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (None, "no such file"),
        (b"", "empty"),
        (b"{", "not JSON"),
        (b"\xff\xfe{", "UTF-8"),
        (b"[1]", "no alignment record"),
    ],
)
def test_a_file_that_is_no_record_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes | None, says: str
) -> None:
    path = tmp_path / "talk.json"
    if content is not None:
        path.write_bytes(content)
    assert run(["page", str(path), "-o", str(tmp_path / "talk.html")]) == 2
    assert says in capsys.readouterr().err


def test_the_page_is_never_written_over_its_source(record: Path) -> None:
    before = record.read_bytes()
    assert run(["page", str(record), "-o", str(record)]) == 2
    assert record.read_bytes() == before

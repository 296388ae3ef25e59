"""The whole set in a folder: what is in it, what is left alone, that all of it belongs together."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import chess.pgn
import pytest
from scripted_records import SCRIPTS, from_script

from aligner.cli.main import run
from aligner.errors import InputError
from aligner.publish.folder import LEDGER, files_of, write_folder
from aligner.publish.parts import Talk, file_stem, make
from aligner.record.document import record_from_json, record_to_json
from aligner.record.model import Record

RECORD = from_script((SCRIPTS / "b-two-chairs.talk").read_text(encoding="utf-8"), "b-two-chairs")


class Links(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found += [value or "" for name, value in attrs if name in ("href", "src")]


@pytest.fixture(name="record_file")
def _record_file(tmp_path: Path) -> Path:
    path = tmp_path / "b-two-chairs.json"
    path.write_text(record_to_json(RECORD), encoding="utf-8")
    return path


@pytest.fixture(scope="module", name="texts")
def _texts(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    return make(Talk(RECORD, "talk", tmp_path_factory.mktemp("set")))


def test_the_set_is_whole(texts: dict[str, str]) -> None:
    endings = {name.removeprefix("talk") for name in texts}
    usual = {".html", ".notes.html", ".notes.md", ".pgn", ".chapters.vtt", ".chapters.txt", ".picture.svg", ".json"}
    assert usual | {".errata.md", ".errata.csv", "index.html"} == endings


def test_every_link_of_the_index_leads_to_a_file_of_the_set(texts: dict[str, str]) -> None:
    links = Links(texts["index.html"]).found
    assert {link.partition("#")[0] for link in links} == set(texts) - {"index.html"}
    # W3C Media Fragments URI 1.0, 4.2.1
    assert [link for link in links if "#" in link][:1] == ["talk.html#t=0"]
    assert all(
        re.fullmatch(r"talk\.html#t=\d+(?:\.\d+)?", link)
        for link in Links(texts["talk.notes.html"]).found
        if "#shape" not in link
    )


def test_the_parts_are_what_their_names_say(texts: dict[str, str]) -> None:
    assert record_from_json(texts["talk.json"], "talk.json") == RECORD
    game = chess.pgn.read_game(io.StringIO(texts["talk.pgn"]))
    assert game is not None and not game.errors
    assert texts["talk.chapters.vtt"].startswith("WEBVTT\n\n")
    assert texts["talk.chapters.txt"].startswith("0:00 ")


def test_a_folder_is_filled_and_filled_again(
    tmp_path: Path, record_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "deep" / "set"
    assert run(["publish", str(record_file), "-o", str(folder)]) == 0
    assert "index.html" in capsys.readouterr().err
    first = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert set(files_of(folder)) | {LEDGER} == set(first)
    assert run(["publish", str(record_file), "-o", str(folder), "-q"]) == 0
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == first


def test_what_else_is_in_the_folder_stays(tmp_path: Path, record_file: Path) -> None:
    folder = tmp_path / "set"
    folder.mkdir()
    (folder / "holiday.txt").write_text("mine", encoding="utf-8")
    assert run(["publish", str(record_file), "-o", str(folder), "-q"]) == 0
    assert (folder / "holiday.txt").read_text(encoding="utf-8") == "mine"
    assert "holiday.txt" not in files_of(folder)


def test_a_file_of_somebody_else_is_not_overwritten(
    tmp_path: Path, record_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "set"
    folder.mkdir()
    (folder / "index.html").write_text("mine", encoding="utf-8")
    assert run(["publish", str(record_file), "-o", str(folder), "-q"]) == 2
    message = capsys.readouterr().err
    assert "index.html" in message and "--overwrite" in message and "Traceback" not in message
    assert [path.name for path in folder.iterdir()] == ["index.html"]  # all or nothing
    assert run(["publish", str(record_file), "-o", str(folder), "-q", "--overwrite"]) == 0


def test_a_file_edited_since_is_not_overwritten(tmp_path: Path, record_file: Path) -> None:
    folder = tmp_path / "set"
    assert run(["publish", str(record_file), "-o", str(folder), "-q"]) == 0
    notes = folder / "b-two-chairs.notes.md"
    notes.write_text("edited for hours", encoding="utf-8")
    assert run(["publish", str(record_file), "-o", str(folder), "-q"]) == 2
    assert notes.read_text(encoding="utf-8") == "edited for hours"


@pytest.mark.parametrize("ledger", ["", "{", "[]", '{"files": 3}', '{"files": {"a": 1}}', "\udcff"])
def test_a_damaged_list_of_files_is_told(tmp_path: Path, ledger: str) -> None:
    (tmp_path / LEDGER).write_bytes(ledger.encode("utf-8", "surrogateescape"))
    with pytest.raises(InputError, match="damaged"):
        write_folder(tmp_path, {"a.txt": "a"})
    assert not (tmp_path / "a.txt").exists()


def test_folders_that_cannot_be(tmp_path: Path, record_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for folder in (record_file, record_file / "below"):
        assert run(["publish", str(record_file), "-o", str(folder), "-q"]) == 2
        message = capsys.readouterr().err
        assert message.count("\n") == 1 and "Traceback" not in message
    assert record_from_json(record_file.read_text(encoding="utf-8"), "x") == RECORD


def test_nothing_is_left_of_a_set_that_cannot_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_folder(tmp_path, {"a.txt": "old", "b.txt": "old"})

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("aligner.files.os.fsync", refuse)
    with pytest.raises(InputError):
        write_folder(tmp_path, {"a.txt": "new", "b.txt": "new"})
    assert {path.name for path in tmp_path.iterdir()} == {"a.txt", "b.txt", LEDGER}
    assert (tmp_path / "a.txt").read_text(encoding="utf-8") == "old"


@pytest.mark.parametrize(
    ("captions", "stem"),
    [
        ("talk.vtt", "talk"),
        ("a b/c.vtt", "c"),
        ("../../x.srt", "x"),
        ("..vtt", "talk"),
        ("index.vtt", "talk"),
        ("Größe 1.vtt", "Größe-1"),
        ("\n.vtt", "talk"),
    ],
)
def test_file_names_stay_in_the_folder(captions: str, stem: str) -> None:
    record = json.loads(record_to_json(RECORD))
    record["recording"]["captions"] = captions
    made: Record = record_from_json(json.dumps(record), "x")
    assert file_stem(made) == stem
    assert "/" not in stem and not stem.startswith(".")


@pytest.mark.parametrize("name", ["notes.pdf", "notes", "notes.docx"])
def test_notes_in_another_format_are_refused(
    name: str, tmp_path: Path, record_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["notes", str(record_file), "-o", str(tmp_path / name)]) == 2
    assert ".html or .md" in capsys.readouterr().err
    assert not (tmp_path / name).exists()


def test_chapters_go_to_standard_output_or_to_files(tmp_path: Path, record_file: Path) -> None:
    command = [sys.executable, "-m", "aligner", "chapters", str(record_file)]
    listed = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    assert listed.startswith("0:00 Introduction\n")
    track = tmp_path / "c.vtt"
    done = subprocess.run(
        [*command, "-o", str(track), "--list", str(tmp_path / "c.txt"), "-q"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout == done.stderr == ""
    assert (tmp_path / "c.txt").read_text(encoding="utf-8") == listed
    assert track.read_text(encoding="utf-8").count("-->") == listed.count("\n")
    few = subprocess.run([*command, "--at-most", "3"], capture_output=True, text=True, check=True).stdout
    assert few.count("\n") == 3


@pytest.mark.parametrize("verb", ["chapters", "notes", "publish"])
def test_damaged_records_get_one_sentence(verb: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for number, text in enumerate(['{"version": 99, "games": []}', '{"version": 1, "games": 5}', "{"]):
        path = tmp_path / f"{number}.json"
        path.write_text(text, encoding="utf-8")
        arguments = [verb, str(path)] + ([] if verb == "chapters" else ["-o", str(tmp_path / "out.md")])
        assert run(arguments) == 2
        message = capsys.readouterr().err
        assert message.count("\n") == 1 and path.name in message
    assert not (tmp_path / "out.md").exists()

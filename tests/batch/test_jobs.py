"""What a run finds to do, in folders and in lists."""

from __future__ import annotations

from pathlib import Path

import pytest
from small_talks import captions

from aligner.batch.jobs import Job, find_jobs
from aligner.errors import InputError


def folder_with(folder: Path, *names: str) -> Path:
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(captions(), encoding="utf-8")
    return folder


def named(jobs: tuple[Job, ...]) -> list[str]:
    return [job.name for job in jobs]


def test_a_folder_gives_captions_of_every_kind_with_the_score_of_the_same_stem(tmp_path: Path) -> None:
    source = folder_with(tmp_path / "in", "a.vtt", "a.pgn", "b.srt", "below/c.sbv", "below/c.PGN", "notes.md", ".d.vtt")
    jobs = find_jobs(source, tmp_path / "out")
    assert named(jobs) == ["a", "b", "below/c"]
    assert [job.score and job.score.name for job in jobs] == ["a.pgn", None, "c.PGN"]


def test_talks_of_one_name_are_told_apart(tmp_path: Path) -> None:
    source = folder_with(tmp_path / "in", "a.vtt", "a.srt", "b.vtt")
    assert sorted(named(find_jobs(source, tmp_path / "out"))) == ["a.srt", "a.vtt", "b"]


def test_outputs_are_no_captions_of_the_next_run(tmp_path: Path) -> None:
    source = folder_with(tmp_path, "a.vtt", "out/a.chapters.vtt", "b.chapters.vtt", "_batch/c.vtt")
    assert named(find_jobs(source, source / "out", [".chapters.vtt"])) == ["a"]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_a_list_with_columns(tmp_path: Path, separator: str) -> None:
    rows = [
        ["captions", "score", "title", "game_number", "name"],
        ["a.vtt", "games.pgn", "The rook", "2", ""],
        ["deep/b.vtt", "", "", "", "second"],
        ["", "games.pgn", "", "", ""],
        ["c.vtt", "", "", "none", ""],
    ]
    path = tmp_path / "talks.csv"
    path.write_text("\ufeff" + "\r\n".join(separator.join(row) for row in rows), encoding="utf-8")
    first, second, third, fourth = find_jobs(path, tmp_path / "out")
    assert first == Job("a", tmp_path / "a.vtt", tmp_path / "games.pgn", "The rook", None, None, 2)
    assert (second.name, second.captions, second.score) == ("second", tmp_path / "deep/b.vtt", None)
    assert "talks.csv, line 4" in third.fault and "no captions" in third.fault
    assert "talks.csv, line 5" in fourth.fault and "'none'" in fourth.fault


def test_a_list_of_lines(tmp_path: Path) -> None:
    path = tmp_path / "talks.txt"
    path.write_text("# the first evening\na.vtt\n\n../b.vtt\n/elsewhere/c.vtt\n", encoding="utf-8")
    jobs = find_jobs(path, tmp_path / "out")
    assert named(jobs) == ["a", "b", "c"]
    assert jobs[2].captions == Path("/elsewhere/c.vtt")


@pytest.mark.parametrize("name", ["../../up", "/absolute", "a/../../b", "c:\\x"])
def test_no_name_leads_out_of_the_output_folder(tmp_path: Path, name: str) -> None:
    path = tmp_path / "talks.csv"
    path.write_text(f"captions,name\na.vtt,{name}\n", encoding="utf-8")
    [job] = find_jobs(path, tmp_path / "out")
    place = (tmp_path / "out" / job.name).resolve()
    assert (tmp_path / "out").resolve() in place.parents and "\\" not in job.name


@pytest.mark.parametrize(
    ("content", "told"),
    [(None, "no such folder or list"), (b"", "names no captions"), (b"\xff\xfe\x00", "UTF-8"), (b"a\0b", "no list")],
)
def test_a_list_that_is_none(tmp_path: Path, content: bytes | None, told: str) -> None:
    path = tmp_path / "talks.txt"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(InputError, match=told):
        find_jobs(path, tmp_path / "out")


def test_an_empty_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no captions in this folder"):
        find_jobs(tmp_path, tmp_path / "out")

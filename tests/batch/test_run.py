"""A run does what is left to do, and nothing twice."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from small_talks import BAD, captions, quick, write_bad, write_talks

import aligner.batch.tasks
from aligner.batch.jobs import find_jobs
from aligner.batch.journal import Journal
from aligner.batch.outputs import chosen
from aligner.batch.run import Summary, run_batch
from aligner.batch.tasks import Settings
from aligner.batch.work import Outcome, Task, work
from aligner.errors import InputError


class Counted:
    """A pool in this process that counts what it is asked to do; it may stop early, as a machine does that dies."""

    def __init__(self, stop_after: int | None = None, quickly: bool = True) -> None:
        self.names: list[str] = []
        self.stop_after = stop_after
        self.quickly = quickly

    def __call__(self, tasks: Iterable[Task]) -> Iterator[Outcome]:
        for task in tasks:
            if len(self.names) == self.stop_after:
                raise KeyboardInterrupt
            self.names.append(task.name)
            yield quick(task, None) if self.quickly else work(task)


def run(source: Path, out: Path, pool: Counted, **settings: object) -> Summary:
    outputs = chosen(["json"])
    return run_batch(find_jobs(source, out), replace(Settings(out, outputs), **settings), pool)  # type: ignore[arg-type]


def test_a_stopped_run_goes_on_where_it_was(tmp_path: Path) -> None:
    source, out = tmp_path / "in", tmp_path / "out"
    write_talks(source, 9)
    seen: list[str] = []
    for stop in (3, 2, None):
        pool = Counted(stop)
        try:
            summary = run(source, out, pool)
        except KeyboardInterrupt:
            report = json.loads((out / "_batch/report.json").read_text(encoding="utf-8"))
            assert report["this_run"]["talks"] == len(pool.names) and report["counts"]["left"] == 9 - len(seen) - stop
        seen += pool.names
    assert sorted(seen) == [f"talk-{at:03d}" for at in range(9)]
    assert len(summary.entries) == 9 and summary.fresh == 4 and not summary.left


def test_contents_decide_and_not_dates(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    source, out = tmp_path / "in", tmp_path / "out"
    write_talks(source, 5)
    run(source, out, Counted())
    for path in source.iterdir():
        path.write_bytes(path.read_bytes())
    assert run(source, out, again := Counted()).fresh == 0 and not again.names

    (source / "talk-001.vtt").write_text(captions(77), encoding="utf-8")
    (source / "talk-002.pgn").unlink()
    (source / "talk-003.settled.toml").write_text("# nothing is settled\n", encoding="utf-8")
    (out / "talk-004.json").unlink()
    run(source, out, again := Counted())
    assert again.names == ["talk-001", "talk-002", "talk-004"] or again.names == [
        "talk-001", "talk-002", "talk-003", "talk-004",
    ]  # fmt: skip

    monkeypatch.setattr(aligner.batch.tasks, "program_hash", lambda: "another program")
    run(source, out, again := Counted())
    assert len(again.names) == 5


def test_bad_files_are_reported_and_stop_nothing(tmp_path: Path) -> None:
    source, out = tmp_path / "in", tmp_path / "out"
    write_talks(source, 1)
    write_bad(source)
    (source / "talk-000.vtt").write_text(captions(), encoding="utf-8")
    (source / "bad-score.vtt").write_text(captions(), encoding="utf-8")
    (source / "bad-score.pgn").write_text("1. e4 Qh4 *", encoding="utf-8")
    summary = run(source, out, Counted(quickly=False))
    failed = {entry.name: entry.sentence for entry in summary.entries if entry.status == "failed"}
    assert set(failed) == {Path(name).stem for name in BAD} | {"bad-score"}
    assert all(sentence.endswith(".") and "\n" not in sentence for sentence in failed.values())
    assert "is not legal" in failed["bad-score"] and "empty" in failed["empty"]
    assert run(source, out, again := Counted()).fresh == 0 and not again.names
    run(source, out, again := Counted(quickly=False), retry=True)
    assert "talk-000" not in again.names and "no-game" in again.names


def test_missing_outputs_are_made_from_the_record(tmp_path: Path) -> None:
    source, out = tmp_path / "in", tmp_path / "out"
    write_talks(source, 1)
    run(source, out, Counted(quickly=False))
    assert not (out / "talk-000.pgn").exists()
    run(source, out, again := Counted(), outputs=chosen(["pgn"]))
    assert not again.names
    assert "1. e4" in (out / "talk-000.pgn").read_text(encoding="utf-8")


def test_a_run_killed_between_the_outputs_and_the_journal(tmp_path: Path) -> None:
    source, out = tmp_path / "in", tmp_path / "out"
    write_talks(source, 2)
    run(source, out, Counted())
    path = out / "_batch/journal.jsonl"
    lines = path.read_bytes().splitlines(keepends=True)
    # whole outputs without the last line, then outputs that are not those the journal tells of
    path.write_bytes(b"".join(lines[:-1]))
    assert run(source, out, again := Counted()).fresh == 0 and not again.names
    path.write_bytes(b"".join(lines[:-1]))
    (out / "talk-001.json").write_text("half", encoding="utf-8")
    assert run(source, out, again := Counted()).fresh == 1 and again.names == ["talk-001"]


@pytest.mark.parametrize("cut", range(1, 60, 7))
def test_a_journal_cut_anywhere_is_taken_up(tmp_path: Path, cut: int) -> None:
    source, out = tmp_path / "in", tmp_path / "out"
    write_talks(source, 2)
    run(source, out, Counted())
    path = out / "_batch/journal.jsonl"
    path.write_bytes(path.read_bytes()[:-cut])
    assert run(source, out, again := Counted()).fresh == 0 and not again.names
    assert all(json.loads(line) for line in path.read_bytes().splitlines())


def test_two_runs_do_not_meet_in_one_folder(tmp_path: Path) -> None:
    source, out = tmp_path / "in", tmp_path / "out"
    write_talks(source, 1)
    (out / "_batch").mkdir(parents=True)
    with Journal(out / "_batch/journal.jsonl"), pytest.raises(InputError, match="another run"):
        run(source, out, Counted())


def test_no_input_is_written_over(tmp_path: Path) -> None:
    write_talks(tmp_path, 1)
    with pytest.raises(InputError, match="one of the inputs"):
        run(tmp_path, tmp_path, Counted(), outputs=chosen(["pgn"]))
    assert not (tmp_path / "_batch").exists()


def test_a_foreign_journal_is_left_alone(tmp_path: Path) -> None:
    source, out = tmp_path / "in", tmp_path / "out"
    write_talks(source, 1)
    (out / "_batch").mkdir(parents=True)
    (out / "_batch/journal.jsonl").write_text('{"journal": "another"}\n', encoding="utf-8")
    with pytest.raises(InputError, match="no journal"):
        run(source, out, Counted())

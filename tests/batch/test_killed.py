"""The whole command, killed with SIGKILL in the middle, stopped with Ctrl-C, and called again.

Six talks and one kill by default; ALIGNER_LONG_TESTS=1 takes 495 talks, five bad files and three kills.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest
from small_talks import BAD, write_bad, write_talks

ROOT = Path(__file__).resolve().parents[2]
LONG = bool(os.environ.get("ALIGNER_LONG_TESTS"))
TALKS, KILLS = (495, 3) if LONG else (6, 1)


@pytest.fixture
def program(tmp_path: Path) -> Path:
    """A copy of the package, so that nobody's work on it in the meantime makes it another program."""
    shutil.copytree(ROOT / "aligner", tmp_path / "program/aligner", ignore=shutil.ignore_patterns("__pycache__"))
    return tmp_path / "program"


def start(program: Path, source: Path, out: Path, jobs: int = 2) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "aligner", "batch", str(source), "--out", str(out), "--jobs", str(jobs)]
    environment = {**os.environ, "PYTHONPATH": str(program)}
    return subprocess.Popen(command, cwd=program, env=environment, stderr=subprocess.PIPE, text=True)


def journal(out: Path) -> list[dict[str, object]]:
    path = out / "_batch/journal.jsonl"
    lines = path.read_bytes().split(b"\n")[:-1] if path.exists() else []
    return [json.loads(line) for line in lines[1:]]


def settled(out: Path) -> list[dict[str, object]]:
    return [row for row in journal(out) if row["event"] == "settled"]


def until(out: Path, number: int, process: subprocess.Popen[str]) -> None:
    limit = time.monotonic() + 600
    while len(settled(out)) < number and process.poll() is None and time.monotonic() < limit:
        time.sleep(0.02)


def test_killed_at_any_moment_every_talk_is_done_once(tmp_path: Path, program: Path) -> None:
    source, out = tmp_path / "in", tmp_path / "out"
    write_talks(source, TALKS)
    write_bad(source)
    total = TALKS + len(BAD)
    for kill in range(KILLS):
        process = start(program, source, out)
        until(out, total * (kill + 1) // (KILLS + 1), process)
        process.kill()
        process.wait()
        assert len(settled(out)) < total
    process = start(program, source, out)
    _, told = process.communicate()
    assert process.returncode == 2
    assert "Traceback" not in told
    done = Counter(row["name"] for row in settled(out) if row["status"] != "failed")
    failed = Counter(row["name"] for row in settled(out) if row["status"] == "failed")
    assert len(done) == TALKS and set(done.values()) == {1}
    assert len(failed) == len(BAD) and set(failed.values()) == {1}
    report = json.loads((out / "_batch/report.json").read_text(encoding="utf-8"))
    assert report["counts"]["failed"] == len(BAD) and report["counts"]["left"] == 0
    assert len(list(out.glob("talk-*.json"))) == len(list(out.glob("talk-*.pgn"))) == TALKS
    assert not list(out.glob(".*.draft"))


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_stopped_cleanly(tmp_path: Path, program: Path, number: int) -> None:
    source, out = tmp_path / "in", tmp_path / "out"
    write_talks(source, 6)
    process = start(program, source, out, jobs=1)
    until(out, 1, process)
    process.send_signal(number)
    _, told = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "the same call goes on" in told and "Traceback" not in told
    report = json.loads((out / "_batch/report.json").read_text(encoding="utf-8"))
    assert len(report["talks"]) + len(report["left"]) == 6 and report["left"]

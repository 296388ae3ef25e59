"""`aligner follow` on a file that grows, and on standard input."""

from __future__ import annotations

import io
import json
import signal
import subprocess
import sys
import time
from pathlib import Path

import chess.pgn

ROOT = Path(__file__).resolve().parents[2]
CUES = [
    "00:00:01.000 --> 00:00:03.000\nwhite begins with e4 and black answers e5",
    "00:00:04.000 --> 00:00:06.000\nknight f3, knight c6",
    "00:00:07.000 --> 00:00:09.000\nand now bishop b5",
]


def start(*arguments: str) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "aligner", "follow", *arguments]
    pipe = subprocess.PIPE
    return subprocess.Popen(command, cwd=ROOT, stdin=pipe, stdout=pipe, stderr=pipe)


def nodes(path: Path) -> int:
    try:
        return len(json.loads(path.read_text(encoding="utf-8"))["games"][0]["nodes"])
    except FileNotFoundError:
        return 0


def until(condition: object, seconds: float = 60) -> bool:
    limit = time.monotonic() + seconds
    while time.monotonic() < limit:
        if condition():  # type: ignore[operator]
            return True
        time.sleep(0.05)
    return False


def test_a_file_that_grows(tmp_path: Path) -> None:
    talk, record, pgn = tmp_path / "talk.vtt", tmp_path / "talk.json", tmp_path / "talk.pgn"
    talk.write_text("WEBVTT\n\n", encoding="utf-8")
    process = start(str(talk), "--json", str(record), "-o", str(pgn), "--every", "0.05")
    try:
        seen = 1
        for cue in CUES:
            with open(talk, "a", encoding="utf-8") as file:
                # a writer may stop anywhere in a line
                file.write(cue[:40])
                file.flush()
                time.sleep(0.2)
                file.write(cue[40:] + "\n\n")
            assert until(lambda seen=seen: nodes(record) > seen)
            seen = nodes(record)
        assert "may change" in " ".join(json.loads(record.read_text(encoding="utf-8"))["notes"])
        process.send_signal(signal.SIGINT)
        out, told = process.communicate(timeout=60)
    finally:
        process.kill()
    assert process.returncode == 0 and not out
    assert b"3.Bb5" in told and b"Traceback" not in told
    assert not json.loads(record.read_text(encoding="utf-8"))["notes"]
    game = chess.pgn.read_game(io.StringIO(pgn.read_text(encoding="utf-8")))
    assert game is not None and not game.errors
    assert [move.uci() for move in game.mainline_moves()] == ["e2e4", "e7e5", "g1f3", "b8c6", "f1b5"]


def test_standard_input_to_its_end() -> None:
    process = start("-", "--quiet")
    out, told = process.communicate(("WEBVTT\n\n" + "\n\n".join(CUES)).encode(), timeout=120)
    assert process.returncode == 0 and not told
    assert b"3. Bb5" in out


def test_what_is_no_captions_at_its_end() -> None:
    process = start("-")
    out, told = process.communicate(b"nothing that has a time\n", timeout=120)
    assert process.returncode == 2 and not out
    assert b"no line holds a time" in told and b"Traceback" not in told

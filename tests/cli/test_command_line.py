"""The command `aligner`: exit statuses, one sentence for every fault, outputs where they belong."""

from __future__ import annotations

import io
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import chess.pgn
import pytest

from aligner import __version__
from aligner.cli import main as command_line
from aligner.cli.main import run
from aligner.errors import AlignerError, CaptionsError, InputError, MismatchError, RecordError, ScoreError

DEMO = Path(__file__).resolve().parents[2] / "demo"
CAPTIONS, SCORE = str(DEMO / "rook-lift.vtt"), str(DEMO / "rook-lift.pgn")

# an invented game that has nothing to do with the demo's talk
OTHER_SCORE = """[Event "Invented"]
[Result "*"]

1. c4 e5 2. g3 f5 3. Bg2 Nf6 4. b3 g6 5. Bb2 Bg7 6. a4 a5 7. h4 h5 8. Na3 Na6 9. Nh3 Nh7
10. Qb1 Qe7 11. Kf1 Kf7 12. Kg1 Kg8 *
"""
ILLEGAL_SCORE = '[Event "Invented"]\n\n1. e4 e5 2. Ke3 *\n'


@pytest.fixture(autouse=True)
def no_traceback_wanted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("ALIGNER_TRACEBACK", raising=False)


def one_sentence(error: str) -> str:
    """What was told on standard error, which must be one line, said by the program, without a traceback."""
    assert error.startswith("aligner: ") and error.endswith("\n") and error.count("\n") == 1
    assert "Traceback" not in error
    return error


def aligner(*arguments: str) -> list[str]:
    return [sys.executable, "-m", "aligner", *arguments]


def test_help_and_version(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in ([], ["--help"], ["-h"], ["align", "--help"]):
        assert run(arguments) == 0
        captured = capsys.readouterr()
        assert captured.out.startswith("Usage: aligner") and not captured.err
    assert run(["--version"]) == 0
    assert capsys.readouterr().out == f"aligner {__version__}\n"


@pytest.mark.parametrize("command", command_line.COMMANDS, ids=lambda command: command.__name__)
def test_every_verb_is_listed_and_explained(command: object, capsys: pytest.CaptureFixture[str]) -> None:
    name = command.__name__.replace("_", "-")  # type: ignore[attr-defined]
    run(["--help"])
    assert f"\n  {name} " in capsys.readouterr().out
    run([name, "--help"])
    shown = capsys.readouterr().out
    assert len(shown.splitlines()[2].strip()) > 20


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["align"], "CAPTIONS"),
        (["aline", CAPTIONS], "aline"),
        (["align", CAPTIONS, "--bogus"], "--bogus"),
        (["align", CAPTIONS, "--game"], "--game"),
        (["align", CAPTIONS, "another"], "another"),
        (["align", CAPTIONS, "--game", SCORE, "--game-number", "two"], "--game-number"),
        (["align", CAPTIONS, "--game", SCORE, "--game-number", "0"], "--game-number"),
    ],
)
def test_wrong_usage_is_one_sentence(arguments: list[str], says: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(arguments) == 2
    captured = capsys.readouterr()
    assert says in one_sentence(captured.err) and "--help'" in captured.err
    assert not captured.out


def raising(error: BaseException) -> object:
    def verb() -> None:
        """Raise."""
        raise error

    return verb


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (AlignerError("x is wrong"), 2),
        (InputError("x is wrong", "file, line 3"), 2),
        (CaptionsError("x is wrong", "talk.vtt"), 2),
        (ScoreError("x is wrong"), 2),
        (RecordError("x is wrong"), 2),
        (MismatchError("x is wrong"), 3),
        (RuntimeError("x is wrong"), 1),
        (KeyError("x is wrong"), 1),
    ],
)
def test_errors_become_a_sentence_and_a_status(
    error: Exception, status: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(command_line, "COMMANDS", (raising(error),))
    assert run(["verb"]) == status
    assert "x is wrong" in one_sentence(capsys.readouterr().err)


def test_messages_cannot_steer_the_terminal(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(command_line, "COMMANDS", (raising(InputError("bad\nname", "\x1b[2Jtalk\r.vtt")),))
    assert run(["verb"]) == 2
    assert capsys.readouterr().err == "aligner: [2Jtalk .vtt: bad name\n"


def test_a_fault_of_the_program_is_shown_whole_when_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ALIGNER_TRACEBACK", "1")
    monkeypatch.setattr(command_line, "COMMANDS", (raising(KeyError("x")),))
    with pytest.raises(KeyError):
        run(["verb"])


def test_an_interrupt_ends_quietly(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """130 is 128 + SIGINT, as POSIX shells report it (common practice)."""
    monkeypatch.setattr(command_line, "COMMANDS", (raising(KeyboardInterrupt()),))
    assert run(["verb"]) == 130
    assert not capsys.readouterr().err.strip()


@pytest.mark.skipif(os.name != "posix", reason="signals are POSIX")
def test_an_interrupted_process_leaves_no_trace(tmp_path: Path) -> None:
    lines = "".join(f"[{at // 60}:{at % 60:02d}] knight f3 and e4 and bishop b5 takes\n" for at in range(0, 9000, 2))
    (tmp_path / "long.txt").write_text(lines, encoding="utf-8")
    command = aligner("align", str(tmp_path / "long.txt"), "-o", str(tmp_path / "out.pgn"))
    process = subprocess.Popen(command, cwd=DEMO.parent, stderr=subprocess.PIPE)
    time.sleep(5.0)
    if process.poll() is not None:
        pytest.skip("the machine was done before it could be interrupted")
    process.send_signal(signal.SIGINT)
    _, error = process.communicate(timeout=60)
    assert process.returncode == 130
    assert not error.strip()
    assert os.listdir(tmp_path) == ["long.txt"]


def test_a_reader_that_goes_away_is_no_error() -> None:
    """141 is 128 + SIGPIPE, as POSIX shells report it (common practice)."""
    process = subprocess.Popen(
        aligner("align", CAPTIONS, "--game", SCORE, "--quiet"),
        cwd=DEMO.parent,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdout is not None and process.stderr is not None
    process.stdout.close()
    error = process.stderr.read()
    assert process.wait(timeout=60) == 141
    assert error == b""


def test_the_pgn_goes_to_standard_output_and_messages_to_standard_error(
    capfdbinary: pytest.CaptureFixture[bytes],
) -> None:
    assert run(["align", CAPTIONS, "--game", SCORE]) == 0
    captured = capfdbinary.readouterr()
    game = chess.pgn.read_game(io.StringIO(captured.out.decode("utf-8")))
    assert game is not None and not game.errors
    assert game.headers["White"] == "Isaura Penhallow"
    assert b"781 words" in captured.err


def test_quiet_says_nothing_and_outputs_agree(tmp_path: Path, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    out, record = tmp_path / "out.pgn", tmp_path / "out.json"
    options = ["--title", "The talk", "--media", "talk.ogg", "--quiet"]
    assert run(["align", CAPTIONS, "--game", SCORE, "-o", str(out), "--json", str(record), *options]) == 0
    captured = capfdbinary.readouterr()
    assert (captured.out, captured.err) == (b"", b"")
    document = json.loads(record.read_text(encoding="utf-8"))
    assert document["version"] == 1
    assert document["recording"]["title"] == "The talk"
    assert document["recording"]["url"] == "talk.ogg"
    assert '[Media "talk.ogg"]' in out.read_text(encoding="utf-8")
    assert run(["align", CAPTIONS, "--game", SCORE, *options]) == 0
    assert capfdbinary.readouterr().out == out.read_bytes()


@pytest.mark.parametrize(
    ("captions", "score", "options", "says"),
    [
        (None, None, [], "talk.vtt"),
        ("", None, [], "empty"),
        ("no times in here\n", None, [], "talk.vtt"),
        (b"\x00\x01\x02\xff" * 50, None, [], "talk.vtt"),
        ("WEBVTT\n\n00:00:01.000 --> 00:00:02.000\n\n", None, [], "talk.vtt"),
        ("[0:01] e4 e5\n", ILLEGAL_SCORE, [], "Ke3"),
        ("[0:01] e4 e5\n", "", [], "score.pgn"),
        ("[0:01] e4 e5\n", "1. e4 e5 *\n", ["--game-number", "7"], "7"),
        ("[0:01] e4 e5\n", None, ["--game-number", "1"], "--game"),
        ("[0:01] e4 e5\n", None, ["--fen", "no position"], "FEN"),
        ("[0:01] e4 e5\n", None, ["--fen", "8/8/8/8/8/8/8/8 w - - 0 1"], "empty"),
        ("[0:01] e4 e5\n", None, ["--prices", "missing.toml"], "missing.toml"),
    ],
)
def test_bad_input_is_one_sentence_and_touches_nothing(
    captions: str | bytes | None,
    score: str | None,
    options: list[str],
    says: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("out.pgn").write_text("old", encoding="utf-8")
    if captions is not None:
        Path("talk.vtt").write_bytes(captions.encode() if isinstance(captions, str) else captions)
    if score is not None:
        Path("score.pgn").write_text(score, encoding="utf-8")
        options = ["--game", "score.pgn", *options]
    before = sorted(os.listdir())
    assert run(["align", "talk.vtt", *options, "-o", "out.pgn", "--json", "out.json"]) == 2
    captured = capsys.readouterr()
    assert says in one_sentence(captured.err)
    assert not captured.out
    assert Path("out.pgn").read_text(encoding="utf-8") == "old" and sorted(os.listdir()) == before


@pytest.mark.parametrize("output", ["-o", "--json"])
@pytest.mark.parametrize("victim", ["talk.vtt", "score.pgn", "prices.toml"])
def test_an_input_is_never_overwritten(
    output: str, victim: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    names = ("talk.vtt", "score.pgn", "prices.toml")
    for name in names:
        Path(name).write_text("kept", encoding="utf-8")
    arguments = ["align", "talk.vtt", "--game", "score.pgn", "--prices", "prices.toml", output, f"./{victim}"]
    assert run(arguments) == 2
    assert "one of the inputs" in one_sentence(capsys.readouterr().err)
    assert all(Path(name).read_text(encoding="utf-8") == "kept" for name in names)


def test_captions_and_a_score_that_do_not_belong_together(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    score, out = tmp_path / "other.pgn", tmp_path / "out.pgn"
    score.write_text(OTHER_SCORE, encoding="utf-8")
    assert run(["align", CAPTIONS, "--game", str(score), "-o", str(out)]) == 3
    assert "--force" in one_sentence(capsys.readouterr().err)
    assert not out.exists()
    assert run(["align", CAPTIONS, "--game", str(score), "-o", str(out), "--force", "--quiet"]) == 0
    assert out.exists()


def test_of_several_games_the_one_that_fits_is_taken(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    score = tmp_path / "both.pgn"
    score.write_text(OTHER_SCORE + "\n" + Path(SCORE).read_text(encoding="utf-8"), encoding="utf-8")
    assert run(["align", CAPTIONS, "--game", str(score), "-o", str(tmp_path / "out.pgn")]) == 0
    assert "game 2" in capsys.readouterr().err
    assert run(["align", CAPTIONS, "--game", str(score), "--game-number", "1", "-o", str(tmp_path / "out.pgn")]) == 3

"""A UCI engine that weighs moves nobody spoke: asked, bounded, ended; the engine is a fake (fake_uci_engine.py).

What is said over the pipe follows the UCI protocol as python-chess speaks it.
"""

from __future__ import annotations

import os
import stat
import time
from pathlib import Path

import chess
import pytest

from aligner import engine as engines
from aligner.captions import parse_captions
from aligner.cli.main import run
from aligner.engine import Engine, engine_at
from aligner.errors import InputError
from aligner.pipeline import Alignment, align

FAKE = Path(__file__).with_name("fake_uci_engine.py")

# Black's second move is not told; the king that castles later needs f8 empty, so the bishop has moved. What comes after
# it is no opening theory, or that would say which move it was
GAP = "Pawn to e4 and pawn to e5. Knight to f3. And now bishop to b5. Pawn to a6, bishop to d3, knight to f6. " + (
    "White castles. Pawn to b5, knight to c3 and pawn to d6. Pawn to h3, and the black king castles short. "
    "Rook to e1 and rook to e8."
)
CAPTIONS = parse_captions(f"WEBVTT\n\n00:00.000 --> 00:30.000\n{GAP}\n", "invented.vtt")


@pytest.fixture(autouse=True)
def runs() -> None:
    if not os.access(FAKE, os.X_OK):
        FAKE.chmod(FAKE.stat().st_mode | stat.S_IXUSR)


def ended(pid: int) -> bool:
    """Whether a process is gone."""
    limit = time.monotonic() + 10
    while time.monotonic() < limit:
        if not Path(f"/proc/{pid}").exists():
            return True
        time.sleep(0.02)
    return False


def pid_of(engine: Engine) -> int:
    assert engine._engine is not None
    return int(engine._engine.transport.get_pid())


def unspoken(engine: Engine | None) -> list[tuple[str, float]]:
    game = align(CAPTIONS, engine=engine).games[0]
    node = next(node for node in game.nodes if node.source == "inferred" and node.main)
    assert node.ply == 4
    return [(node.san, node.confidence), *((one.san, one.confidence) for one in node.alternatives)]


def test_its_opinion_chooses_among_moves_that_nobody_spoke(monkeypatch: pytest.MonkeyPatch) -> None:
    without = unspoken(None)
    liked = without[-1][0]
    assert liked != without[0][0] and "B" in liked
    monkeypatch.setenv("FAKE_ENGINE_LIKES", f"f8{liked[1:].rstrip('+')}")
    weighed = unspoken(Engine(FAKE))
    assert weighed[0][0] == liked and weighed[0][1] > 5 * without[-1][1]
    assert {name for name, _ in weighed} == {name for name, _ in without}
    assert sum(share for _, share in weighed) == pytest.approx(sum(share for _, share in without), abs=0.001)


def test_the_opinions_are_pawns_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FAKE_ENGINE_LIKES", "e2e4")
    moves = [chess.Move.from_uci(uci) for uci in ("a2a3", "e2e4")]
    with Engine(FAKE) as engine:
        assert engine.losses(chess.Board(), moves) == {moves[0]: 9.0, moves[1]: 0.0}


def test_one_that_tells_of_one_move_only_is_of_use_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FAKE_ENGINE_LIKES", "e2e4")
    monkeypatch.setenv("FAKE_ENGINE_ALONE", "1")
    moves = [chess.Move.from_uci(uci) for uci in ("a2a3", "e2e4")]
    with Engine(FAKE) as engine:
        losses = engine.losses(chess.Board(), moves)
    assert losses[moves[1]] == 0.0 and losses[moves[0]] > 0.0


def test_it_is_bounded_asked_once_and_ended(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    log = tmp_path / "told.txt"
    monkeypatch.setenv("FAKE_ENGINE_LOG", str(log))
    engine = Engine(FAKE)
    ready = Alignment(CAPTIONS, engine=engine)
    first = ready.read()
    told = log.read_text(encoding="utf-8").splitlines()
    asked = [line for line in told if line.startswith("go ")]
    assert len(asked) == 1 and " movetime 500" in asked[0] and " nodes " in asked[0] and " searchmoves " in asked[0]
    assert told[-1] == "quit" and engine._engine is None
    assert ready.read().cost == first.cost  # what was found stays known
    assert sum(line.startswith("go ") for line in log.read_text(encoding="utf-8").splitlines()) == 1


@pytest.mark.parametrize("fault", ["silent", "dies", "mute"])
def test_one_that_fails_is_told_in_one_sentence_and_ended(monkeypatch: pytest.MonkeyPatch, fault: str) -> None:
    monkeypatch.setenv("FAKE_ENGINE_FAULT", fault)
    monkeypatch.setattr(engines, "ANSWERS_WITHIN", 2.0)
    monkeypatch.setattr(engines, "LEAVES_WITHIN", 0.3)
    engine = Engine(FAKE)
    pids: list[int] = []
    with pytest.raises(InputError) as caught:
        if fault == "mute":
            align(CAPTIONS, engine=engine)
        else:
            with engine:
                pids.append(pid_of(engine))
                engine.losses(chess.Board(), [chess.Move.from_uci("a2a3"), chess.Move.from_uci("e2e4")])
    assert str(FAKE) in str(caught.value) and "\n" not in str(caught.value)
    assert "name a program that speaks UCI" in str(caught.value)
    assert all(ended(pid) for pid in pids) and engine._engine is None


def test_the_command_takes_one_where_there_is_no_score(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    captions = tmp_path / "invented.vtt"
    captions.write_text(f"WEBVTT\n\n00:00.000 --> 00:30.000\n{GAP}\n", encoding="utf-8")
    monkeypatch.setenv("FAKE_ENGINE_LIKES", "f8c5")
    assert run(["align", str(captions), "-q", "--engine", str(FAKE)]) == 0
    assert "2... Bc5" in capsys.readouterr().out
    assert run(["doubts", str(captions), "-q"]) == 0
    assert "unspoken, before: bishop to b5" in capsys.readouterr().out
    assert run(["doubts", str(captions), "-q", "--engine", str(FAKE)]) == 0
    assert "unspoken" not in capsys.readouterr().out  # it is sure enough
    score = tmp_path / "invented.pgn"
    score.write_text("1. e4 e5 *", encoding="utf-8")
    for verb in ("align", "doubts"):
        assert run([verb, str(captions), "--game", str(score), "--engine", str(FAKE)]) == 2
        said = capsys.readouterr().err
        assert "no score" in said and "Traceback" not in said


def test_what_is_no_program_is_told(tmp_path: Path) -> None:
    text = tmp_path / "engine.txt"
    text.write_text("no program", encoding="utf-8")
    with pytest.raises(InputError, match="speaks UCI"):
        align(CAPTIONS, engine=engine_at(text))
    with pytest.raises(InputError, match="there is no such program"):
        engine_at(tmp_path / "none")
    assert engine_at(None) is None

"""A short invented talk, and the desk as a server in a process of its own."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

# invented: speaker, players and event
SENTENCES = (
    "White begins with pawn to e4",
    "and Black answers pawn to e5",
    "knight to f3 attacks the pawn",
    "knight to c6 defends it",
    "bishop to b5 is the oldest idea here",
    "the bishop takes aim at the knight",
    "and a6 asks the question",
    "if bishop takes c6 then d takes c6",
    "and now knight takes e5",
    "queen d4 wins the piece back",
    "but in the game bishop to a4",
    "knight f6 and White castles",
    "bishop e7 is quiet",
    "rook e1 and then b5",
    "bishop to b3 and d6",
    "that is all for today",
)
# Black's second move is not told; the king that castles later needs f8 empty, so it was the bishop's
GAP_SENTENCES = (
    "Pawn to e4 and pawn to e5. Knight to f3.",
    "And now bishop to b5. Pawn to a6, bishop to d3, knight to f6.",
    "White castles. Pawn to b5, knight to c3 and pawn to d6.",
    "Pawn to h3, and the black king castles short.",
    "Rook to e1 and rook to e8.",
)
SCORE = """[Event "Invented evening"]
[White "Orla Finch"]
[Black "Tomas Reed"]
[Result "*"]

1. e4 e5 2. Nf3 Nc6 3. Bb5 a6 4. Ba4 Nf6 5. O-O Be7 6. Re1 b5 7. Bb3 d6 *
"""


def captions_text(shift: float = 0.0, sentences: tuple[str, ...] = SENTENCES) -> str:
    """The talk as WebVTT, four seconds a sentence."""

    def stamp(seconds: float) -> str:
        return f"{int(seconds) // 60:02d}:{seconds % 60:06.3f}"

    cues = [f"{stamp(4 * n + shift)} --> {stamp(4 * n + 3.5 + shift)}\n{text}\n" for n, text in enumerate(sentences)]
    return "WEBVTT\n\n" + "\n".join(cues)


@dataclass
class Server:
    """A desk in a process of its own."""

    captions: Path
    arguments: list[str] = field(default_factory=list)
    scored: bool = True
    process: subprocess.Popen[str] | None = None
    address: str = ""

    def start(self) -> str:
        """Start it; returns the address of its page."""
        command = [sys.executable, "-m", "aligner", "desk", str(self.captions), "--no-browser", *self.arguments]
        if self.scored:
            command += ["--game", str(self.captions.with_suffix(".pgn"))]
        environment = {**os.environ, "PYTHONUTF8": "1"}
        self.process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, env=environment)
        assert self.process.stderr is not None
        line = self.process.stderr.readline()
        found = re.search(r"http://127\.0\.0\.1:\d+/[\w-]+/", line)
        assert found, line + self.process.stderr.read()
        self.address = found.group()
        return self.address

    def kill(self) -> None:
        """As a crash: SIGKILL."""
        assert self.process is not None
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(30)

    def ended(self, seconds: float = 20.0) -> int:
        """Its exit status, once it has ended by itself."""
        assert self.process is not None
        return self.process.wait(seconds)


def eventually(holds: Callable[[], object], seconds: float = 60.0) -> None:
    """Wait until something holds."""
    limit = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < limit, "this did not come about in time"
        time.sleep(0.05)

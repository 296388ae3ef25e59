"""Ten hours, 100,000 words in a cue, 3,000 nested variations, one move for ever, all of Unicode: bounded and quiet.

By default a tenth of each size (the nested variations in full); ALIGNER_LONG_TESTS=1 takes the full sizes. Time and
memory may grow no faster than the size, so a tenth tells.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parent
LONG = bool(os.environ.get("ALIGNER_LONG_TESTS"))

# full size, its share taken by default, seconds of processor time and MB allowed for the full size
CASES = [
    ("hours", 600, 0.1, 120, 900),
    ("one_cue", 100_000, 0.1, 120, 900),
    ("nested", 3_000, 1.0, 20, 400),
    ("one_move", 3_000, 0.02, 300, 900),
    ("unicode", 0x110000, 0.06, 120, 900),
]
_START = 4.0
"""Seconds that loading takes, whatever the size."""


@pytest.mark.parametrize(("name", "full", "share", "seconds", "memory"), CASES, ids=[case[0] for case in CASES])
def test_at_the_edge(name: str, full: int, share: float, seconds: float, memory: float) -> None:
    part = 1.0 if LONG else share
    command = [sys.executable, str(HERE / "extremes.py"), name, str(int(full * part))]
    done = subprocess.run(command, cwd=HERE.parents[1], capture_output=True, text=True, timeout=1800, check=False)
    assert done.returncode == 0 and "Traceback" not in done.stderr, done.stderr[-2000:]
    told = json.loads(done.stdout)
    assert "\n" not in told["outcome"]
    assert told["seconds"] <= _START + seconds * part, told
    assert told["memory"] <= memory, told

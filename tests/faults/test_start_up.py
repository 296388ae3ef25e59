"""The command is there at once, whatever verbs it has."""

from __future__ import annotations

import resource
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
HEAVY = {"spacy", "numpy", "chess", "rapidfuzz", "sqlalchemy", "distributed", "starlette", "jinja2", "multiprocessing"}
LOADED = "import sys; from aligner.cli.main import run; status = run(sys.argv[1:]); print('|', status, *sys.modules)"


USES = [["batch", "--help"], ["follow", "--help"], ["batch", "x", "-o", "y", "--shared"]]


@pytest.mark.parametrize("arguments", USES, ids=" ".join)
def test_the_verbs_for_archives_and_live_talks_load_nothing_heavy_to_explain_themselves(arguments: list[str]) -> None:
    command = [sys.executable, "-c", LOADED, *arguments]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    assert not HEAVY & set(done.stdout.rpartition("|")[2].split())


def test_help_takes_less_than_three_tenths_of_a_second() -> None:
    """Processor time, the best of five: other work on the machine is not the program's.

    A machine that takes long to load the library that reads the command line, typer, is given as much longer.
    """
    bare = min(_seconds("-c", "import typer.main") for _ in range(5))
    took = min(_seconds("-m", "aligner", "--help") for _ in range(5))
    assert took < max(0.3, 3.0 * bare), (took, bare)


def _seconds(*arguments: str) -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, *arguments], cwd=ROOT, capture_output=True, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

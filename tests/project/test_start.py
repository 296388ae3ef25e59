"""The command starts quickly because help and usage load nothing heavy."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
HEAVY = {"spacy", "numpy", "chess", "rapidfuzz", "webvtt", "rich", "jinja2"}
LOADED = "import sys; from aligner.cli.main import run; status = run(sys.argv[1:]); print('|', status, *sys.modules)"


@pytest.mark.parametrize("arguments", [["--help"], ["align", "--help"], ["--version"], ["align"], ["bogus"]])
def test_help_and_usage_load_nothing_heavy(arguments: list[str]) -> None:
    command = [sys.executable, "-c", LOADED, *arguments]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    modules = done.stdout.rpartition("|")[2].split()
    assert not HEAVY & set(modules)


def test_input_is_found_unusable_before_spacy_is_loaded() -> None:
    command = [sys.executable, "-c", LOADED, "align", "missing.vtt"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    status, *modules = done.stdout.rpartition("|")[2].split()
    assert status == "2" and "spacy" not in modules

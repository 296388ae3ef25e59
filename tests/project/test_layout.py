"""How the project is laid out: the top level, the rooms and which way they look, sizes, names."""

from __future__ import annotations

import ast
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "aligner"
MODULES = sorted(PACKAGE.rglob("*.py"))

TOP_LEVEL = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "aligner", "tests", "fixtures", "demo"}

# in the order of the data's way: a room may use those before it, never those after it
ROOMS = (
    "errors", "engine", "files", "collection", "progress", "prices", "captions", "openings", "speech", "search",
    "reconstruction", "record", "tree", "pgn", "page", "chapters", "notes", "pins", "errata", "games", "pipeline",
    "publish", "catalogue", "serve", "tune", "desk", "batch", "follow", "cli", "__main__",
)  # fmt: skip
VIEWS = ("pgn", "page", "chapters")
"""Rooms that make an output: a view of the record, which needs no second look at the captions."""

LONGEST_MODULE = 450
VAGUE_NAMES = {"utils", "util", "helpers", "helper", "manager", "misc", "common", "stuff"}


def room(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported_rooms(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names: list[str] = []
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports say where from in full"
            names = [node.module or ""]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        for name in names:
            package, _, rest = name.partition(".")
            if package == "aligner" and rest:
                yield rest.split(".")[0]


def repository_files() -> list[Path]:
    """Files of the project, those that are not committed yet included."""
    command = ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode:
        pytest.skip("this is no Git work tree")
    return [ROOT / name for name in done.stdout.split("\0") if name and (ROOT / name).is_file()]


def test_the_top_level_holds_only_what_belongs_there() -> None:
    top = {path.relative_to(ROOT).parts[0] for path in repository_files()}
    assert {name for name in top if not name.startswith(".")} <= TOP_LEVEL


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_rooms_look_only_the_way_the_data_goes(path: Path) -> None:
    here = room(path)
    if here == "__init__":
        assert not set(imported_rooms(path))
        return
    assert here in ROOMS, f"a new room: say in ROOMS where {here} stands"
    for other in set(imported_rooms(path)) - {here}:
        assert ROOMS.index(other) < ROOMS.index(here), f"{here} must not use {other}"
        if here in VIEWS:
            assert other in ("errors", "files", "openings", "record"), (
                f"{here} is a view of the record and must not use {other}"
            )


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_modules_are_short_named_for_what_they_hold_and_explained(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= LONGEST_MODULE
    assert path.stem not in VAGUE_NAMES
    if text.strip():
        assert ast.get_docstring(ast.parse(text)), "a module says in its docstring what it is for"


def test_nothing_names_the_machine_it_was_written_on() -> None:
    places = re.compile("|".join(map(re.escape, ("/wo" + "rk/", "/tm" + "p/", "/ro" + "ot/", "/ho" + "me/"))))
    for path in repository_files():
        if path.suffix in {".py", ".md", ".toml", ".sh", ".talk", ".vtt", ".json"} or path.name in ("run", "set-up"):
            found = places.search(path.read_text(encoding="utf-8", errors="replace"))
            assert found is None, f"{path}: {found}"


def test_no_marks_of_unfinished_work_are_left() -> None:
    marks = re.compile("|".join(("TO" + "DO", "FIX" + "ME", "XX" + "X")))
    for path in repository_files():
        if path.suffix in {".py", ".md", ".toml", ".sh"}:
            assert not marks.search(path.read_text(encoding="utf-8")), path

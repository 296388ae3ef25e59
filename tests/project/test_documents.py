"""README.md and DEVELOPERS.md say what is so."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
import typer.main

from aligner.cli.main import build

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def test_the_readme_begins_with_the_job() -> None:
    title, paragraph = README.split("\n\n")[:2]
    assert title == "# aligner"
    for word in ("captions", "score", "annotated game", "sidelines", "seconds"):
        assert word in paragraph


def test_the_readme_has_exactly_two_commands_to_set_up_and_run() -> None:
    blocks = re.findall(r"^```sh\n(.*?)^```$", README, re.DOTALL | re.MULTILINE)
    assert blocks == ["sh demo/run.sh\n", "sh tests/run.sh\n"]
    assert all((ROOT / block.split()[1]).is_file() for block in blocks)


def test_continuous_integration_runs_the_commands_of_the_readme() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "README.md" in script
    assert re.findall(r"^sh .*$", README, re.MULTILINE) == ["sh demo/run.sh", "sh tests/run.sh"]


def test_the_readme_lists_every_option_of_the_main_job() -> None:
    group = typer.main.get_command(build())
    options = {
        spelling
        for parameter in group.commands["align"].params  # type: ignore[attr-defined]
        if parameter.param_type_name == "option"
        for spelling in parameter.opts
        if spelling != "--help"
    }
    table = set(re.findall(r"`(--?[a-z-]+)", "\n".join(re.findall(r"^\| .*", README.split("## Use")[1], re.M))))
    assert options <= table
    assert table <= options | {"-o"}


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_paths_and_links_in_the_documents_exist(text: str) -> None:
    prose = re.sub(r"^```.*?^```$", "", text, flags=re.DOTALL | re.MULTILINE)
    named = re.findall(r"`((?:aligner|tests|demo|fixtures|\.ci)/[\w./-]*)`", prose) + re.findall(
        r"\]\(([^)#]+)\)", prose
    )
    assert named
    missing = [name for name in named if not (ROOT / name).exists()]
    assert not missing


def test_the_developers_document_maps_every_room() -> None:
    rooms = {path.stem for path in (ROOT / "aligner").iterdir() if path.suffix in ("", ".py")} - {
        "__init__",
        "__main__",
    }
    rooms -= {"__pycache__", "py"}
    missing = [room for room in sorted(rooms) if not re.search(rf"`aligner/{room}(?:/|\.py)?`", DEVELOPERS)]
    assert not missing


def test_the_licence_is_the_gnu_general_public_licence() -> None:
    """python-chess is GPL-3.0-or-later (its package metadata), so what is built on it is too."""
    licence = (ROOT / "LICENSE").read_text(encoding="utf-8")
    assert licence.split("\n\n")[0].split() == [
        "GNU",
        "GENERAL",
        "PUBLIC",
        "LICENSE",
        "Version",
        "3,",
        "29",
        "June",
        "2007",
    ]
    assert PROJECT["license"] == "GPL-3.0-or-later" and PROJECT["license-files"] == ["LICENSE"]


def test_every_dependency_has_a_lower_bound() -> None:
    assert all(">=" in requirement for requirement in PROJECT["dependencies"])
    assert PROJECT["requires-python"] == ">=3.11"

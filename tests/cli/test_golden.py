"""The demo is what it claims to be, and gives its fixed outputs; `python tests/cli/golden.py` makes them again."""

from __future__ import annotations

import io
import json
from pathlib import Path

import chess
import chess.pgn
import golden
import pytest

EXPECTED = golden.DEMO / "expected"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """File name to text of what the main job makes of the demo now."""
    folder = tmp_path_factory.mktemp("demo")
    done = golden.align_demo(folder)
    assert done.returncode == 0, done.stderr
    files = {path.name: path.read_text(encoding="utf-8") for path in folder.iterdir()}
    return {**files, f"{golden.NAME}.summary.txt": done.stderr}


def test_the_demo_is_compiled_from_its_script() -> None:
    for name, text in golden.compiled().items():
        assert (golden.DEMO / name).read_text(encoding="utf-8") == text, f"{name}: run tests/cli/golden.py"


def test_the_demo_is_a_short_talk_with_deep_sidelines_and_three_slips() -> None:
    truth = json.loads((golden.DEMO / f"{golden.NAME}.truth.json").read_text(encoding="utf-8"))
    assert 750 <= truth["words"] <= 900 and 270 <= truth["seconds"] <= 330
    assert sum(mention["kind"] == "slip" for mention in truth["mentions"]) == 3
    board = chess.Board()
    for move in truth["main"]:
        board.push_uci(move)
    assert board.is_checkmate()
    assert truth["main"] == [move.uci() for move in score().mainline_moves()]


def score() -> chess.pgn.Game:
    with open(golden.DEMO / f"{golden.NAME}.pgn", encoding="utf-8") as file:
        game = chess.pgn.read_game(file)
    assert game is not None
    return game


@pytest.mark.parametrize("ending", ["pgn", "json", "summary.txt"])
def test_the_outputs_are_the_fixed_ones(made: dict[str, str], ending: str) -> None:
    name = f"{golden.NAME}.{ending}"
    assert made[name] == (EXPECTED / name).read_text(encoding="utf-8"), "run tests/cli/golden.py, look at the diff"


def test_the_fixed_pgn_holds_the_tree_of_the_fixed_record() -> None:
    """Read back with python-chess, the reference for PGN and legality: no error, the same moves at the same places."""
    game = chess.pgn.read_game(io.StringIO((EXPECTED / f"{golden.NAME}.pgn").read_text(encoding="utf-8")))
    assert game is not None and not game.errors
    assert [move.uci() for move in game.mainline_moves()] == [move.uci() for move in score().mainline_moves()]
    record = json.loads((EXPECTED / f"{golden.NAME}.json").read_text(encoding="utf-8"))
    nodes = {node["id"]: node for node in record["games"][0]["nodes"]}

    def way(node: dict[str, object]) -> tuple[object, ...]:
        parent = node["parent"]
        return () if parent is None else (*way(nodes[parent]), node["uci"])

    def ways(node: chess.pgn.GameNode, before: tuple[str, ...] = ()) -> set[tuple[object, ...]]:
        found: set[tuple[object, ...]] = {before}
        for child in node.variations:
            found |= ways(child, (*before, child.move.uci()))
        return found

    assert ways(game) == {way(node) for node in nodes.values()}


def test_the_readme_shows_what_its_commands_print() -> None:
    assert golden.run_example() == golden.example(), "run tests/cli/golden.py"
    assert Path(golden.README).read_text(encoding="utf-8").count("```console") == 1

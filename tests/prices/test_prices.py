"""The price file: sums, the default, and what a bad file is told."""

from __future__ import annotations

import math
import tomllib
from importlib import resources
from pathlib import Path

import pytest

from aligner.errors import InputError
from aligner.prices.prices import MODES, Prices, read_prices


def test_a_cost_is_the_sum_of_prices_times_amounts() -> None:
    prices = Prices({"a": 2.0, "b": -0.5})
    assert prices.cost([]) == 0.0
    assert prices.cost([("a", 1.0), ("b", 3.0), ("a", 0.5)]) == 1.5
    assert prices.cost([("unknown", 100.0)]) == 0.0


@pytest.mark.parametrize("mode", MODES)
def test_the_default_is_complete_and_finite(mode: str) -> None:
    prices = read_prices(None, mode)
    assert len(prices.table) > 100 and prices.sharpness > 0
    assert all(math.isfinite(price) for price in prices.table.values())
    assert read_prices(None, mode) is prices


@pytest.mark.parametrize("mode", MODES)
def test_the_default_prices_speak_of_the_kinds_there_are(mode: str) -> None:
    table = read_prices(None, mode).table
    kinds = {"return", "leave", "line", "alternative", "earlier", "again"} | ({"game"} if mode == "score" else {"open"})
    assert {f"kind.{kind}" for kind in kinds} <= table.keys()


def test_a_file_of_ones_own(tmp_path: Path) -> None:
    file = tmp_path / "prices.toml"
    file.write_text('[score]\nsharpness = 2\n[score.price]\n"slip.file" = 3\n', encoding="utf-8")
    assert read_prices(file, "score") == Prices({"slip.file": 3.0}, 2.0)


def test_a_file_from_before_a_mode_takes_the_defaults_for_it(tmp_path: Path) -> None:
    file = tmp_path / "prices.toml"
    file.write_text('[game]\nsharpness = 2\n[game.price]\n"slip.file" = 3\n', encoding="utf-8")
    assert read_prices(file, "exchange") is read_prices(None, "exchange")


@pytest.mark.parametrize("text", [
    "", "[talk]\n", "[score]\nsharpness = 1\n", "[score]\nsharpness = 'x'\n[score.price]\n", "not toml at all [",
    "score = 3", "[score]\nsharpness = 1\n[score.price]\n'a' = 'dear'\n", "[score]\nsharpness = 1\nprice = [1]\n",
])  # fmt: skip
def test_what_is_no_price_file_is_told_in_one_sentence(tmp_path: Path, text: str) -> None:
    file = tmp_path / "prices.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_prices(file, "score")
    assert str(file) in str(caught.value) and "\n" not in str(caught.value)


def test_a_missing_file_or_a_folder_is_told(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(InputError, match="can't be read"):
            read_prices(path, "score")


def test_bytes_that_are_no_text_are_told(tmp_path: Path) -> None:
    file = tmp_path / "prices.toml"
    file.write_bytes(b"\xff\xfe\x00[")
    with pytest.raises(InputError):
        read_prices(file, "score")


@pytest.mark.parametrize("value", ["nan", "inf", "-inf"])
def test_a_price_is_finite(tmp_path: Path, value: str) -> None:
    """TOML 1.0 allows inf and nan as floats; no search can add them up."""
    file = tmp_path / "prices.toml"
    file.write_text(f'[score]\nsharpness = 1\n[score.price]\n"a" = {value}\n', encoding="utf-8")
    with pytest.raises(InputError):
        read_prices(file, "score")


def test_a_mode_of_the_default_is_read_as_the_whole_file_says_it() -> None:
    file = resources.files("aligner.prices") / "default.toml"
    whole = tomllib.loads(file.read_text(encoding="utf-8"))
    for mode in MODES:
        prices = read_prices(None, mode)
        assert dict(prices.table) == whole[mode]["price"] and prices.sharpness == whole[mode]["sharpness"]

"""Personal prices: they learn what settled talks show, and are written only where they help."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "pins"))
from settled_talks import SENTENCES, pin, talk

from aligner.cli.main import run
from aligner.pins.pin import NO_MOVE
from aligner.prices.fitting import Slope, fit, prices_text
from aligner.prices.prices import MODES, Prices, read_prices
from aligner.tune.settled_talk import SettledTalk
from aligner.tune.tuning import tune


class Bowl:
    """A lesson whose loss is half the squared distance from a price of 3 nats."""

    def slope(self, prices: Prices) -> Slope:
        away = prices.table["depth"] - 3.0
        return Slope({"depth": away}, away * away / 2, 1)


def test_fitting_finds_the_least_loss_and_the_pull_holds_it_back() -> None:
    # the least of (x-3)^2/2 + pull*(x-1)^2/2 lies at (3 + pull) / (1 + pull)
    free = fit([Bowl()], {"depth": 1.0}, 600, pull=0.0)
    assert free["depth"] == pytest.approx(3.0, abs=0.02)
    held = fit([Bowl()], {"depth": 1.0}, 600, pull=1.0)
    assert held["depth"] == pytest.approx(2.0, abs=0.02)


def test_a_price_file_is_read_back(tmp_path: Path) -> None:
    prices = {mode: read_prices(None, mode) for mode in MODES}
    path = tmp_path / "mine.toml"
    path.write_text(prices_text(prices, "mine"), encoding="utf-8")
    for mode in MODES:
        again = read_prices(path, mode)
        assert again.sharpness == prices[mode].sharpness
        kept = {name: value for name, value in prices[mode].table.items() if abs(value) >= 0.0005}
        assert again.table == pytest.approx(kept, abs=0.0006)


def test_what_is_settled_is_followed_and_learnt() -> None:
    # a speaker of whom "queen d4" is never a move: an invented habit
    lessons = []
    for shift in (0.0, 5.0):
        alignment = talk(shift=shift)
        lessons.append(SettledTalk(f"talk {shift}", alignment, [pin(alignment, "queen d4", NO_MOVE)]))
    default = read_prices(None, "score")
    first = lessons[0].slope(default)
    assert first.windows > first.lost and first.loss > 0
    result = tune(lessons, default, rounds=4)
    assert result.after.loss < result.before.loss and result.helps
    assert lessons[0].slope(result.prices).loss < first.loss


def test_nothing_is_written_where_it_does_not_help(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "mine.toml"
    assert run(["tune", str(tmp_path), "-o", str(target)]) == 2
    assert "settled" in capsys.readouterr().err
    assert run(["tune", str(tmp_path / "nowhere"), "-o", str(target)]) == 2
    capsys.readouterr()
    cue = "00:01.000 --> 00:04.000\n" + " and ".join(SENTENCES[:3])
    (tmp_path / "one.vtt").write_text(f"WEBVTT\n\n{cue}\n", encoding="utf-8")
    decision = '[[settled]]\nat = 1\nwords = "pawn to e4"\nas = "no move"\n'
    (tmp_path / "one.settled.toml").write_text(decision, encoding="utf-8")
    assert run(["tune", str(tmp_path), "-o", str(target)]) == 0
    said = capsys.readouterr().err
    assert "held out" in said and "nothing is written" in said
    assert not target.exists()

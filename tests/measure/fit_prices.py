"""Fit the prices on talks with truth: `python tests/measure/fit_prices.py TALKS... [-o aligner/prices/default.toml]`.

The model is log-linear; a window of a talk is searched freely and again along the truth, and prices move so that the
true way becomes the likelier one (learning as search optimisation, Daumé and Marcu 2005, with the softmax of
globally normalised beams, Andor et al. 2016). Prices are pulled towards the starting ones, so that a term that the
talks hardly show keeps its common-sense price. Talks under fixtures/talks/judge are never given to this script.
"""

from __future__ import annotations

import argparse
import sys
import tomllib
from collections import defaultdict
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from statistics import fmean

import chess
from fit_plies import fit_plies
from truth import Oracle, Talk, read_talk

from aligner.prices.fitting import Slope, fit, prices_text
from aligner.prices.prices import MODES, Prices, read_prices
from aligner.search.beam import Beam
from aligner.search.breadth import BOUNDLESS
from aligner.search.evidence import agreement
from aligner.search.lattice import contrast
from aligner.search.lines import Lines
from aligner.search.options import Options
from aligner.search.order import in_order
from aligner.search.plies import AT_A_GLANCE
from aligner.search.state import State

WINDOW = 24


class Lesson:
    """One talk in one mode, with the truth walked through once per round."""

    def __init__(self, talk: Talk, mode: str, table: dict[str, float]) -> None:
        self.talk = talk
        self.mode = mode
        lines = Lines(chess.Board(talk.start_fen), talk.main if mode == "score" else ())
        cast = agreement(talk.speech, talk.start_fen, talk.main).cast
        self.speech = talk.speech
        if mode == "talk":
            cast = {"white": True, "black": False}
        else:
            self.speech = in_order(talk.speech, talk.start_fen, talk.main, table)
        self.options = Options(lines, Prices(table), cast)
        self.oracle = Oracle(talk, lines)

    def true_states(self) -> dict[int, State]:
        """A state on the true way at the beginning of each window, fresh where the truth cannot be followed."""
        found: dict[int, State] = {}
        stretches = len(self.speech.stretches)
        at, state = 0, self._fresh(0)
        while at < stretches:
            found[at] = state
            end = min(at + WINDOW, stretches)
            beam = Beam(self.speech, self.options, BOUNDLESS, self.oracle.allows)
            ends = beam.run(at, end, [State(state.cursor, state.head, state.focus, state.trail, 0.0)])
            state = ends[0] if ends else self._fresh(end)
            if end < stretches:
                cursor, head = self.oracle.place(end)
                if state.cursor is not cursor or state.head is not head:
                    state = self._fresh(end)
            state = State(state.cursor, state.head, state.focus, state.trail, 0.0)
            at = end
        return found

    def _fresh(self, at: int) -> State:
        if at >= len(self.speech.stretches):
            return State(self.options.lines.root, self.options.lines.root, None, (), 0.0)
        cursor, head = self.oracle.place(at)
        return State(cursor, head, None, (), 0.0)

    def slope(self, prices: Prices) -> Slope:
        """What the talk says of prices (`aligner.prices.fitting.Lesson`)."""
        self.options.reprice(prices)
        slope: dict[str, float] = defaultdict(float)
        loss, windows, lost = 0.0, 0, 0
        stretches = len(self.speech.stretches)
        strayed: State | None = None
        for at, state in self.true_states().items():
            end = min(at + WINDOW, stretches)
            begins = [state]
            if strayed is not None and (strayed.cursor is not state.cursor or strayed.head is not state.head):
                begins.append(strayed)  # so that prices learn to find back too
            for begin in begins:
                self.oracle.astray = None if begin is state else begin.cursor
                true = Beam(self.speech, self.options, BOUNDLESS, self.oracle.allows).run(at, end, [_again(begin)])
                self.oracle.astray = None
                windows += 1
                if not true:
                    lost += 1
                    strayed = None
                    continue
                free = Beam(self.speech, self.options).run(at, end, [_again(begin)])
                strayed = free[0]
                found, short = contrast(true, free)
                loss += short
                for name, amount in found.items():
                    slope[name] += amount
        return Slope(slope, loss, windows, lost)


def _again(state: State) -> State:
    """The same place, without the way that led there."""
    return State(state.cursor, state.head, state.focus, state.trail, 0.0)


def put_prices(path: Path, mode: str, table: Mapping[str, float], talks: int) -> None:
    """Put the prices of one mode into a price file; those of the other modes stay."""
    source = path if path.exists() else None
    tables = {each: read_prices(source, each) for each in MODES}
    tables[mode] = Prices(table, tables[mode].sharpness)
    heading = "Prices in nats, written by the fitting scripts in tests/measure; do not edit by hand."
    path.write_text(prices_text(tables, f"{heading} Mode {mode!r} last, on {talks} talks."), encoding="utf-8")


def between(start: Mapping[str, float], fitted: Mapping[str, float], share: float) -> dict[str, float]:
    """Prices part of the way from one table to another.

    Windows begin on the true way, so fitting does not see what it costs to go astray; of talks not fitted on, those
    half way are read best.
    """
    names = start.keys() | fitted.keys()
    return {name: (1 - share) * start.get(name, 0.0) + share * fitted.get(name, 0.0) for name in names}


def going_on(base: dict[str, float], file: Path | None, mode: str, only: tuple[str, ...]) -> dict[str, float]:
    """The starting prices, or those of a file; there only terms that may move are added to it, where some may not."""
    if file is None:
        return base
    new = {name: price for name, price in base.items() if not only or name.startswith(only)}
    return {**new, **tomllib.loads(file.read_text(encoding="utf-8"))[mode]["price"]}


def told(number: int, loss: float) -> None:
    """A line after each round."""
    print(f"round {number}: loss {loss:.3f} nats a window", file=sys.stderr, flush=True)


def halves(files: Sequence[Path], splits: int) -> list[list[Path]]:
    """Both halves of the talks for each of the ways to split them, as the binary digits of their places say."""
    return [
        [file for place, file in enumerate(files, 1) if place >> split & 1 == side]
        for split in range(splits)
        for side in (0, 1)
    ]


def mean(tables: Sequence[Mapping[str, float]], start: Mapping[str, float]) -> dict[str, float]:
    """The mean of each price over some fits; a term that a fit never met keeps its starting price there."""
    names = {name for table in tables for name in table}
    return {name: fmean(table.get(name, start.get(name, 0.0)) for table in tables) for name in names}


def beginning(talks: Sequence[Talk], mode: str, start: Path | None, only: tuple[str, ...]) -> dict[str, float]:
    """The prices that a fit begins with."""
    plies, cost = fit_plies(talks, AT_A_GLANCE)
    print(f"plies: a played move costs {cost:.2f} nats", file=sys.stderr)
    common = tomllib.loads((Path(__file__).parent / "start_prices.toml").read_text(encoding="utf-8"))
    return going_on({**common["both"], **plies, **common[mode]}, start, mode, only)


def fitted_on(
    files: Sequence[Path], mode: str, base: dict[str, float], rounds: int, only: tuple[str, ...], unseen: Path
) -> dict[str, float]:
    """Prices fitted on some talks."""
    talks = [read_talk(file, unseen) for file in files]
    lessons = [Lesson(talk, mode, base) for talk in talks if mode == "talk" or talk.main]
    return fit(lessons, base, rounds, only=only, told=told)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("talks", nargs="+", type=Path)
    parser.add_argument("-o", "--output", type=Path, default=Path("aligner/prices/default.toml"))
    parser.add_argument("--from", dest="start", type=Path, help="a price file to go on from")
    parser.add_argument("--unseen", type=Path, required=True, help="leanings of fit_leanings.py that know no talk")
    parser.add_argument("--rounds", type=int, default=6)
    parser.add_argument("--share", type=float, default=0.5, help="how far to go from the starting prices, 1 is whole")
    parser.add_argument("--splits", type=int, default=0, help="fit on halves, split in so many ways; take the mean")
    parser.add_argument("--modes", default="score,talk")
    parser.add_argument("--only", nargs="*", default=[], help="beginnings of the terms whose prices may move")
    arguments = parser.parse_args()
    files = [f for path in arguments.talks for f in (sorted(path.glob("*.talk")) if path.is_dir() else [path])]
    only = tuple(arguments.only)
    talks = [read_talk(file) for file in files]
    for mode in arguments.modes.split(","):
        base = beginning(talks, mode, arguments.start, only)
        work = partial(fitted_on, mode=mode, base=base, rounds=arguments.rounds, only=only, unseen=arguments.unseen)
        with ProcessPoolExecutor() as pool:
            fits = list(pool.map(work, halves(files, arguments.splits) or [files]))
        put_prices(arguments.output, mode, between(base, mean(fits, base), arguments.share), len(files))


if __name__ == "__main__":
    main()

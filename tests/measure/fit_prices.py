"""Fit the prices on talks with truth: `python tests/measure/fit_prices.py TALKS... [-o aligner/prices/default.toml]`.

The model is log-linear; a window of a talk is searched freely and again along the truth, and prices move so that the
true way becomes the likelier one (learning as search optimisation, Daumé and Marcu 2005, with the softmax of
globally normalised beams, Andor et al. 2016). Prices are pulled towards the starting ones, so that a term that the
talks hardly show keeps its common-sense price. Talks under fixtures/talks/judge are never given to this script.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
import tomllib
from collections import defaultdict
from collections.abc import Callable
from math import exp, log, log1p, sqrt
from pathlib import Path

import chess
from fit_plies import fit_plies
from truth import Oracle, Talk, read_talk

from aligner.prices.prices import Prices
from aligner.search.beam import Beam, weights
from aligner.search.evidence import agreement
from aligner.search.lines import Lines
from aligner.search.options import Options
from aligner.search.state import State

WIDTH, DEPTH = 10, 8.0
WINDOW = 14
STEP, PULL = 0.25, 0.004


class Lesson:
    """One talk in one mode, with the truth walked through once per round."""

    def __init__(self, talk: Talk, mode: str, table: dict[str, float]) -> None:
        self.talk = talk
        self.mode = mode
        lines = Lines(chess.Board(talk.start_fen), talk.main if mode == "score" else ())
        cast = agreement(talk.speech, talk.start_fen, talk.main).cast
        if mode == "talk":
            cast = {"white": True, "black": False}
        self.options = Options(lines, Prices(table), cast)
        self.oracle = Oracle(talk, lines)

    def true_states(self) -> dict[int, State]:
        """A state on the true way at the beginning of each window, fresh where the truth cannot be followed."""
        found: dict[int, State] = {}
        stretches = len(self.talk.speech.stretches)
        at, state = 0, self._fresh(0)
        while at < stretches:
            found[at] = state
            end = min(at + WINDOW, stretches)
            beam = Beam(self.talk.speech, self.options, WIDTH, 99.0, self.oracle.allows)
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
        if at >= len(self.talk.speech.stretches):
            return State(self.options.lines.root, self.options.lines.root, None, (), 0.0)
        cursor, head = self.oracle.place(at)
        return State(cursor, head, None, (), 0.0)

    def gradient(self) -> tuple[dict[str, float], float, int, int]:
        """Expected terms of the truth less expected terms, summed; the loss in nats; windows; lost windows."""
        slope: dict[str, float] = defaultdict(float)
        loss, windows, lost = 0.0, 0, 0
        stretches = len(self.talk.speech.stretches)
        for at, state in self.true_states().items():
            end = min(at + WINDOW, stretches)
            true = Beam(self.talk.speech, self.options, WIDTH, 99.0, self.oracle.allows).run(at, end, [_again(state)])
            windows += 1
            if not true:
                lost += 1
                continue
            free = Beam(self.talk.speech, self.options, WIDTH, DEPTH).run(at, end, [_again(state)])
            expected, z_true = _expected(true)
            other, z_free = _expected(free)
            # the free beam may have lost the true way; then its sum is added as a rival
            z_all = max(z_true, z_free) + log1p(exp(-abs(z_true - z_free))) if z_true > z_free else z_free
            share_free = exp(z_free - z_all)
            loss += max(z_all - z_true, 0.0)
            for name, amount in expected.items():
                slope[name] += amount - amount * (1.0 - share_free)
            for name, amount in other.items():
                slope[name] -= amount * share_free
        return slope, loss, windows, lost


def _again(state: State) -> State:
    """The same place, without the way that led there."""
    return State(state.cursor, state.head, state.focus, state.trail, 0.0)


def _expected(ends: list[State]) -> tuple[dict[str, float], float]:
    """Expected amounts of terms over the surviving ways, and the log of their sum."""
    sums: dict[str, float] = defaultdict(float)
    for _, _, decision, share in weights(ends):
        for name, amount in decision.terms:
            sums[name] += share * amount
    return sums, _log_sum_of(ends)


def _log_sum_of(ends: list[State]) -> float:
    forward: dict[int, float] = {}

    def value(state: State) -> float:
        stack = [state]
        while stack:
            top = stack[-1]
            if id(top) in forward:
                stack.pop()
                continue
            missing = [before for before, _ in top.arcs if id(before) not in forward]
            if missing:
                stack += missing
                continue
            values = [forward[id(before)] - decision.cost for before, decision in top.arcs] or [-top.cost]
            peak = max(values)
            forward[id(top)] = peak + log(sum(exp(v - peak) for v in values))
            stack.pop()
        return forward[id(state)]

    values = [value(end) for end in ends]
    peak = max(values)
    return peak + log(sum(exp(v - peak) for v in values))


def fit(
    lessons: list[Lesson],
    start: dict[str, float],
    rounds: int,
    report: bool = True,
    checkpoint: Callable[[dict[str, float]], None] | None = None,
) -> dict[str, float]:
    """Prices after so many rounds over the lessons (adaptive steps, Duchi et al. 2011; averaged over the last half)."""
    table = dict(start)
    squares: dict[str, float] = defaultdict(lambda: 1.0)
    total: dict[str, float] = defaultdict(float)
    counted = 0
    order = random.Random(1)
    for number in range(rounds):
        began, loss, windows, lost = time.time(), 0.0, 0, 0
        for lesson in order.sample(lessons, len(lessons)):
            lesson.options.reprice(Prices(table))
            slope, more, count, gone = lesson.gradient()
            loss, windows, lost = loss + more, windows + count, lost + gone
            for name, value in slope.items():
                value += PULL * count * (table.get(name, 0.0) - start.get(name, 0.0))
                squares[name] += value * value
                table[name] = table.get(name, 0.0) - STEP * value / sqrt(squares[name])
        if number >= rounds // 2:
            counted += 1
            for name, value in table.items():
                total[name] += value
        write = checkpoint is not None and counted
        if write:
            checkpoint({name: value / counted for name, value in total.items()})
        if report:
            print(
                f"round {number + 1}: loss {loss / max(windows, 1):.3f} nats a window, "
                f"{lost} of {windows} windows off the truth, {time.time() - began:.0f} s",
                file=sys.stderr,
            )
    return {name: value / counted for name, value in total.items()}


def write_prices(path: Path, tables: dict[str, dict[str, float]], sharpness: dict[str, float], note: str) -> None:
    """The price file."""
    lines = ["# Prices in nats, written by tests/measure/fit_prices.py; do not edit by hand.", f"# {note}", ""]
    for mode, table in tables.items():
        lines += [f"[{mode}]", f"sharpness = {sharpness[mode]:.3f}", "", f"[{mode}.price]"]
        lines += [f'"{name}" = {value:.3f}' for name, value in sorted(table.items()) if abs(value) >= 0.0005]
        lines.append("")
    path.write_text("\n".join(lines), encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("talks", nargs="+", type=Path)
    parser.add_argument("-o", "--output", type=Path, default=Path("aligner/prices/default.toml"))
    parser.add_argument("--rounds", type=int, default=12)
    parser.add_argument("--modes", default="score,talk")
    arguments = parser.parse_args()
    files = [f for path in arguments.talks for f in (sorted(path.glob("*.talk")) if path.is_dir() else [path])]
    talks = [read_talk(file) for file in files]
    start = tomllib.loads((Path(__file__).parent / "start_prices.toml").read_text(encoding="utf-8"))
    tables, sharpness = {}, {}
    plies, cost = fit_plies(talks)
    print(f"plies: a played move costs {cost:.2f} nats", file=sys.stderr)
    known = arguments.output if arguments.output.exists() else Path("aligner/prices/default.toml")
    old = tomllib.loads(known.read_text())
    for mode in ("score", "talk"):
        base = {**start["both"], **plies, **start[mode]}
        if mode not in arguments.modes.split(","):
            tables[mode], sharpness[mode] = old[mode]["price"], old[mode]["sharpness"]
            continue
        lessons = [Lesson(talk, mode, base) for talk in talks if mode == "talk" or talk.main]
        tables[mode] = fit(lessons, base, arguments.rounds)
        sharpness[mode] = 1.0
        write_prices(
            arguments.output,
            {**{m: base for m in ("score", "talk")}, **tables},
            {"score": 1.0, "talk": 1.0, **sharpness},
            f"Fitted on {len(talks)} talks.",
        )
    write_prices(arguments.output, tables, sharpness, f"Fitted on {len(talks)} talks.")


if __name__ == "__main__":
    main()

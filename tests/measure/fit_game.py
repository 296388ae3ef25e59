"""Fit the prices by which a game is found in a talk without a score: `python tests/measure/fit_game.py TALKS...`.

`--mode exchange` fits those with which captures are worked out to their end, instead of those for a glance.

As in fit_prices.py a window of a talk is searched freely and again along the truth. The truth is only how far the
game has come at each moment; how the sidelines explain the rest is left open, and summed over. Run fit_trust.py after
it: the trust in a game depends on the prices that it was found with.
"""

from __future__ import annotations

import argparse
import sys
import tomllib
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path

import chess
from fit_plies import fit_plies
from fit_prices import between, going_on, halves, mean, put_prices, told
from truth import Oracle, Talk, read_talk

from aligner.prices.fitting import Slope, fit
from aligner.prices.prices import Prices
from aligner.reconstruction.breadth import Alike, Breadth
from aligner.reconstruction.found import VALUATIONS
from aligner.reconstruction.hypothesis import Hypothesis, Step
from aligner.reconstruction.search import GameSearch
from aligner.reconstruction.steps import Steps
from aligner.search.evidence import agreement
from aligner.search.fits import Fits
from aligner.search.lattice import contrast
from aligner.search.lines import LineNode, Lines
from aligner.search.plies import Valuation

BREADTH = Breadth(32, 9.0, (Alike(0, 4), Alike(4, 24)), 6)
STRAIGHT = replace(BREADTH, depth=99.0)
WINDOW = 24
SOON_CORRECTED = 40
"""Words after a misnamed move within which its speaker may take it back."""
AROUND = ("by.", "ago.", "next.", "near.", "far.", "past.", "said.", "then.", "after.", "apart.", "comma", "pause",
          "article", "preposition", "past_tense")  # fmt: skip
"""Beginnings of the signs of what stands around a phrase, which its leaning is made of too."""
FIXED = ("amend", "gap_theory", "leave_start", "ply.", "promote", "retract")
"""Prices that windows on the true way tell nothing of, or too little; start_prices.toml says what they rest on."""

RARE = "told_ply.theory_rare"
"""The price of a game move that is told and is a rare one of theory."""
RARE_KEPT = 0.7
"""How much of its fitted price is kept. Those who invent talks choose well-known openings, people who play do not:
in recordings that were not written for us the whole price loses games (FINDINGS.md, Openings and statements)."""


class Lesson:
    """One talk, with how far the game has come at each stretch."""

    def __init__(self, talk: Talk, table: dict[str, float], valuation: Valuation) -> None:
        self.talk = talk
        self.lines = Lines(chess.Board(talk.start_fen), ())
        cast = agreement(talk.speech, talk.start_fen, talk.main).cast
        self.fits = Fits(self.lines, Prices(table), cast, valuation)
        oracle = Oracle(talk, self.lines)
        self.main = oracle.main
        self.course = {node.number: after for node, after in zip(self.main, self.main[1:], strict=False)}
        self.steps = Steps(self.fits, Prices(table), course=self.course)
        speech = talk.speech
        words = [speech.tokens[stretch.start].word for stretch in speech.stretches]
        self.least = [oracle.place(at)[1].ply for at in range(len(words))]
        self.most = []
        begun = sorted((m[0], max(self._ply(node) for node in m[3])) for m in oracle.mentions if m[2] != "again")
        starts = [first for first, _ in begun]
        reached = 0
        place = 0
        for word in words:
            for _, ply in begun[place : bisect_left(starts, word)]:
                reached = max(reached, ply)
            place = bisect_left(starts, word)
            self.most.append(reached)
        last = max([reached, *[ply for _, ply in begun]], default=0)
        self.least.append(last)
        self.most.append(last)
        self.words = [*words, len(speech.words) + 1]
        self.mistaken = self._mistaken(oracle)
        self.astray: LineNode | None = None  # where the game may stand besides, until the search has found back

    def _ply(self, node: LineNode) -> int:
        return node.ply if node.ply < len(self.main) and self.main[node.ply] is node else 0

    def _mistaken(self, oracle: Oracle) -> dict[tuple[int, chess.Move], tuple[int, int]]:
        """What was said instead of a move of the game and taken back: (node's number, move) with the words' range."""
        speech = self.talk.speech
        found: dict[tuple[int, chess.Move], tuple[int, int]] = {}
        for first, past, kind, nodes in oracle.mentions:
            before = nodes[-1].parent
            if kind != "slip" or not self._ply(nodes[-1]) or before is None:
                continue
            again = [m[1] for m in oracle.mentions if m[2] == "again" and m[3][-1] is nodes[-1] and m[0] >= past]
            if not again or again[0] > past + SOON_CORRECTED:
                continue
            for stretch in speech.stretches:
                for spoken in stretch.spoken:
                    begin, end = speech.span(spoken.phrase)
                    if begin < past and first < end:
                        for move, _, _ in self.fits.fits(before, spoken):
                            found[before.number, move] = (first, again[0])
        return found

    def allows(self, target: int, _: Hypothesis, __: Step | None, head: LineNode) -> bool:
        """Whether the game has come so far."""
        if head is self.astray:
            return True
        mistaken = None
        if head.parent is not None and head.move is not None:
            mistaken = self.mistaken.get((head.parent.number, head.move))
        if mistaken is not None and mistaken[0] < self.words[target] <= mistaken[1] + 1:
            return True
        return (
            self.least[target] <= head.ply <= max(self.most[target], self.least[target]) and self.main[head.ply] is head
        )

    def slope(self, prices: Prices) -> Slope:
        """What the talk says of prices (`aligner.prices.fitting.Lesson`)."""
        self.fits.reprice(prices)
        self.steps = Steps(self.fits, prices, course=self.course)
        slope: dict[str, float] = defaultdict(float)
        loss, windows, lost = 0.0, 0, 0
        speech = self.talk.speech
        stretches = len(speech.stretches)
        at, one = 0, self._fresh(0)
        strayed: Hypothesis | None = None
        while at < stretches:
            end = min(at + WINDOW, stretches)
            following: Hypothesis | None = None
            for begin in (one, strayed):
                if begin is None:
                    continue
                self.astray = begin.head if begin is strayed else None  # so that prices learn to find back too
                true = GameSearch(speech, self.steps, STRAIGHT, self.allows).run(at, end, [_again(begin)])
                windows += 1
                if begin is strayed:
                    true = [found_back for found_back in true if found_back.head is not self.astray]
                self.astray = None
                if not true:
                    lost += 1
                    continue
                free = GameSearch(speech, self.steps, BREADTH).run(at, end, [_again(begin)])
                found, short = contrast(true, free)
                loss += short
                for name, amount in found.items():
                    if not name.startswith(FIXED):
                        slope[name] += amount
                if begin is one:
                    following = _again(true[0])
                    strayed = None if self.allows(end, free[0], None, free[0].head) else _again(free[0])
            if following is None:
                strayed = None
                at, one = self._beyond(at, end, one)
            else:
                at, one = end, following
        return Slope(slope, loss, windows, lost)

    def _beyond(self, at: int, end: int, one: Hypothesis) -> tuple[int, Hypothesis]:
        """The first place after which the truth can be followed again, where the game stands there."""
        low, high = at, end
        while high - low > 1:
            middle = (low + high) // 2
            if GameSearch(self.talk.speech, self.steps, STRAIGHT, self.allows).run(at, middle, [_again(one)]):
                low = middle
            else:
                high = middle
        return high, self._fresh(high)

    def _fresh(self, at: int) -> Hypothesis:
        return Hypothesis(self.main[self.least[at]], None, None, 0.0)


def _again(one: Hypothesis) -> Hypothesis:
    again = Hypothesis(one.head, one.side, one.plies, 0.0)
    again.line = one.line
    return again


def is_around(name: str) -> bool:
    """Whether a price is that of a sign of what stands around a phrase."""
    return name.partition("|")[2].startswith(AROUND)


class LeaningLesson(Lesson):
    """The same, where only leanings tell of what stands around a phrase."""

    def slope(self, prices: Prices) -> Slope:
        found = super().slope(prices)
        return replace(found, slope={name: value for name, value in found.slope.items() if not is_around(name)})


def fitted_on(
    files: Sequence[Path], mode: str, table: Mapping[str, float], unseen: Path, leanings: bool, rounds: int,
    only: tuple[str, ...],
) -> dict[str, float]:  # fmt: skip
    """Prices fitted on some talks, in a process of its own."""
    kind = LeaningLesson if leanings else Lesson
    begin = {name: price for name, price in table.items() if not (leanings and is_around(name))}
    lessons = [kind(read_talk(file, unseen), begin, VALUATIONS[mode]) for file in files]
    return fit(lessons, begin, rounds, only=only, told=told)


def _scaled(table: Mapping[str, float], share: float) -> dict[str, float]:
    """The prices, that of rare theory times a share."""
    return {name: price * (share if name == RARE else 1.0) for name, price in table.items()}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("talks", nargs="+", type=Path)
    parser.add_argument("--unseen", type=Path, required=True, help="the folder that fit_leanings.py wrote")
    parser.add_argument("--mode", choices=tuple(VALUATIONS), default="game")
    parser.add_argument("-o", "--output", type=Path, default=Path("aligner/prices/default.toml"))
    parser.add_argument("--from", dest="start", type=Path)
    parser.add_argument("--rounds", type=int, default=4)
    parser.add_argument("--share", type=float, default=0.5, help="how far to go from the starting prices, 1 is whole")
    parser.add_argument("--splits", type=int, default=0, help="fit on halves, split in so many ways; take the mean")
    parser.add_argument("--leanings", action="store_true", help="fit without the signs around phrases")
    parser.add_argument("--only", nargs="*", default=[], help="beginnings of the terms whose prices may move")
    arguments = parser.parse_args()
    files = [f for path in arguments.talks for f in (sorted(path.glob("*.talk")) if path.is_dir() else [path])]
    start = tomllib.loads((Path(__file__).parent / "start_prices.toml").read_text(encoding="utf-8"))
    plies, cost = fit_plies([read_talk(file) for file in files], VALUATIONS[arguments.mode])
    print(f"plies: a played move costs {cost:.2f} nats", file=sys.stderr)
    base = {**start["both"], **start["talk"], **start["game"], **plies}
    only = tuple(arguments.only)
    table = going_on(base, arguments.start, arguments.mode, only)
    table = _scaled(table, 1 / RARE_KEPT if arguments.start else 1.0)
    work = partial(
        fitted_on, mode=arguments.mode, table=table, unseen=arguments.unseen, leanings=arguments.leanings,
        rounds=arguments.rounds, only=only,
    )  # fmt: skip
    with ProcessPoolExecutor() as pool:
        fits = list(pool.map(work, halves(files, arguments.splits) or [files]))
    fitted = between(table, mean(fits, {}), arguments.share)
    put_prices(arguments.output, arguments.mode, _scaled(fitted, RARE_KEPT), len(files))


if __name__ == "__main__":
    main()

"""How fast answers mend a talk: `python tests/measure/settling.py TALKS... [--answers 12]`.

A scripted user answers each doubt from the truth of a marked-up talk, in the program's order and in the order of time.
A row for each number of answers: F1 over mentions and over the moves of sidelines (score.py, here beside).
"""

from __future__ import annotations

import argparse
import dataclasses
import time
from pathlib import Path

import chess
import score as scorer
import talkscript
import truth

from aligner.captions import parse_captions
from aligner.pgn.score import Score
from aligner.pins.doubts import Doubt, doubts
from aligner.pins.pin import MOVE, NO_MOVE, Pin, anchor, with_pin
from aligner.pipeline import Alignment
from aligner.record.model import Record


class User:
    """Answers from the truth of a talk."""

    def __init__(self, talk: truth.Talk) -> None:
        self.talk = talk
        self.main = set(talk.main)

    def answer(self, doubt: Doubt) -> Pin:
        """The decision that settles a doubt."""
        first, past = doubt.words
        words = self.talk.speech.words
        moves = [m for m in self.talk.script.mentions if m.kind in ("move", "slip", "again") and any(m.paths)]
        said = [mention for mention in moves if mention.w0 < past and mention.w1 > first]
        if not said:
            return Pin(anchor(words, first, past), NO_MOVE)
        best = max(said, key=lambda mention: min(mention.w1, past) - max(mention.w0, first))
        paths = [path for path in best.paths if path]
        spoken = 1
        if len(paths) > 1 and all(paths[k + 1][: len(paths[k])] == paths[k] for k in range(len(paths) - 1)):
            spoken = len(paths)
        path = paths[-1]
        in_game = tuple(path) == self.talk.main[: len(path)]
        return Pin(anchor(words, first, past), MOVE, self._san(path), spoken, in_game, best.kind == "again")

    def _san(self, path: list[str]) -> tuple[str, ...]:
        board, line = chess.Board(self.talk.start_fen), []
        for uci in path:
            move = chess.Move.from_uci(uci)
            line.append(board.san(move))
            board.push(move)
        return tuple(line)


def alignment_of(path: Path) -> tuple[truth.Talk, Alignment]:
    """A marked-up talk, and the same made ready to be aligned."""
    talk = truth.read_talk(path)
    style = talk.script.head.get("Captions", "clean")
    captions = parse_captions(talkscript.vtt(talk.script.words, talk.script.times, style), path.stem + ".vtt")
    scores = ()
    if talk.mode == "game":
        headers = {"White": talk.script.head.get("White", "?"), "Black": talk.script.head.get("Black", "?")}
        scores = (Score(talk.start_fen, talk.main, headers, 1),)
    return talk, Alignment(captions, scores, start_fen=talk.start_fen, force=True, remembers=True)


def figures(record: Record, talk: truth.Talk) -> tuple[float, float]:
    """F1 over mentions and over the moves of sidelines."""
    game = dataclasses.asdict(record.games[0])
    result = scorer.score(game, talkscript.truth(talk.script))
    return result["mention"][2], result["side"][2]


def settle(path: Path, answers: int, by_worth: bool, tell: bool) -> list[tuple[float, float]]:
    """Figures after each answer, the first before any."""
    talk, alignment = alignment_of(path)
    user, pins, curve = User(talk), (), []
    for number in range(answers + 1):
        began = time.perf_counter()
        reading = alignment.read(pins)
        curve.append(figures(alignment.record(reading), talk))
        took = time.perf_counter() - began
        if number == answers:
            break
        search = alignment.search
        settled = [span for _, span in search.bound.placed]
        asked = doubts(search.bound.speech, reading, search.ends, search.prices.sharpness, settled)
        if not asked:
            curve += [curve[-1]] * (answers - number)
            break
        chosen = asked[0] if by_worth else min(asked, key=lambda doubt: doubt.words)
        pin = user.answer(chosen)
        if tell:
            said = " ".join(word.text for word in talk.speech.words[chosen.words[0] : chosen.words[1]])
            decided = pin.line[-1] if pin.line else pin.decision
            mention, side = curve[-1]
            print(f"   {took:.2f} s, F1 {mention:.3f} {side:.3f}; {said!r}, worth {chosen.worth:.2f}, is {decided}")
        pins = with_pin(pins, pin)
    return curve


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("talks", nargs="+", type=Path)
    parser.add_argument("--answers", type=int, help="answers for each talk; else 12 for 20 minutes")
    parser.add_argument("--detail", action="store_true", help="print every question")
    parser.add_argument("--no-order-of-time", action="store_true", help="leave out the comparison")
    arguments = parser.parse_args()
    files = [f for path in arguments.talks for f in (sorted(path.glob("*.talk")) if path.is_dir() else [path])]
    print(f"{'talk':16} {'minutes':>7} {'answers':>7}  mention and side F1 by worth{'':8} by time")
    for file in files:
        talk = truth.read_talk(file)
        minutes = talk.speech.words[-1].end / 60_000
        answers = arguments.answers or max(1, round(12 * minutes / 20))
        curves = [settle(file, answers, True, arguments.detail)]
        if not arguments.no_order_of_time:
            curves.append(settle(file, answers, False, False))
        for number in range(answers + 1):
            row = "   ".join(f"{curve[number][0]:.3f} {curve[number][1]:.3f}" + " " * 14 for curve in curves)
            print(f"{file.stem:16} {minutes:7.1f} {number:7}  {row}")


if __name__ == "__main__":
    main()

"""False statements found in marked-up talks aligned by their marks: `python tests/measure/statements.py TALKS...`.

Tells what `false_statements` finds and misses when the record is right, so that both can be told from faults of the
alignment. Prints every hit, miss and false alarm, then precision, recall and false alarms in 20 minutes.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import chess
from truth import Talk, read_talk

from aligner.errata.statements import LEAST, false_statements
from aligner.record.model import Game, Mention, Node

TOLERANCE = 2.0


def true_game(talk: Talk) -> Game:
    """The game as the marks have it."""
    nodes = [Node(0, None, None)]
    ids: dict[tuple[str, ...], int] = {(): 0}

    def keep(path: tuple[str, ...]) -> int:
        if path not in ids:
            parent = keep(path[:-1])
            board = chess.Board(talk.start_fen)
            for uci in path[:-1]:
                board.push_uci(uci)
            ids[path] = len(nodes)
            main = talk.main[: len(path)] == path
            nodes.append(Node(ids[path], parent, path[-1], board.san(chess.Move.from_uci(path[-1])), len(path), main))
        return ids[path]

    keep(talk.main)
    words = talk.speech.words
    mentions = []
    for m in talk.script.mentions:
        paths = [keep(tuple(path)) for path in m.paths if path]
        if m.kind in ("move", "slip", "again", "idea") and m.w1 > m.w0 and (paths or m.kind == "idea"):
            times = words[m.w0].start / 1000, words[m.w1 - 1].end / 1000
            mentions.append(Mention(*times, m.text, (m.w0, m.w1), m.kind, tuple(paths), 1.0))
    return Game(talk.start_fen, {}, tuple(nodes), tuple(mentions))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("talks", nargs="+", type=Path)
    parser.add_argument("--at-least", type=float, default=LEAST)
    arguments = parser.parse_args()
    files = [f for path in arguments.talks for f in (sorted(path.glob("*.talk")) if path.is_dir() else [path])]
    hits = misses = alarms = 0
    seconds = 0.0
    for file in files:
        try:
            talk = read_talk(file)
        except ValueError as error:
            print(f"{file.stem}: left out, {error}")
            continue
        words = talk.speech.words
        seconds += words[-1].end / 1000
        claims = [m for m in talk.script.mentions if m.kind == "claim" and m.w1 > m.w0]
        wrong = [m for m in talk.script.mentions if m.kind in ("claim", "slip") and m.w1 > m.w0]
        spans = [(words[m.w0].start / 1000, words[m.w1 - 1].end / 1000) for m in wrong]
        found = false_statements(talk.speech, true_game(talk), at_least=arguments.at_least)
        print(f"{file.stem}: {len(claims)} false statements, {len(found)} found")
        for finding in found:
            hit = any(finding.start <= end + TOLERANCE and finding.end >= start - TOLERANCE for start, end in spans)
            hits, alarms = hits + hit, alarms + (not hit)
            name = "hit  " if hit else "ALARM"
            print(f"  {name} {finding.start:7.1f} {finding.said!r} {finding.kind}: {finding.message}")
        for m in claims:
            start, end = words[m.w0].start / 1000, words[m.w1 - 1].end / 1000
            if not any(f.start <= end + TOLERANCE and f.end >= start - TOLERANCE for f in found):
                misses += 1
                print(f"  missed {start:7.1f} {m.text!r} {m.slip}")
    print(
        f"found {hits}, missed {misses}, false alarms {alarms} in {seconds / 60:.0f} minutes "
        f"({alarms / seconds * 1200:.2f} in 20 minutes)"
    )


if __name__ == "__main__":
    main()

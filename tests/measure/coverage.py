"""How many ways of speaking moves are understood: `python tests/measure/coverage.py TALKS... [--detail] [--noise]`.

Asks of every true mention in marked-up talks, with the true position known, whether any phrase heard in its words
describes the true move: exactly, exactly but with words from outside the mention, only as a misnaming, or not at
all. Slips of the speaker are left out. The other way round it counts the phrases heard per hundred words where the
marks have no move at all: those cost time, and mislead. A row a talk; with `--detail` the words that are not
read, with `--noise` the phrases heard where there is none, by form.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from pathlib import Path

import chess
from truth import Talk, read_talk

from aligner.prices.prices import read_prices
from aligner.search.fits import Fits
from aligner.search.lines import LineNode, Lines
from aligner.speech.listen import Spoken

LEVELS = ("exact", "extent", "misnamed", "unheard")


def line(lines: Lines, path: list[str]) -> list[LineNode]:
    """The nodes of a path, the root first."""
    nodes = [lines.root]
    for uci in path:
        nodes.append(lines.after(nodes[-1], chess.Move.from_uci(uci)))
    return nodes


def reached(fits: Fits, spoken: Spoken, nodes: list[LineNode], at: int, near: bool) -> int:
    """How many of the true moves have been made after the phrase, `at` of them before it; `at` where it fits none."""
    phrase = spoken.phrase
    if phrase.fixed:
        path = fits.openings.path(phrase.fixed)
        last = nodes[-1]
        return len(nodes) - 1 if last in path or path[-1:] == (last,) else at
    found = fits.fits(nodes[at], spoken)
    if near:
        found = [*found, *fits.near(nodes[at], spoken)]
    for move, _, _ in found:
        if move != nodes[at + 1].move:
            continue
        chain = fits.chain(nodes[at + 1], spoken)
        if chain is None:
            continue
        if list(chain[0]) == nodes[at + 1 : at + 1 + len(chain[0])]:
            return at + len(chain[0])
    return at


def told(fits: Fits, heard: list[Spoken], nodes: list[LineNode], start: int, near: bool) -> bool:
    """Whether phrases that follow one another describe all of the moves from `start` on."""
    states = {(0, start)}  # token from which the next phrase may begin, moves made
    for spoken in heard:
        for token, made in sorted(states):
            if made < len(nodes) - 1 and spoken.phrase.start >= token:
                now = reached(fits, spoken, nodes, made, near)
                if now == len(nodes) - 1:
                    return True
                if now > made:
                    states.add((spoken.phrase.end, now))
    return False


def measure(talk: Talk) -> tuple[Counter[str], dict[str, list[str]], list[str], int]:
    """Mentions by level, their words by level, forms heard where no move is, and words outside of all mentions."""
    speech = talk.speech
    lines = Lines(chess.Board(talk.start_fen), talk.main)
    fits = Fits(lines, read_prices(None, "score"))
    heard = [(speech.span(s.phrase), s) for stretch in speech.stretches for s in stretch.spoken]
    counts: Counter[str] = Counter()
    words: dict[str, list[str]] = {level: [] for level in LEVELS}
    for mention in talk.script.mentions:
        paths = [path for path in mention.paths if path]
        if mention.kind not in ("move", "again") or not paths or mention.w1 <= mention.w0:
            continue
        nodes = line(lines, paths[-1])
        start = len(paths[0]) - 1
        inside = [s for (w0, w1), s in heard if mention.w0 <= w0 and w1 <= mention.w1]
        over = [s for (w0, w1), s in heard if w0 < mention.w1 and w1 > mention.w0]
        level = (
            "exact" if told(fits, inside, nodes, start, False)
            else "extent" if told(fits, over, nodes, start, False)
            else "misnamed" if told(fits, over, nodes, start, True)
            else "unheard"
        )  # fmt: skip
        counts[level] += 1
        san = " ".join(n.parent.board.san(n.move) for n in nodes[start + 1 :] if n.parent and n.move)
        around = (
            [w.text for w in speech.words[max(mention.w0 - 3, 0) : mention.w0]],
            [w.text for w in speech.words[mention.w1 : mention.w1 + 3]],
        )
        said = " ".join(w.text for w in speech.words[mention.w0 : mention.w1])
        words[level].append(f"{san:10} {mention.kind:5} {' '.join(around[0])} [{said}] {' '.join(around[1])}")
    spans = [(m.w0, m.w1) for m in talk.script.mentions if m.w1 > m.w0]
    marked = {index for w0, w1 in spans for index in range(w0, w1)}
    stray = [
        s.phrase.moves[0].form + ("~" if any(n == "sound" for n, _ in s.phrase.terms) else "")
        + "\t" + " ".join(w.text for w in speech.words[w0:w1])
        for (w0, w1), s in heard
        if marked.isdisjoint(range(w0, w1))
    ]  # fmt: skip
    return counts, words, stray, len(speech.words) - len(marked)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("talks", nargs="+", type=Path)
    parser.add_argument("--detail", action="store_true")
    parser.add_argument("--noise", action="store_true")
    arguments = parser.parse_args()
    files = [f for path in arguments.talks for f in (sorted(path.glob("*.talk")) if path.is_dir() else [path])]
    total: Counter[str] = Counter()
    forms: Counter[str] = Counter()
    strays, others, seconds = 0, 0, 0.0
    print(f"{'talk':18}" + "".join(f"{level:>10}" for level in LEVELS) + "  stray phrases per 100 words")
    for file in files:
        began = time.process_time()
        talk = read_talk(file)
        seconds += time.process_time() - began
        counts, words, stray, outside = measure(talk)
        total += counts
        strays, others = strays + len(stray), others + outside
        forms.update(row.split("\t")[0] for row in stray)
        row = "".join(f"{counts[level]:10}" for level in LEVELS)
        print(f"{talk.name:18}{row}  {100 * len(stray) / max(outside, 1):.1f}")
        if arguments.detail:
            for level in LEVELS[1:]:
                for text in words[level]:
                    print(f"    {level:9}{text}")
        if arguments.noise:
            for row in stray:
                print(f"    {row}")
    row = "".join(f"{total[level]:10}" for level in LEVELS)
    print(f"{'all':18}{row}  {100 * strays / max(others, 1):.1f}")
    shares = ", ".join(f"{level} {total[level] / max(sum(total.values()), 1):.3f}" for level in LEVELS)
    print(f"of all: {shares}; heard in {seconds:.1f} s of processor time")
    if arguments.noise:
        print(", ".join(f"{form} {count}" for form, count in forms.most_common()))


if __name__ == "__main__":
    main()

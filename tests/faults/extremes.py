"""Inputs at the edge of what anyone could give the program; each run tells its time and its memory.

`python extremes.py NAME SIZE` runs one and prints a line of JSON: processor seconds, peak memory in MB, outcome.
"""

from __future__ import annotations

import json
import re
import sys
import time
from pathlib import Path

from aligner.captions.reading import parse_captions
from aligner.captions.words import Captions
from aligner.errors import AlignerError
from aligner.pgn.reader import parse_scores
from aligner.pgn.score import Score
from aligner.pgn.writer import write_pgn
from aligner.pipeline import align
from aligner.record.document import record_from_json, record_to_json

PLAIN = "so here we are and nobody hurries the clock ticks and someone in the hall is stirring tea very slowly".split()
MOVES = "white begins with e4 then e5 knight f3 and knight c6 bishop b5".split()


def peak() -> float:
    """Most memory held, in MB. The kernel's VmHWM starts anew with a program; getrusage keeps what its parent held."""
    status = Path("/proc/self/status").read_text(encoding="ascii")
    found = re.search(r"VmHWM:\s+(\d+) kB", status)
    return int(found[1]) / 1024 if found else 0.0


def clock(ms: int) -> str:
    return f"{ms // 3_600_000:02d}:{ms // 60_000 % 60:02d}:{ms // 1000 % 60:02d}.{ms % 1000:03d}"


def track(words: list[str], in_a_cue: int = 8, pace: int = 360) -> str:
    cues = [
        f"{clock(at * pace)} --> {clock((at + in_a_cue) * pace)}\n{' '.join(words[at : at + in_a_cue])}"
        for at in range(0, len(words), in_a_cue)
    ]
    return "WEBVTT\n\n" + "\n\n".join(cues) + "\n"


def hours(minutes: int) -> None:
    """So many minutes of talk at 167 words a minute, a few moves at its beginning."""
    words = MOVES + [PLAIN[at % len(PLAIN)] for at in range(minutes * 167)]
    whole_way(parse_captions(track(words), "long.vtt"))


def one_cue(number: int) -> None:
    """So many words in one cue."""
    words = MOVES + [PLAIN[at % len(PLAIN)] for at in range(number)]
    whole_way(parse_captions(track(words, len(words)), "one.vtt"))


def one_move(number: int) -> None:
    """One move, said again and again; seven words a cue, so that no two lines after each other are the same."""
    whole_way(parse_captions(track(["knight", "f3"] * number, 7), "again.vtt"))


def nested(depth: int) -> None:
    """A score whose variations nest so deep."""
    text = "1. e4 e5 2. Nf3 Nc6 " + "(2... Nf6 " * depth + ")" * depth + " 3. Bb5 *"
    [score] = parse_scores(text, "deep.pgn")
    assert len(score.moves) == 5
    whole_way(parse_captions(track(MOVES), "short.vtt"), (score,))


def unicode(last: int) -> None:
    """Every character up to a code point, in captions, in a score's tags and comments."""
    signs = [chr(code) for code in range(1, last) if not 0xD800 <= code < 0xE000]
    words = MOVES + ["".join(signs[at : at + 12]) for at in range(0, len(signs), 12)]
    captions = parse_captions(track(words, 400), "signs.vtt")
    inside = "".join(sign for sign in signs if sign not in '"\\\r\n{}')[:200_000]
    scores = parse_scores(f'[White "{inside[:200]}"]\n\n1. e4 {{{inside}}} e5 2. Nf3 *', "signs.pgn")
    whole_way(captions, scores)


def whole_way(captions: Captions, scores: tuple[Score, ...] = ()) -> None:
    """Captions to PGN, and the record read back."""
    record = align(captions, scores, force=True)
    assert record_from_json(record_to_json(record), "record.json").games == record.games
    parse_scores(write_pgn(record), "written.pgn")


CASES = {case.__name__: case for case in (hours, one_cue, one_move, nested, unicode)}


def main() -> None:
    name, size = sys.argv[1], int(sys.argv[2])
    outcome = "done"
    began = time.process_time()
    try:
        CASES[name](size)
    except AlignerError as error:
        outcome = str(error)
    seconds = time.process_time() - began
    memory = peak()
    print(json.dumps({"seconds": round(seconds, 2), "memory": round(memory), "outcome": outcome}))


if __name__ == "__main__":
    main()

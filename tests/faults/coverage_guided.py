"""A small fuzzer that follows coverage: what reaches new lines of the project is kept and damaged further.

The idea is that of coverage-guided grey-box fuzzing (common practice); Python's own `sys.settrace` tells the lines.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import aligner

PACKAGE = str(Path(aligner.__path__[0]))
Edge = tuple[CodeType, int, int]


def lines_of(run: Callable[[], object]) -> set[Edge]:
    """Steps from line to line inside the project that a call makes."""
    edges: set[Edge] = set()

    def enter(frame: FrameType, event: str, argument: Any) -> Any:
        code = frame.f_code
        if not code.co_filename.startswith(PACKAGE):
            return None
        last = 0

        def line(frame: FrameType, event: str, argument: Any) -> Any:
            nonlocal last
            if event == "line":
                edges.add((code, last, frame.f_lineno))
                last = frame.f_lineno
            return line

        return line

    before = sys.gettrace()
    sys.settrace(enter)
    try:
        run()
    finally:
        sys.settrace(before)
    return edges


def fuzz(
    target: Callable[[bytes], object], seeds: Sequence[bytes], damage: Callable[..., bytes], seconds: float, seed: int
) -> tuple[int, int, int]:
    """Fuzz a function that must not raise; returns (runs, edges of the seeds, edges at the end)."""
    source = random.Random(seed)
    corpus = list(seeds)
    seen: set[Edge] = set()
    for data in corpus:
        seen |= lines_of(lambda data=data: target(data))  # type: ignore[misc]
    first, runs = len(seen), 0
    end = time.process_time() + seconds
    while time.process_time() < end:
        # the newest finds are the likeliest to lead on
        at = len(corpus) - 1 - min(int(source.expovariate(0.1)), len(corpus) - 1)
        data = damage(corpus[at], source, tuple(seeds))[:4000]
        try:
            edges = lines_of(lambda data=data: target(data))  # type: ignore[misc]
        except Exception as error:
            raise AssertionError(f"{type(error).__name__} over {data!r}") from error
        runs += 1
        if not edges <= seen:
            seen |= edges
            corpus.append(data)
    return runs, first, len(seen)

"""What settled decisions say of a game that is looked for in the talk."""

from __future__ import annotations

from collections.abc import Sequence

import chess

from aligner.captions.words import Word
from aligner.pins.pin import INFERRED, MOVE, NO_MOVE, Pin
from aligner.pins.placing import place
from aligner.pins.typed import line_nodes
from aligner.reconstruction.valued import Course
from aligner.search.lines import LineNode, Lines


def course_of(pins: Sequence[Pin], words: Sequence[Word], start: chess.Board) -> Course:
    """How the game went, as far as settled moves of it tell.

    Who settles a move of the game has its position before their eyes, so all moves that led there count. Where two
    such lines contradict each other the later decision counts.
    """
    if not pins:
        return Course()
    lines = Lines(start, ())
    spans = place([pin.anchor for pin in pins], words)
    line: list[LineNode] = []
    told: list[tuple[int, int]] = []
    silent: list[tuple[int, int]] = []
    unsaid: list[int] = []
    for pin, span in sorted(zip(pins, spans, strict=True), key=lambda pair: -pair[0].number):
        if span is None:
            continue
        if pin.decision == NO_MOVE:
            silent.append(span)
        if pin.decision not in (MOVE, INFERRED) or not pin.in_game:
            continue
        nodes = line_nodes(lines, pin.line) or []
        if not nodes or not _agree(nodes, line):
            continue
        if len(nodes) > len(line):
            line = list(nodes)
        if pin.decision == INFERRED:
            unsaid.append(len(nodes))
        elif not pin.again:
            told.append((span[1], len(nodes)))
    moves = tuple(node.move.uci() for node in line if node.move is not None)
    return Course(moves, tuple(sorted(told)), tuple(sorted(silent)), tuple(sorted(unsaid)))


def _agree(one: Sequence[LineNode], other: Sequence[LineNode]) -> bool:
    return all(a is b for a, b in zip(one, other, strict=False))

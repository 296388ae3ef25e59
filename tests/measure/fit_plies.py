"""Fit the prices of plies that nobody spoke on the games of the talks: softmax regression by gradient descent."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from math import exp, log, sqrt

import chess
from truth import Talk

from aligner.search.lines import Lines
from aligner.search.plies import Valuation


def fit_plies(
    talks: Sequence[Talk], valuation: Valuation, rounds: int = 40, pull: float = 0.01
) -> tuple[dict[str, float], float]:
    """Prices of what a valuation says of plies, and the mean cost of a played move in nats."""
    cases = []
    for talk in talks:
        lines = Lines(chess.Board(talk.start_fen), ())
        node = lines.root
        for played in map(chess.Move.from_uci, talk.main):
            moves = list(node.board.legal_moves)
            cases.append(([dict(valuation.ply(node, move)) for move in moves], moves.index(played)))
            node = lines.after(node, played)
    table: dict[str, float] = defaultdict(float)
    squares: dict[str, float] = defaultdict(lambda: 1.0)
    loss = 0.0
    for _ in range(rounds):
        slope: dict[str, float] = defaultdict(float)
        loss = 0.0
        for rows, played in cases:
            scores = [-sum(table[name] * amount for name, amount in row.items()) for row in rows]
            top = max(scores)
            total = sum(exp(score - top) for score in scores)
            loss -= scores[played] - top - log(total)
            for name, amount in rows[played].items():
                slope[name] += amount
            for row, score in zip(rows, scores, strict=True):
                share = exp(score - top) / total
                for name, amount in row.items():
                    slope[name] -= share * amount
        for name, value in slope.items():
            value += pull * len(cases) * table[name]
            squares[name] += value * value
            table[name] -= value / sqrt(squares[name])
    return dict(table), loss / max(len(cases), 1)

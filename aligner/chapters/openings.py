"""Openings by name: looked up by position, so that a transposition finds its name too."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from importlib.resources import files

import chess

from aligner.record.model import Node


@cache
def opening_table() -> dict[str, str]:
    """Names and their moves in SAN, parted by spaces."""
    text = (files("aligner.chapters") / "data" / "en" / "openings.toml").read_text(encoding="utf-8")
    table: dict[str, str] = tomllib.loads(text)["openings"]
    return table


@cache
def _by_position() -> dict[tuple[str, bool, int], str]:
    named: dict[tuple[str, bool, int], str] = {}
    for name, moves in opening_table().items():
        board = chess.Board()
        for san in moves.split():
            board.push_san(san)
        named.setdefault(_key(board), name)
    return named


def opening_name(board: chess.Board) -> str | None:
    """The name of the opening that this very position stands for, or None."""
    return _by_position().get(_key(board))


def deepest_opening(line: Iterable[Node], boards: Mapping[int, chess.Board]) -> tuple[Node, str] | None:
    """The last named position in a line from the usual start position, and its name; None where there is none.

    Args:
        line: moves from the start.
        boards: positions by node id.
    """
    found: tuple[Node, str] | None = None
    for node in line:
        if node.ply > _DEEPEST:
            break
        name = opening_name(boards[node.id])
        if name is not None:
            found = (node, name)
    return found


_DEEPEST = 24
"""Plies after which no position has a name in the table."""


def _key(board: chess.Board) -> tuple[str, bool, int]:
    return board.board_fen(), board.turn, board.castling_rights

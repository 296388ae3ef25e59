"""Walking a game, with python-chess as the reference for positions and its own game tree for the structure."""

from __future__ import annotations

import chess
import chess.pgn
import pytest
from hypothesis import HealthCheck, given, settings
from invented_records import games, small_record

from aligner.record.model import Game, Node
from aligner.record.tree import by_id, children, main_line, path, positions, san_line, sidelines

GAME = small_record().games[0]


def test_the_small_game() -> None:
    assert [node.san for node in main_line(GAME)] == ["e4", "e5", "Nf3"]
    assert [[child.id for child in children(GAME)[node]] for node in (0, 1, 2, 3, 4, 5)] == [
        [1],
        [2, 4],
        [3],
        [],
        [5],
        [],
    ]
    assert [node.id for node in path(by_id(GAME), 5)] == [1, 4, 5]
    assert path(by_id(GAME), 0) == ()
    assert (sidelines(GAME).count, sidelines(GAME).depth) == (1, 1)
    with pytest.raises(KeyError):
        path(by_id(GAME), 99)
    with pytest.raises(KeyError):
        positions(GAME)[99]


def test_the_main_move_comes_first_wherever_it_stands() -> None:
    nodes = (GAME.nodes[0], Node(1, 0, "d2d4", "d4", 1, False), Node(2, 0, "e2e4", "e4", 1, True))
    game = Game(chess.STARTING_FEN, {"Result": "*"}, nodes, ())
    assert [node.id for node in children(game)[0]] == [2, 1]


def test_moves_with_numbers() -> None:
    """PGN standard, 8.2.2.2: "n." before White's move, "n..." before Black's only where none of White's precedes."""
    start = chess.Board()
    assert san_line(start, path(by_id(GAME), 3)) == "1. e4 e5 2. Nf3"
    start.push_san("e4")
    assert san_line(start, path(by_id(GAME), 3)[1:]) == "1... e5 2. Nf3"
    assert san_line(start, ()) == ""


def test_moves_shown_after_the_end_of_the_game_are_a_sideline() -> None:
    nodes = (GAME.nodes[0], GAME.nodes[1], Node(2, 1, "e7e5", "e5", 2, False), Node(3, 2, "g1f3", "Nf3", 3, False))
    found = sidelines(Game(chess.STARTING_FEN, {"Result": "*"}, nodes, ()))
    assert (found.count, found.depth) == (1, 1)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(games())
def test_against_the_reference(game: Game) -> None:
    boards = positions(game)
    assert list(boards) == [node.id for node in game.nodes] and len(boards) == len(game.nodes)
    for node in reversed(game.nodes):
        board = chess.Board(game.start_fen)
        for step in path(by_id(game), node.id):
            board.push_uci(step.uci or "")
        assert boards[node.id] == board
        assert boards[node.id].fen() == board.fen()
    assert all(node.main for node in main_line(game))
    assert sum(node.main for node in game.nodes[1:]) == len(main_line(game))
    # A sideline is a node from which the main line or another line is left.
    below = children(game)
    after_the_end = (not main_line(game) and bool(below[0])) or bool(main_line(game) and below[main_line(game)[-1].id])
    branches = sum(max(0, len(nodes) - 1) for nodes in below.values())
    assert sidelines(game).count == branches + after_the_end
    assert (sidelines(game).depth > 0) == (sidelines(game).count > 0)

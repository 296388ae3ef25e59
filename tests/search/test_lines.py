"""Nodes of lines: which of them stand for the same position.

Against the hash of the Polyglot opening book format (as python-chess computes it), which counts pieces, side to move,
castling rights and a pawn that may be taken in passing, as Article 9.2 of the FIDE Laws of Chess does.
"""

from __future__ import annotations

from collections.abc import Iterator

import chess
import chess.polyglot
import pytest
from search.invented_talks import node_after

from aligner.search.lines import LineNode, Lines

# the second is a position that published perft tables use for castling and taking in passing
POSITIONS = (
    (chess.STARTING_FEN, 3, 20 + 400 + 8902),
    ("r3k2r/p1ppqpb1/bn2pnp1/3PN3/1p2P3/2N2Q1p/PPPBBPPP/R3K2R w KQkq - 0 1", 2, 48 + 2039),
)


def nodes_after(lines: Lines, node: LineNode, plies: int) -> Iterator[LineNode]:
    if plies:
        for move in node.board.legal_moves:
            after = lines.after(node, move)
            yield after
            yield from nodes_after(lines, after, plies - 1)


@pytest.mark.parametrize(("fen", "plies", "count"), POSITIONS)
def test_nodes_share_a_place_where_their_positions_are_the_same(fen: str, plies: int, count: int) -> None:
    lines = Lines(chess.Board(fen), ())
    nodes = list(nodes_after(lines, lines.root, plies))
    assert len(nodes) == count  # legal-move counts that the rules fix (perft)
    hashes = {(node.place, chess.polyglot.zobrist_hash(node.board)) for node in nodes}
    places, positions = {place for place, _ in hashes}, {position for _, position in hashes}
    assert len(places) == len(positions) == len(hashes) < count


# Moves and castling: FIDE Laws of Chess, 3.8; where the pieces stand at first: 2.3.
@pytest.mark.parametrize(("sans", "square", "origin"), [
    ("e4 e5 Nf3 Nc6 Bc4 Bc5 O-O", "f1", "h1"),
    ("e4 e5 Nf3 Nc6 Bc4 Bc5 O-O", "g1", "e1"),
    ("e4 e5 Nf3 Nc6 Bc4 Bc5 O-O Nf6 Nc3 O-O Nd5", "d5", "b1"),
    ("e4 e5 Nf3 Nc6 Bc4 Bc5 O-O Nf6 Nc3 O-O Nd5", "f8", "h8"),
    ("d4 d5 Nc3 Nc6 Bf4 Bf5 Qd2 Qd7 O-O-O O-O-O", "d1", "a1"),
    ("d4 d5 Nc3 Nc6 Bf4 Bf5 Qd2 Qd7 O-O-O O-O-O", "d8", "a8"),
    ("e4 d5 exd5", "d5", "e2"),
])  # fmt: skip
def test_where_a_piece_stood_at_first(sans: str, square: str, origin: str) -> None:
    node = node_after(Lines(chess.Board(), ()), sans)
    assert node.origin(chess.parse_square(square)) == chess.parse_square(origin)

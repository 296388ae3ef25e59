"""Invented talks for the tests of errata: words at an even pace, and the game they are aligned with by hand."""

from __future__ import annotations

from collections.abc import Sequence

import chess

from aligner.captions import Word
from aligner.record.model import Game, Mention, Node
from aligner.speech.listen import Speech, listen

PACE = 400
"""Milliseconds a word."""


def heard(text: str) -> Speech:
    """The words of a talk, heard."""
    words = [Word(word, at * PACE, (at + 1) * PACE, 0) for at, word in enumerate(text.split())]
    return listen(words)


def played(
    speech: Speech, moves: Sequence[tuple[str, str]], *, fen: str = chess.STARTING_FEN, kind: str = "move"
) -> Game:
    """The game whose moves are SAN with the words that speak of each; a move without words was never spoken."""
    board, nodes, mentions = chess.Board(fen), [Node(0, None, None)], []
    said = [word.text.strip(".,;:!?").lower() for word in speech.words]
    at = 0
    for san, text in moves:
        move = board.parse_san(san)
        number = len(nodes)
        times: tuple[tuple[float, float], ...] = ()
        if text:
            asked = text.lower().split()
            at = next(place for place in range(at, len(said)) if said[place : place + len(asked)] == asked)
            first, last = at, at + len(asked)
            at = last
            times = ((speech.words[first].start / 1000, speech.words[last - 1].end / 1000),)
            mentions.append(Mention(*times[0], text, (first, last), kind, (number,), 1.0))
        nodes.append(Node(number, number - 1, move.uci(), board.san(move), number, True, "spoken", 1.0, times))
        board.push(move)
    return Game(fen, {"Result": "*"}, tuple(nodes), tuple(mentions))

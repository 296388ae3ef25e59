"""The same questions answered by walking every record with python-chess: slow, plain, and without the catalogue."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import chess

from aligner.record.model import Game, Record


@dataclass(frozen=True, slots=True)
class Said:
    """One moment: a mention of one node, or a plan.

    Attributes:
        talk: name.
        record: of the talk.
        game: of the record.
        line: the boards from the start position to this one.
        move: the last move, None at the start.
        start: seconds.
        kind: "game", "sideline" or "idea".
        misnamed: whether the move was misnamed.
        confidence: 0 to 1.
        words: range.
    """

    talk: str
    record: Record
    game: Game
    line: tuple[chess.Board, ...]
    move: chess.Move | None
    start: float
    kind: str
    misnamed: bool
    confidence: float
    words: tuple[int, int]

    @property
    def board(self) -> chess.Board:
        return self.line[-1]

    @property
    def before(self) -> chess.Board:
        return self.line[-2]


def moments(archive: Mapping[str, Record]) -> Iterator[Said]:
    """Every moment of every talk."""
    for talk, record in archive.items():
        for game in record.games:
            lines: dict[int, tuple[chess.Board, ...]] = {game.nodes[0].id: (chess.Board(game.start_fen),)}
            nodes = {node.id: node for node in game.nodes}
            for node in game.nodes[1:]:
                assert node.parent is not None
                lines[node.id] = (*lines[node.parent], _after(lines[node.parent][-1], node.uci))
            for mention in game.mentions:
                if not mention.nodes:
                    rival = mention.alternatives[0]
                    assert rival.uci and rival.parent is not None
                    line = (*lines[rival.parent], _after(lines[rival.parent][-1], rival.uci))
                    yield Said(talk, record, game, line, chess.Move.from_uci(rival.uci), mention.start, "idea", False,
                               mention.confidence, mention.words)  # fmt: skip
                for number in mention.nodes:
                    node = nodes[number]
                    yield Said(talk, record, game, lines[number], chess.Move.from_uci(node.uci or ""), mention.start,
                               "game" if node.main else "sideline", mention.kind == "slip", mention.confidence,
                               mention.words)  # fmt: skip


def _after(board: chess.Board, uci: str | None) -> chess.Board:
    after = board.copy(stack=False)
    after.push(chess.Move.from_uci(uci or ""))
    return after


def scan(archive: Mapping[str, Record], holds: Callable[[Said], bool]) -> set[tuple[str, int, str]]:
    """Talk, start in milliseconds and kind of the moments that fit."""
    return {(said.talk, round(1000 * said.start), said.kind) for said in moments(archive) if holds(said)}


def same(one: chess.Board, other: chess.Board) -> bool:
    """Whether python-chess writes both positions alike, en passant only where a pawn can be taken so."""
    return one.epd(en_passant="legal") == other.epd(en_passant="legal")


def plain_words(record: Record) -> list[str]:
    """The words, lower case, signs off."""
    return [re.sub(r"[^a-z0-9]+", "", word.text.lower()) for word in record.words]

"""The score of a game: its own moves, without what others wrote about them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Score:
    """A game's own line.

    Attributes:
        start_fen: FEN of the start position.
        moves: UCI, each legal where it stands.
        headers: PGN tag pairs without FEN and SetUp; "Result" is always there.
        number: 1-based place in its file.
    """

    start_fen: str
    moves: tuple[str, ...]
    headers: dict[str, str]
    number: int = 1

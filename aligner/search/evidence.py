"""Does a score belong to a talk? The longest run of the score's moves that the talk speaks of in order."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import chess

from aligner.search.lines import Lines
from aligner.search.matching import LETTERS, compare
from aligner.speech.description import Description
from aligner.speech.listen import Speech

_PLAIN = frozenset(
    {
        "piece_to",
        "piece_square",
        "piece_takes_square",
        "file_takes_square",
        "symbols",
        "square",
        "castle",
        "takes_square",
    }
)
_LEAST_SHARE = 0.5
"""Talks and the wrong score share less than this of their moves in order (0.40 at most in 132 pairs of fitted talks);
talks and their own score, more (0.75 at least)."""
_ANY = 0
"""Stands for any piece."""
_FEWEST = 6
"""With fewer moves to go by, nothing is said against a score."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """How a talk and a score agree.

    Attributes:
        matched: the score's moves spoken of in order.
        plies: the score's moves.
        spoken: phrases in the talk that name a move plainly.
        cast: words that say who moves ("he", "i", a name) with the side they mostly stand for, True for White.
    """

    matched: int
    plies: int
    spoken: int
    cast: Mapping[str, bool]

    @property
    def share(self) -> float:
        """Of the moves that could have been spoken of, the share that was."""
        return self.matched / max(min(self.plies, self.spoken), 1)

    @property
    def fits(self) -> bool:
        """Whether talk and score may belong together."""
        return self.spoken < _FEWEST or self.plies < _FEWEST or self.share >= _LEAST_SHARE

    def sentence(self) -> str:
        """For the user."""
        return (
            f"{self.matched} of the score's {self.plies} moves are spoken of in order "
            f"({self.spoken} moves are named in the talk)."
        )


def agreement(speech: Speech, start_fen: str, moves: Sequence[str]) -> Evidence:
    """How a talk and a score agree: the longest chain of exact descriptions of the score's moves, in order.

    Time grows with different phrases times moves to a square; patience sorting (Fredman 1975) finds the chain.
    """
    lines = Lines(chess.Board(start_fen), moves)
    described = Described(lines)
    piles: list[int] = []
    tops: list[int] = []
    played: list[tuple[int, str, int]] = []
    spoken = 0
    for stretch in speech.stretches:
        spoken += not stretch.spoken[0].inside and any(
            each.phrase.moves[0].form in _PLAIN and each.phrase.moves[0].form != "square" for each in stretch.spoken
        )
        found: dict[int, str] = {}
        for phrase, who in ((each.phrase, each.who) for each in stretch.spoken):
            said = phrase.moves[0]
            if said.form not in _PLAIN or any(name == "sound" for name, _ in phrase.terms):
                continue
            found.update(dict.fromkeys(described.plies(said), who))
        hits = sorted(found)
        for ply in reversed(hits):
            place = bisect_left(piles, ply)
            played.append((ply, found[ply], tops[place - 1] if place else -1))
            if place == len(piles):
                piles.append(ply)
                tops.append(len(played) - 1)
            else:
                piles[place] = ply
                tops[place] = len(played) - 1
    chain = []
    link = tops[-1] if tops else -1
    while link >= 0:
        ply, who, link = played[link]
        chain.append((who, lines.score[ply].board.turn))
    return Evidence(len(piles), len(moves), spoken, learn_cast(chain))


class Described:
    """The plies of a score that descriptions describe exactly, each description looked up once."""

    def __init__(self, lines: Lines) -> None:
        self._lines = lines
        self._castlings: list[int] = []
        self._moves: dict[tuple[int, int], list[int]] = {}
        self._found: dict[Description, list[int]] = {}
        for ply, move in enumerate(lines.score_moves):
            board = lines.score[ply].board
            if board.is_castling(move):
                self._castlings.append(ply)
            for piece in (board.piece_type_at(move.from_square) or 0, _ANY):
                self._moves.setdefault((move.to_square, piece), []).append(ply)

    def plies(self, said: Description) -> list[int]:
        """The plies whose moves what was said describes, in order."""
        found = self._found.get(said)
        if found is None:
            piece = LETTERS[said.piece] if said.piece else chess.PAWN if said.form == "square" else _ANY
            # in descriptive notation the square depends on who moves
            targets = {at for at in (said.target, said.target_for_black) if at is not None}
            rows = [row for at in targets for row in self._moves.get((at, piece), ())]
            rows = self._castlings if said.castle else rows
            found = self._found[said] = sorted(ply for ply in rows if self._fits(ply, said))
        return found

    def _fits(self, ply: int, said: Description) -> bool:
        fit = compare(self._lines.score[ply], self._lines.score_moves[ply], said)
        return fit is not None and not fit.slips


def learn_cast(moved: Iterable[tuple[str, bool]]) -> dict[str, bool]:
    """Which side each word stands for, from moves and the words said before them; words that waver are left out."""
    counts: dict[str, list[int]] = {}
    for who, side in moved:
        if who:
            counts.setdefault(who, [0, 0])[side] += 1
    cast = {"white": True, "black": False}
    for who, (black, white) in counts.items():
        if who not in cast and max(black, white) >= 3 and max(black, white) >= 0.8 * (black + white):
            cast[who] = white > black
    return cast

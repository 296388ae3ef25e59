"""A database of scores in which each talk's own is found: a quick look at all games, a close one at the likeliest."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import chess

from aligner.captions.words import Word
from aligner.pgn.score import Score
from aligner.search.evidence import agreement
from aligner.speech.listen import Speech, listen

_CLOSE_LOOK = 24
"""Games that are compared move by move with a talk."""

_LEAST_SHARE, _LEAST_MATCHED = 0.5, 8
"""A score is taken for a talk's only if this share of its moves, and so many, are spoken of in order."""

_CLEAR = 1.15
"""How many times the runner-up's moves the best score must match to be taken without a doubt."""

Trait = tuple[str, int]
"""Letter of the moving piece and square it goes to (0 to 63); ("K", -1) for castling."""


@dataclass(frozen=True, slots=True)
class Found:
    """What the database has for a talk.

    Attributes:
        scores: the talk's score; empty where none fits.
        doubt: why it is not sure, a sentence; "" where it is.
    """

    scores: tuple[Score, ...]
    doubt: str = ""


class Database:
    """Scores, with the traits by which they are found.

    Args:
        scores: all games.
        digest: hash of the file they came from.
    """

    def __init__(self, scores: Sequence[Score], digest: str) -> None:
        self.scores = tuple(scores)
        self.digest = digest
        self._traits = [Counter(_traits(score)) for score in self.scores]
        # a trait that many games have says little about any of them
        common = Counter(trait for traits in self._traits for trait in traits)
        self._weights = {trait: 1.0 / (1.0 + count / max(len(self.scores), 1) * 8) for trait, count in common.items()}

    def find(self, words: Sequence[Word]) -> Found:
        """The score that belongs to a talk."""
        speech = listen(words)
        said = Counter(_said(speech))
        if not said:
            return Found((), "no score was looked for: the captions name too few moves.")
        ranked = sorted(range(len(self.scores)), key=lambda at: (-self._likeness(said, at), at))[:_CLOSE_LOOK]
        rated = [(agreement(speech, self.scores[at].start_fen, self.scores[at].moves), self.scores[at]) for at in ranked]
        rated = [
            (evidence, score) for evidence, score in rated
            if evidence.share >= _LEAST_SHARE and evidence.matched >= min(_LEAST_MATCHED, len(score.moves))
        ]  # fmt: skip
        if not rated:
            return Found((), "no score in the database fits this talk; it was aligned without one.")
        rated.sort(key=lambda pair: (-pair[0].matched, -pair[0].share, pair[1].number))
        evidence, best = rated[0]
        rivals = [other for other in rated[1:] if other[1].moves != best.moves]
        if rivals and evidence.matched < _CLEAR * rivals[0][0].matched:
            return Found(
                (best,),
                f"the score was found by its moves, and game {rivals[0][1].number} of the database fits nearly as well as "
                f"game {best.number}; check which one it is.",
            )
        return Found((best,))

    def _likeness(self, said: Counter[Trait], at: int) -> float:
        own, weights = self._traits[at], self._weights
        common = sum(min(own[trait], count) * weights[trait] for trait, count in said.items() if trait in own)
        return common / (8 + own.total()) ** 0.5


def _traits(score: Score) -> Iterator[Trait]:
    board = chess.Board(score.start_fen)
    for uci in score.moves:
        move = chess.Move.from_uci(uci)
        if board.is_castling(move):
            yield "K", -1
        else:
            yield chess.piece_symbol(board.piece_type_at(move.from_square) or chess.PAWN).upper(), move.to_square
        board.push(move)


def _said(speech: Speech) -> Iterator[Trait]:
    for stretch in speech.stretches:
        said = stretch.spoken[0].phrase.moves
        if not said:
            continue
        if said[0].castle:
            yield "K", -1
        elif said[0].target is not None:
            yield said[0].piece or "P", said[0].target

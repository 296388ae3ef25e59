"""A talk in the making: growing captions in, the record as it stands out."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import chess

from aligner.captions.words import Captions
from aligner.errors import InputError
from aligner.follow.following import Following, Rewritten
from aligner.follow.hearing import Hearing
from aligner.pgn.score import Score
from aligner.prices.prices import read_prices
from aligner.record.model import Record, Recording, SpokenWord
from aligner.search.evidence import agreement
from aligner.search.reading import Choice
from aligner.tree.build import build_game


@dataclass(frozen=True, slots=True)
class Update:
    """The talk as it stands.

    Attributes:
        record: of all words so far.
        decided: choices that became final with this update, in order of time.
        final_until: seconds up to which every decision is final.
        again: whether the captions changed in what was final, so that all was read anew.
    """

    record: Record
    decided: tuple[Choice, ...]
    final_until: float
    again: bool


class Follower:
    """Follows one talk.

    Args:
        score: the game's score, where there is one.
        start_fen: where there is no score, the position the game starts from; None for the usual one.
        title: of the talk.
        url: of the recording.
        prices: a price file of one's own.

    Raises:
        InputError: the price file cannot be used.
    """

    def __init__(
        self,
        score: Score | None = None,
        *,
        start_fen: str | None = None,
        title: str | None = None,
        url: str | None = None,
        prices: Path | None = None,
    ) -> None:
        self.score = score
        self.title = title
        self.url = url
        self.start_fen = score.start_fen if score else start_fen or chess.STARTING_FEN
        self.headers = dict(score.headers) if score else {"Result": "*"}
        self.moves = score.moves if score else ()
        self._prices = read_prices(prices, "score" if self.moves else "talk")
        self._begin()

    def _begin(self) -> None:
        names = [self.headers.get(side, "") for side in ("White", "Black")] if self.score else []
        self._hearing = Hearing(names)
        self._following = Following(chess.Board(self.start_fen), self.moves, self._prices)

    def update(self, captions: Captions, ended: bool = False) -> Update:
        """The talk with the captions as they stand now; `ended` where nothing is to come."""
        again = False
        told = len(self._following.final)
        changed = self._hearing.hear(captions.words)
        speech = self._hearing.speech()
        try:
            reading = self._following.go_on(speech, changed, self._hearing.settled(), ended)
        except Rewritten:
            again, told = True, 0
            self._begin()
            self._hearing.hear(captions.words)
            speech = self._hearing.speech()
            reading = self._following.go_on(speech, 0, self._hearing.settled(), ended)
        game = build_game(speech, reading, self.start_fen, self.headers, None)
        seconds = captions.duration / 1000
        until = seconds if ended else self._final_until()
        recording = Recording(
            captions=captions.name,
            title=self.title,
            url=self.url,
            seconds=seconds,
            words=len(captions.words),
            fingerprint=hashlib.sha256(captions.source.encode("utf-8", "surrogatepass")).hexdigest(),
        )
        words = tuple(SpokenWord(w.text, w.start / 1000, w.end / 1000, w.speaker, w.cue) for w in captions.words)
        record = Record(recording, (game,), words, notes=self._notes(captions, until, ended))
        return Update(record, tuple(self._following.final[told:]), until, again)

    def _final_until(self) -> float:
        decided = self._following.decided
        if not decided:
            return 0.0
        stretch = self._hearing.stretches[decided - 1]
        return self._hearing.words[self._hearing.tokens[stretch.start].word].start / 1000

    def _notes(self, captions: Captions, until: float, ended: bool) -> tuple[str, ...]:
        notes = [f"line {problem.line}: {problem.message}" for problem in captions.problems]
        if not ended:
            notes.append(f"The talk goes on: what is decided up to second {until:.1f} is final, the rest may change.")
        elif self.score is not None:
            evidence = agreement(self._hearing.speech(), self.start_fen, self.moves)
            if not evidence.fits:
                notes.append(f"Captions and score seem not to belong together: {evidence.sentence()}")
        return tuple(notes)


def one_score(scores: Sequence[Score], number: int | None, name: str) -> Score:
    """The score to follow a talk with: before the talk nothing tells which of several it is.

    Raises:
        InputError: there are several and no number, or none of that number.
    """
    if number is None and len(scores) == 1:
        return scores[0]
    if number is None:
        what = f"this file holds {len(scores)} games, and nothing tells yet which it is; choose with --game-number."
        raise InputError(what, name)
    if not 1 <= number <= len(scores):
        raise InputError(f"there is no game {number}; choose 1 to {len(scores)}.", name)
    return scores[number - 1]

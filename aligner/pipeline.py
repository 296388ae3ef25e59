"""The whole way in one call: captions, and the score where there is one, to the record."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from contextlib import nullcontext
from pathlib import Path

import chess

from aligner.captions.words import Captions
from aligner.collection import collection_paused
from aligner.engine import Engine
from aligner.errata.review import reviewed
from aligner.errata.wording import Wordings
from aligner.errors import InputError, MismatchError, ScoreError
from aligner.pgn.score import Score
from aligner.pins.course import course_of
from aligner.pins.pin import Pin
from aligner.pins.search import PinnedSearch
from aligner.pins.settled import notes_about, settle_game
from aligner.prices.prices import read_prices
from aligner.reconstruction.found import FoundGame, GameFinder, tempered
from aligner.reconstruction.setup import described_position
from aligner.record.model import Record, Recording, SpokenWord
from aligner.search.evidence import Evidence, agreement
from aligner.search.order import in_order
from aligner.search.reading import Reading
from aligner.speech.listen import Speech, listen
from aligner.tree.build import build_game

_BROKEN_OFF = (
    "The game that was found ends where what is told next cannot be played, whatever went unspoken before: "
    "give its score with --game, or settle its moves with `aligner desk`."
)


class Alignment:
    """A talk and its game made ready, to be aligned as often as what is settled changes.

    Args:
        captions: of the talk.
        scores: the game's score; of several the one that fits the talk is taken.
        start_fen: where there is no score, the position the game starts from; None for the usual one.
        game_number: 1-based place of the score to take.
        title: of the talk.
        url: of the recording.
        force: align even where captions and score do not belong together.
        prices: a price file of one's own.
        remembers: whether to make later readings quick, at the cost of the first.
        engine: where there is no score, weighs the moves that nobody spoke.

    Raises:
        MismatchError: captions and score do not belong together.
        ScoreError: there is no game of that number.
        InputError: the price file or the engine cannot be used.
    """

    def __init__(
        self,
        captions: Captions,
        scores: Sequence[Score] = (),
        *,
        start_fen: str | None = None,
        game_number: int | None = None,
        title: str | None = None,
        url: str | None = None,
        force: bool = False,
        prices: Path | None = None,
        remembers: bool = False,
        engine: Engine | None = None,
    ) -> None:
        if engine is not None and scores:
            raise InputError("an engine only weighs moves that nobody spoke, where there is no score; leave it out.")
        self.captions = captions
        self.speech = listen(captions.words, _names(scores))
        self.notes: list[str] = [f"line {problem.line}: {problem.message}" for problem in captions.problems]
        score: Score | None = None
        cast: Mapping[str, bool] = {"white": True, "black": False}
        if scores:
            score, evidence = _choose(self.speech, scores, game_number)
            cast = evidence.cast
            if len(scores) > 1 and game_number is None:
                self.notes.append(
                    f"Of {len(scores)} games in the score, game {score.number} fits the talk: {evidence.sentence()}"
                )
            if not evidence.fits:
                if not force:
                    raise MismatchError(
                        f"these captions and this score do not belong together: {evidence.sentence()} "
                        "Give the right score, or --force to align them all the same.",
                        captions.name,
                    )
                self.notes.append(f"Captions and score seem not to belong together: {evidence.sentence()}")
        if score is None and start_fen is None:
            start_fen = self._described()
        self.start_fen = score.start_fen if score else start_fen or chess.STARTING_FEN
        self.moves = score.moves if score else ()
        self.headers = dict(score.headers) if score else {"Result": "*"}
        self.prices = read_prices(prices, "score")
        self.found: FoundGame | None = None
        self._remembers = remembers
        self._engine = engine
        self._search: PinnedSearch | None = None
        self._finder: GameFinder | None = None
        if self.moves:
            self._search = self._search_with(self.moves, cast)
        else:
            opinion = engine.losses if engine is not None else None
            self._finder = GameFinder(self.speech, self._start(), read_prices(prices, "game"), cast, opinion)
        self.recording = Recording(
            captions=captions.name,
            title=title,
            url=url,
            seconds=captions.duration / 1000,
            words=len(captions.words),
            fingerprint=hashlib.sha256(captions.source.encode("utf-8", "surrogatepass")).hexdigest(),
        )
        self.words = tuple(SpokenWord(w.text, w.start / 1000, w.end / 1000, w.speaker, w.cue) for w in captions.words)

    @property
    def search(self) -> PinnedSearch:
        """The search of the latest reading."""
        if self._search is None:
            self.read()
        assert self._search is not None
        return self._search

    def read(self, pins: Sequence[Pin] = (), progress: Callable[[float], None] | None = None) -> Reading:
        """What the search makes of the talk under what is settled.

        Raises:
            MismatchError: no score was given, and the captions hold no game.
            InputError: the engine cannot be used.
        """
        if self._finder is None:
            return self.search.read(pins, progress)
        course = course_of(pins, self.speech.words, self._start())
        with self._engine or nullcontext():  # started first: a program that is none is told of before the search
            found = self._finder.find(course, _part(progress, 0.0, 0.7))
        if not found.moves:
            raise MismatchError(
                f"no game was found in these captions ({len(self.words)} words): no move in them can be played "
                "from the start position. Give the score with --game, or the start position with --fen.",
                self.captions.name,
            )
        if self._search is None or self.found is None or self.found.moves != found.moves:
            self._search = self._search_with(found.moves, agreement(self.speech, self.start_fen, found.moves).cast)
        self.found = found
        return tempered(self._search.read(pins, _part(progress, 0.7, 1.0)), found.belief)

    def _described(self) -> str | None:
        """The position that the talk sets up aloud."""
        turns = [(turn.start, turn.value == "white") for turn in Wordings(self.speech.tokens).of("turn")]
        board = described_position(self.speech, turns)
        if board is None:
            return None
        self.notes.append(f"The start position was taken from its description: {board.fen()}; --fen gives another.")
        return board.fen()

    def _start(self) -> chess.Board:
        return chess.Board(self.start_fen)

    def _search_with(self, moves: Sequence[str], cast: Mapping[str, bool]) -> PinnedSearch:
        speech = in_order(self.speech, self.start_fen, moves, self.prices.table)
        return PinnedSearch(
            speech, self._start(), moves, self.prices, cast, self._remembers, given=bool(self.moves)
        )

    def record(self, reading: Reading) -> Record:
        """The record of the latest reading."""
        bound = self.search.bound
        found = self.found
        belief, candidates = (found.belief, found.candidates) if found is not None else (None, ())
        game = build_game(bound.speech, reading, self.start_fen, self.headers, belief, candidates)
        game = settle_game(reviewed(bound.speech, game, bool(self.moves)), bound.placed)
        broken = () if found is None or found.whole else (_BROKEN_OFF,)
        return Record(self.recording, (game,), self.words, notes=(*self.notes, *broken, *notes_about(bound)))


@collection_paused()
def align(
    captions: Captions,
    scores: Sequence[Score] = (),
    *,
    start_fen: str | None = None,
    game_number: int | None = None,
    title: str | None = None,
    url: str | None = None,
    force: bool = False,
    prices: Path | None = None,
    progress: Callable[[float], None] | None = None,
    pins: Sequence[Pin] = (),
    engine: Engine | None = None,
) -> Record:
    """Align a talk with its game; arguments as in `Alignment`.

    Args:
        progress: told the share done, 0 to 1.
        pins: what was settled about the talk.

    Raises:
        MismatchError: captions and score do not belong together, or the captions hold no game.
        ScoreError: there is no game of that number.
        InputError: the price file or the engine cannot be used.
    """
    ready = Alignment(
        captions, scores, start_fen=start_fen, game_number=game_number, title=title, url=url, force=force,
        prices=prices, engine=engine,
    )  # fmt: skip
    return ready.record(ready.read(pins, progress))


def _part(progress: Callable[[float], None] | None, first: float, last: float) -> Callable[[float], None] | None:
    """Progress of a part of the work that goes from one share of the whole to another."""
    if progress is None:
        return None
    return lambda share: progress(first + (last - first) * share)


def _names(scores: Sequence[Score]) -> list[str]:
    """The players' names, as far as the scores tell."""
    return [score.headers.get(side, "") for score in scores for side in ("White", "Black")]


def _choose(speech: Speech, scores: Sequence[Score], game_number: int | None) -> tuple[Score, Evidence]:
    """The score to take, and how well it agrees with the talk."""
    if game_number is not None:
        chosen = [score for score in scores if score.number == game_number]
        if not chosen:
            raise ScoreError(
                f"there is no game {game_number}; the file holds {len(scores)}. Choose 1 to {len(scores)}."
            )
        return chosen[0], agreement(speech, chosen[0].start_fen, chosen[0].moves)
    rated = [(agreement(speech, score.start_fen, score.moves), score) for score in scores]
    evidence, score = max(rated, key=lambda pair: (pair[0].matched, pair[0].share))
    return score, evidence

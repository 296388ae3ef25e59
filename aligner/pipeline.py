"""The whole way in one call: captions, and the score where there is one, to the record."""

from __future__ import annotations

import hashlib
from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TypedDict, Unpack

import chess

from aligner.captions.timecode import clock
from aligner.captions.words import Captions
from aligner.collection import collection_paused
from aligner.engine import Engine
from aligner.errata.review import reviewed
from aligner.errors import InputError, MismatchError, ScoreError
from aligner.games.beginnings import beginnings
from aligner.games.division import Told, divide_by_games, divide_by_scores, likely_without_score
from aligner.games.part import Part, heard
from aligner.pgn.score import Score
from aligner.pins.course import course_of
from aligner.pins.pin import Pin
from aligner.pins.placing import place
from aligner.pins.search import PinnedSearch
from aligner.pins.settled import notes_about, settle_game
from aligner.prices.prices import read_prices
from aligner.progress import share_of
from aligner.reconstruction.found import FoundGame, GameFinder, tempered
from aligner.reconstruction.setup import described_position, without_setup
from aligner.reconstruction.valued import Course
from aligner.record.model import Game, Record, Recording, SpokenWord
from aligner.search.evidence import Evidence, agreement
from aligner.search.order import in_order
from aligner.search.reading import Reading
from aligner.speech.leanings import with_leanings
from aligner.speech.listen import Speech, listen
from aligner.tree.build import build_game

_BROKEN_OFF = (
    "The game that was found ends where what is told next cannot be played, whatever went unspoken before: "
    "give its score with --game, or settle its moves with `aligner desk`."
)


class Settings(TypedDict, total=False):
    """What is the same for all games of a recording; as in `Alignment`."""

    title: str | None
    url: str | None
    force: bool
    prices: Path | None
    remembers: bool
    engine: Engine | None


class Alignment:
    """A talk of one game made ready, to be aligned as often as what is settled changes.

    Args:
        captions: of the talk.
        scores: the game's score; of several the one that fits the talk is taken.
        part: what tells of the game, where the recording tells of others too; with it goes `speech`.
        speech: the whole talk as heard; None to listen.
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
        part: Part | None = None,
        speech: Speech | None = None,
    ) -> None:
        if engine is not None and scores:
            raise InputError("an engine only weighs moves that nobody spoke, where there is no score; leave it out.")
        self.captions = captions
        self.part = part or Part(0, len(captions.words))
        self.speech = with_leanings(heard(speech or listen(captions.words, _names(scores)), self.part))
        self.notes: list[str] = []
        if self.part.first == 0:
            self.notes += [f"line {problem.line}: {problem.message}" for problem in captions.problems]
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
        if self.part.first == 0:
            self.speech = without_setup(self.speech, self._start())
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
            self._finder = GameFinder(self.speech, self._start(), partial(read_prices, prices), cast, opinion)
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
        found = self.find(course, share_of(progress, 0.0, 0.7))
        if not found.moves:
            places = len(self.speech.stretches)
            raise MismatchError(
                f"no game was found in these captions ({len(self.words)} words): none of the places that may speak of "
                f"a move ({places}) tells one that was played from the start position on. "
                "Give the score with --game, or the start position with --fen.",
                self.captions.name,
            )
        if self._search is None or self.found is None or self.found.moves != found.moves:
            self._search = self._search_with(found.moves, agreement(self.speech, self.start_fen, found.moves).cast)
        self.found = found
        return tempered(self._search.read(pins, share_of(progress, 0.7, 1.0)), found.belief)

    def _described(self) -> str | None:
        """The position that the talk sets up aloud."""
        turns = [(turn.start, turn.value == "white") for turn in self.speech.wordings().of("turn")]
        board = described_position(self.speech, turns)
        if board is None:
            return None
        self.notes.append(f"The start position was taken from its description: {board.fen()}; --fen gives another.")
        return board.fen()

    def _start(self) -> chess.Board:
        return chess.Board(self.start_fen)

    def _search_with(self, moves: Sequence[str], cast: Mapping[str, bool]) -> PinnedSearch:
        speech = in_order(self.speech, self.start_fen, moves, self.prices.table)
        return PinnedSearch(speech, self._start(), moves, self.prices, cast, self._remembers, given=bool(self.moves))

    def find(self, course: Course | None = None, progress: Callable[[float], None] | None = None) -> FoundGame:
        """The game that is found in the talk; only where no score was given."""
        assert self._finder is not None
        with self._engine or nullcontext():  # started first: a program that is none is told of before the search
            return self._finder.find(course, progress)

    def sketch(self, progress: Callable[[float], None] | None = None) -> FoundGame:
        """The same by the first searches alone, with which parts of a talk are compared."""
        assert self._finder is not None
        with self._engine or nullcontext():
            return self._finder.sketch(progress)

    def record(self, reading: Reading) -> Record:
        """The record of the latest reading."""
        return Record(self.recording, (self.game(reading),), self.words, notes=(*self.notes, *self.unfit()))

    def unfit(self) -> list[str]:
        """A sentence for a game that breaks off, and for each settled decision that does not fit the latest reading."""
        broken = [] if self.found is None or self.found.whole else [_BROKEN_OFF]
        return [*broken, *notes_about(self.search.bound)]

    def game(self, reading: Reading) -> Game:
        """The game of the latest reading."""
        bound = self.search.bound
        found = self.found
        belief, candidates = (found.belief, found.candidates) if found is not None else (None, ())
        game = build_game(bound.speech, reading, self.start_fen, self.headers, belief, candidates)
        game = settle_game(reviewed(bound.speech, game, bool(self.moves)), bound.placed)
        first = self.part.first
        if first == 0:
            return game
        # what is stated before the part is heard too, and is about other games
        findings = tuple(finding for finding in game.findings if finding.words[0] >= first)
        return replace(game, start=self.words[first].start, findings=findings)


class WholeTalk:
    """A recording made ready, one alignment for each game that it tells of; arguments as in `Alignment`.

    One game is the rule. Where a score file of several games or the talk itself shows that another game begins, each
    part of the talk is aligned by itself. `start_fen` is about the first game; `game_number` leaves only one.
    """

    def __init__(
        self,
        captions: Captions,
        scores: Sequence[Score] = (),
        *,
        start_fen: str | None = None,
        game_number: int | None = None,
        **settings: Unpack[Settings],
    ) -> None:
        self.captions = captions
        self.speech = with_leanings(listen(captions.words, _names(scores)))
        self._ready = partial(Alignment, captions, speech=self.speech, **settings)
        self._prices = settings.get("prices")
        self._places: list[int] = []
        self._alignments: dict[Part, Alignment] = {}
        told: tuple[Told, ...] = ()
        if len(scores) > 1 and game_number is None:
            told = divide_by_scores(self.speech, scores, beginnings(self.speech))
        if told:
            self._parts = tuple(self._ready((one.score,), part=one.part) for one in told)
        else:
            whole = self._ready(scores, start_fen=start_fen, game_number=game_number)
            self._parts = (whole,)
            if not scores:
                self._places = likely_without_score(beginnings(self.speech))
                self._alignments[whole.part] = whole
        self._tell([one.score.number for one in told])

    @property
    def parts(self) -> tuple[Alignment, ...]:
        """The alignment of each game, in the order of the talk; without a score they are looked for when asked."""
        if self._places:
            self.divide()
        return self._parts

    @property
    def recording(self) -> Recording:
        """What is aligned."""
        return self._parts[0].recording

    @property
    def start_fen(self) -> str:
        """The position that the first game starts from."""
        return self._parts[0].start_fen

    def divide(self, progress: Callable[[float], None] | None = None) -> None:
        """Find out which games are told of, where no score tells."""
        places, self._places = self._places, []

        def alignment(part: Part) -> Alignment:
            if part not in self._alignments:
                start = self.start_fen if part.first == 0 else chess.STARTING_FEN
                self._alignments[part] = self._ready(start_fen=start, part=part)
            return self._alignments[part]

        def sketch(part: Part) -> FoundGame:
            return alignment(part).sketch(progress)

        table = read_prices(self._prices, "game").table
        prices = table.get("another_game", 0.0), table.get("another_game_alike", 0.0)
        found = divide_by_games(len(self.speech.words), places, sketch, *prices)
        if found:
            notes = self._parts[0].notes
            self._parts = tuple(map(alignment, found))
            self._parts[0].notes[:] = notes
            self._tell([])
        self._alignments.clear()

    def _tell(self, numbers: Sequence[int]) -> None:
        """Say at the head of the notes where which game begins, where there are several."""
        if len(self._parts) < 2:
            return
        times = [clock(self.captions.words[one.part.first].start).split(".")[0] for one in self._parts]
        games = [f"game {number} of the score from {time}" for number, time in zip(numbers, times, strict=False)]
        games = games or [f"one from {time}" for time in times]
        self._parts[0].notes.append(f"The talk tells of {len(times)} games: {', '.join(games)}.")

    def part_at(self, word: int) -> int:
        """The place among the parts of the one that a word belongs to."""
        return max(bisect_right([one.part.first for one in self.parts], word) - 1, 0)

    def read(self, pins: Sequence[Pin] = (), progress: Callable[[float], None] | None = None) -> tuple[Reading, ...]:
        """What the search makes of each part under what is settled.

        Raises:
            MismatchError: no score was given, and the captions hold no game.
        """
        begun = 0.5 if self._places else 0.0
        if self._places:
            self.divide(share_of(progress, 0.0, begun))
        pins_of = self.pins_of(pins)
        each = (1.0 - begun) / len(self.parts)
        return tuple(
            part.read(pins_of[number], share_of(progress, begun + number * each, begun + (number + 1) * each))
            for number, part in enumerate(self.parts)
        )

    def pins_of(self, pins: Sequence[Pin]) -> list[list[Pin]]:
        """The pins of each part: those whose words stand in it, or whose time, where the words are gone."""
        if len(self.parts) == 1:
            return [list(pins)]
        found: list[list[Pin]] = [[] for _ in self.parts]
        words = self.speech.words
        starts = [word.start for word in words]
        for pin, span in zip(pins, place([pin.anchor for pin in pins], words), strict=True):
            word = span[0] if span is not None else bisect_right(starts, pin.anchor.at) - 1
            found[self.part_at(word)].append(pin)
        return found

    def record(self, readings: Sequence[Reading]) -> Record:
        """The record of the latest readings."""
        parts = self.parts
        games = tuple(part.game(reading) for part, reading in zip(parts, readings, strict=True))
        notes = [note for part in parts for note in (*part.notes, *part.unfit())]
        return Record(self.recording, games, parts[0].words, notes=tuple(notes))


@collection_paused()
def align(
    captions: Captions,
    scores: Sequence[Score] = (),
    *,
    start_fen: str | None = None,
    game_number: int | None = None,
    progress: Callable[[float], None] | None = None,
    pins: Sequence[Pin] = (),
    **settings: Unpack[Settings],
) -> Record:
    """Align a talk with its game, or its games; arguments as in `WholeTalk`.

    Args:
        progress: told the share done, 0 to 1.
        pins: what was settled about the talk.

    Raises:
        MismatchError: captions and score do not belong together, or the captions hold no game.
        ScoreError: there is no game of that number.
        InputError: the price file or the engine cannot be used.
    """
    ready = WholeTalk(captions, scores, start_fen=start_fen, game_number=game_number, **settings)
    return ready.record(ready.read(pins, progress))


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

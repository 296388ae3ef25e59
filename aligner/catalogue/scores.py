"""Which score is it? The game, among many, that a talk is about.

Moves that follow each other in the talk are looked for in the index, the rarer the more they count (inverse document
frequency, Spärck Jones 1972). The best candidates are compared with the talk move for move.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from math import log2
from pathlib import Path
from statistics import median

import chess
import chess.pgn
import numpy

from aligner.captions.words import Captions
from aligner.catalogue.connection import default_address, file_address, is_server
from aligner.catalogue.positions import CASTLE_LONG, CASTLE_SHORT
from aligner.catalogue.scores_index import IndexedGame, ScoresIndex, open_index, pair_key
from aligner.pgn.score import Score
from aligner.search.evidence import Evidence, agreement
from aligner.speech.description import Description
from aligner.speech.listen import Speech, listen

CANDIDATES = 50
_RUNNERS_UP = 5
_LEAST_AHEAD, _LEAST_SHARE_AHEAD = 5, 0.3
"""Moves by which the talk's own game agrees better with it than half of the candidates do, and their share of the moves
that could have been spoken of. Among very many games some wrong one always agrees a little better than the rest; in
talks with marks a wrong one was never ahead by more than 0.25, their own one never by less than 0.5."""
_LONGEST_LIST = 0.2
"""Pairs that this share of the games have tell nothing apart."""


@dataclass(frozen=True, slots=True)
class Match:
    """A game and how it agrees with the talk.

    Attributes:
        game: of the file.
        evidence: its moves that are spoken of in order.
        rare: weight of the pairs of moves that it shares with the talk, in bits.
    """

    game: IndexedGame
    evidence: Evidence
    rare: int


@dataclass(frozen=True, slots=True)
class Found:
    """What a talk may be about.

    Attributes:
        best: the game it is about; None where none fits.
        others: runners-up, best first; where none fits, the nearest games.
        games: number of games compared with.
        skipped: games of the file that could not be read.
    """

    best: Match | None
    others: tuple[Match, ...]
    games: int
    skipped: int = 0


def which_score(speech: Speech, index: ScoresIndex) -> Found:
    """The game of an index that a talk is about.

    Args:
        speech: the talk.
        index: of the games.
    """
    weights = _candidates(_spoken_pairs(speech), index)
    matches = []
    for number, weight in weights:
        game = index.game(number)
        matches.append(Match(game, agreement(speech, game.score.start_fen, game.score.moves), weight))
    matches.sort(key=lambda match: (-match.evidence.matched, -match.evidence.share, -match.rare, match.game.number))
    if _fits(matches):
        return Found(matches[0], tuple(matches[1 : 1 + _RUNNERS_UP]), index.games)
    return Found(None, tuple(matches[:_RUNNERS_UP]), index.games)


def _fits(matches: Sequence[Match]) -> bool:
    """Whether the best one stands out from what chance and a shared opening give the others."""
    if not matches:
        return False
    evidence = matches[0].evidence
    by_chance = median([match.evidence.matched for match in matches[1:]]) if len(matches) > _RUNNERS_UP else 0
    ahead = evidence.matched - by_chance
    possible = min(evidence.plies, evidence.spoken)
    return evidence.fits and ahead >= max(_LEAST_AHEAD, _LEAST_SHARE_AHEAD * possible)


def _candidates(keys: set[int], index: ScoresIndex) -> list[tuple[int, int]]:
    """The games that share the rarest pairs with the talk, with their weights."""
    lists, weights = [], []
    for key in keys:
        games = index.with_pair(key)
        if not games or (len(games) > _LONGEST_LIST * index.games and index.games > CANDIDATES):
            continue
        lists.append(games)
        weights.append(round(log2(1 + index.games / len(games))))
    if not lists:
        return []
    # a talk's lists may name a million games, so they are counted all at once
    total = numpy.bincount(numpy.concatenate(lists), numpy.repeat(weights, [len(games) for games in lists]))
    best = numpy.argsort(-total, kind="stable")[:CANDIDATES]
    return [(int(game), int(total[game])) for game in best if total[game]]


def _spoken_pairs(speech: Speech) -> set[int]:
    """Keys of moves that are spoken of one after the other, at once or with one between them."""
    said: list[tuple[int, ...]] = []
    for stretch in speech.stretches:
        first = stretch.spoken[0]
        if first.inside or first.phrase.terms:
            continue
        for move in first.phrase.moves:
            codes = _codes(move)
            if codes:
                said.append(codes)
    found: set[int] = set()
    for distance in (1, 2):
        for ones, twos in zip(said, said[distance:], strict=False):
            found.update(pair_key(one, two) for one in ones for two in twos)
    return found


def _codes(move: Description) -> tuple[int, ...]:
    if move.castle:
        return {"short": (CASTLE_SHORT,), "long": (CASTLE_LONG,)}.get(move.castle, (CASTLE_SHORT, CASTLE_LONG))
    if move.target is None:
        return ()
    piece = "PNBRQK".index(move.piece or "P")
    targets = {move.target, move.target if move.target_for_black is None else move.target_for_black}
    return tuple(piece * 64 + target for target in sorted(targets))


def find_score(
    captions: Captions, database: Path, address: str | None = None, progress: Callable[[int], None] | None = None
) -> Found:
    """The game that a talk is about, from a file of many games; its index is kept beside the catalogue.

    Args:
        captions: of the talk.
        database: the file of games.
        address: of the catalogue; None for the user's own. For one on a server the index is kept where a file would be.
        progress: told the number of games read, where the index has to be made.

    Raises:
        ScoreError: the file cannot be read or holds no game.
        CatalogueError: the index cannot be written.
    """
    named = address or default_address()
    folder = Path(file_address() if is_server(named) else named).parent
    with closing(open_index(database, folder, progress)) as index:
        found = which_score(listen(captions.words), index)
        return replace(found, skipped=index.skipped)


def write_score(score: Score) -> str:
    """A score as PGN."""
    board = chess.Board(score.start_fen)
    game = chess.pgn.Game.from_board(board)
    for tag, value in score.headers.items():
        game.headers[tag] = value
    node: chess.pgn.GameNode = game
    for uci in score.moves:
        node = node.add_variation(chess.Move.from_uci(uci))
    return str(game) + "\n\n"

"""What a marked-up talk teaches of the words around phrases: for each phrase its features and what it truly is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import chess
from truth import Oracle, Talk, fold_of

from aligner.search.lines import Lines
from aligner.speech.leanings import Around


@dataclass(frozen=True, slots=True)
class Case:
    """A phrase of a talk.

    Attributes:
        fold: of the talk.
        what: the question, of `WEIGHED`.
        features: around it.
        true: the answer.
    """

    fold: int
    what: str
    features: frozenset[str]
    true: bool


def cases_of(talk: Talk) -> Iterator[Case]:
    """What a talk teaches."""
    speech, fold = talk.speech, fold_of(talk.name)
    oracle = Oracle(talk, Lines(chess.Board(talk.start_fen), ()))
    main = {id(node) for node in oracle.main}
    around = Around(speech.tokens)
    mentions = sorted(oracle.mentions, key=lambda mention: mention[:2])
    phrases = []
    for stretch in speech.stretches:
        one = stretch.spoken[0]
        begin, end = speech.span(one.phrase)
        phrases.append((begin, end, next(around.features(stretch))))
        if not one.inside:
            spoken_of = any(m[0] < end and m[1] > begin for m in mentions)
            yield Case(fold, "none", phrases[-1][2], not spoken_of)
    aside = False  # whether the talk is in a sideline
    for first, past, kind, nodes in mentions:
        beside = [one for one in phrases if one[0] < past and one[1] > first]
        beside = [one for one in beside if one[0] == first] or beside
        if not beside:
            continue
        features = beside[0][2]
        yield Case(fold, "again", features, kind == "again")
        if kind != "again":
            in_game = id(nodes[-1]) in main
            yield Case(fold, "back" if aside else "game", features, in_game)
            aside = not in_game

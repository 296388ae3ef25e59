"""Nothing found: what is nearest, and which condition was one too many."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any

import sqlalchemy as sa
from rapidfuzz import fuzz, process

from aligner.catalogue import tables as t
from aligner.catalogue.answers import Moment, Writer
from aligner.catalogue.find import find
from aligner.catalogue.fulltext import AnyOf
from aligner.catalogue.moves import MoveAsked
from aligner.catalogue.positions import Position, pieces, standing_term
from aligner.catalogue.question import Question
from aligner.catalogue.store import Catalogue
from aligner.catalogue.streams import fetch, stream
from aligner.catalogue.words import WordQuery

_CANDIDATES = 300
_NAME_LIKENESS = 60


@dataclass(frozen=True, slots=True)
class Nearest:
    """What comes near to a question without answers.

    Attributes:
        sentence: in what way.
        answers: the nearest ones.
    """

    sentence: str
    answers: tuple[Moment, ...]


def nearest(catalogue: Catalogue, question: Question) -> Nearest:
    """What comes nearest to a question that has no answer.

    Raises:
        CatalogueError: the database refuses.
    """
    names = _unknown_names(catalogue, question)
    if names:
        return Nearest(names, ())
    few = replace(question, limit=min(question.limit, 5))
    for leaving, rest in _with_less(few):
        answers = find(catalogue, rest)
        if answers:
            return Nearest(f"nothing fits all of it; without {leaving} there is:", answers)
    if few.position:
        return _like_position(catalogue, few.position, few.limit)
    if few.move:
        for move in _like_move(few.move):
            answers = find(catalogue, replace(few, move=move))
            if answers:
                return Nearest("nobody speaks of this move; the nearest one to it:", answers)
    return Nearest("nothing comes near to it.", ())


def _with_less(question: Question) -> list[tuple[str, Question]]:
    """The question without one of its conditions, for each of them, if it has several."""
    found: list[tuple[str, Question]] = []
    changes: tuple[tuple[str, dict[str, Any]], ...] = (
        ("the confidence", {"confidence": 0.0}),
        ("the kind", {"kinds": ()}),
        ("the dates", {"since": "", "until": ""}),
        ("the event", {"event": ""}),
        ("the players", {"players": ()}),
        ("the opening", {"opening": ""}),
        ("the words", {"words": None}),
        ("the partial position", {"partial": ()}),
        ("the sequence of moves", {"after": None}),
        ("the position", {"position": None}),
        ("the move", {"move": None}),
    )
    for what, change in changes:
        rest = replace(question, **change)
        if rest != question and (rest.about_nodes or rest.about_games or rest.words):
            found.append((what, rest))
    words = question.words
    if words and len(words.wanted) > 1:
        for phrase in words.wanted:
            kept = tuple(other for other in words.wanted if other != phrase)
            found.append((f'the word "{phrase}"', replace(question, words=WordQuery(kept, words.unwanted))))
    if words and any(" " in phrase for phrase in words.wanted):
        apart = tuple(dict.fromkeys(word for phrase in words.wanted for word in phrase.split()))
        found.append(("the quotes", replace(question, words=WordQuery(apart, words.unwanted))))
    for number in range(len(question.partial) if len(question.partial) > 1 else 0):
        kept_conditions = question.partial[:number] + question.partial[number + 1 :]
        found.append((f"condition {number + 1} of the partial position", replace(question, partial=kept_conditions)))
    return found


def _unknown_names(catalogue: Catalogue, question: Question) -> str:
    """A sentence about names that nobody in the catalogue has, with the likest ones; "" where all are known."""
    asked = [("player", name) for name in question.players]
    asked += [("event", question.event)] if question.event else []
    asked += [("opening", question.opening)] if len(question.opening) > 3 else []
    sentences = []
    with catalogue.reading() as connection:
        for role, name in asked:
            known = list(connection.execute(sa.select(t.name.c.folded).where(t.name.c.role == role)).scalars())
            if any(all(word in other for word in name.split()) for other in known):
                continue
            like = process.extract(name, known, scorer=fuzz.WRatio, limit=3, score_cutoff=_NAME_LIKENESS)
            likes = " or ".join(f'"{match[0]}"' for match in like)
            sentences.append(f'no {role} is called "{name}"' + (f"; perhaps {likes}" if likes else ""))
    return ". ".join(sentences) + ("." if sentences else "")


def _like_position(catalogue: Catalogue, position: Position, limit: int) -> Nearest:
    """Positions that share the most pieces: first with all of the pawns, then with the kings only."""
    standing = [(square, piece) for square, piece in pieces(position.placement)]
    alike: Sequence[tuple[str, set[int]]] = (
        ("the same pieces stand there, with another side to move or other rights", {1, 2, 3, 4, 5, 6}),
        ("the same pawns stand there", {1}),
        ("the same kings and rooks stand there", {4, 6}),
        ("the same kings stand there", {6}),
    )
    with catalogue.reading() as connection:
        for sentence, kinds in alike:
            required: list[AnyOf] = [
                (standing_term(piece.color, piece.piece_type, square),)
                for square, piece in standing
                if piece.piece_type in kinds
            ]

            def query(after: int, required: Sequence[AnyOf] = required) -> sa.Select[Any]:
                return catalogue.fulltext.nodes(required, after)

            if not any(piece.piece_type in kinds for _, piece in standing):
                continue
            ids = list(islice(stream(connection, query), _CANDIDATES))
            if not ids:
                continue
            wanted = {(square, piece.symbol()) for square, piece in standing}
            rows = fetch(connection, ids)
            shared = {row.id: len(wanted & {(at, one.symbol()) for at, one in pieces(row.placement)}) for row in rows}
            rows.sort(key=lambda row: (-shared[row.id], row.id))
            found = [(row, Writer.spoken(connection, row.id)) for row in rows[:limit]]
            answers = tuple(Writer(connection).moments(found, limit))
            return Nearest(f"this position was not discussed; in the nearest ones {sentence}:", answers)
    return Nearest("this position was not discussed, and none like it.", ())


def _like_move(move: MoveAsked) -> list[MoveAsked]:
    """The same move with less said of it, then the same piece to the squares beside."""
    plain = MoveAsked(move.codes)
    beside = []
    for code in move.codes:
        kind, square = divmod(code, 64)
        if kind < 6:
            file, rank = square % 8, square // 8
            beside += [
                kind * 64 + (rank + up) * 8 + file + right
                for up, right in ((0, -1), (0, 1), (-1, 0), (1, 0))
                if 0 <= rank + up < 8 and 0 <= file + right < 8
            ]
    return ([plain] if plain != move else []) + ([MoveAsked(tuple(beside))] if beside else [])

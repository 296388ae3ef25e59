"""A question to the catalogue: any combination of conditions, read and checked before anything is searched."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import chess
import sqlalchemy as sa

from aligner.catalogue import tables as t
from aligner.catalogue.moves import MoveAsked, parse_move, parse_sequence
from aligner.catalogue.patterns import Condition, parse_pattern
from aligner.catalogue.positions import Position, position_of
from aligner.catalogue.words import WordQuery, fold, parse_words
from aligner.errors import InputError, ScoreError

WHAT = ("game", "sideline", "erratum", "idea")
"""Kinds that may be asked for."""
MOST_ANSWERS = 1000
_DATE = re.compile(r"[0-9]{4}(-[0-9]{2}(-[0-9]{2})?)?")
_ECO = re.compile(r"[A-E](?:[0-9]{0,2})", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Question:
    """All conditions must hold; what is None or empty is no condition.

    Attributes:
        move: in the answer's node.
        position: of the node.
        after: the node's position, or one before it on its line.
        partial: conditions on the node's placement.
        words: said around the moment.
        opening: folded name or words of it, in any order, or a code (A to E, B9, B90).
        players: folded names or words of them, in any order; each must be one of the two players.
        event: folded name or words of it, in any order.
        since: first date, as far as it is told ("2024", "2024-05").
        until: last date, the same.
        kinds: of `WHAT`.
        confidence: the least, 0 to 1.
        limit: how many answers are wanted.
    """

    move: MoveAsked | None = None
    position: Position | None = None
    after: Position | None = None
    partial: tuple[Condition, ...] = ()
    words: WordQuery | None = None
    opening: str = ""
    players: tuple[str, ...] = ()
    event: str = ""
    since: str = ""
    until: str = ""
    kinds: tuple[str, ...] = ()
    confidence: float = 0.0
    limit: int = 20

    @property
    def about_nodes(self) -> bool:
        """Whether a move, a position or a kind is asked for, and not the words alone."""
        return bool(self.move or self.position or self.after or self.partial or self.kinds or self.confidence)

    @property
    def about_games(self) -> bool:
        """Whether anything is asked of the game's headers."""
        return bool(self.opening or self.players or self.event or self.since or self.until)


def ask(
    *,
    move: str | None = None,
    fen: str | None = None,
    after: str | None = None,
    partial: str | None = None,
    words: str | None = None,
    opening: str | None = None,
    player: Sequence[str] = (),
    event: str | None = None,
    since: str | None = None,
    until: str | None = None,
    kind: Sequence[str] = (),
    confidence: float = 0.0,
    limit: int = 20,
) -> Question:
    """A question from what a user wrote; the names are those of the command line's options.

    Raises:
        InputError: a condition says nothing, or nothing at all is asked.
    """
    if not 0 <= confidence <= 1:
        raise InputError(f"a confidence is a number from 0 to 1, and this is {confidence:g}.", "--confidence")
    if not 1 <= limit <= MOST_ANSWERS:
        raise InputError(f"the number of answers is 1 to {MOST_ANSWERS}.", "--limit")
    for one in kind:
        if one not in WHAT:
            raise InputError(f"{one!r} is no kind; choose among {', '.join(WHAT)}.", "--kind")
    question = Question(
        parse_move(move) if move is not None else None,
        _position(fen) if fen is not None else None,
        position_of(parse_sequence(after)) if after is not None else None,
        parse_pattern(partial) if partial is not None else (),
        parse_words(words) if words is not None else None,
        _named(opening, "--opening"),
        tuple(_named(name, "--player") for name in player),
        _named(event, "--event"),
        _date(since, "--since"),
        _date(until, "--until"),
        tuple(dict.fromkeys(kind)),
        confidence,
        limit,
    )
    if not (question.about_nodes or question.about_games or question.words):
        raise InputError(
            "nothing is asked; name a move, a position, words, a player, or another condition (see --help)."
        )
    return question


def _position(fen: str) -> Position:
    from aligner.pgn.fen import parse_fen

    try:
        return position_of(chess.Board(parse_fen(fen)))
    except ScoreError as error:
        raise InputError(error.what, "--fen") from None


def _named(text: str | None, option: str) -> str:
    if text is None:
        return ""
    folded = fold(text)
    if not folded:
        raise InputError("there is no name in it.", option)
    return folded


def _date(text: str | None, option: str) -> str:
    if not text:
        return ""
    plain = text.strip().replace(".", "-").replace("/", "-")
    if not _DATE.fullmatch(plain):
        raise InputError(f"{text!r} is no date; write 2024, 2024-05 or 2024-05-01.", option)
    return plain


def game_condition(question: Question) -> sa.ColumnElement[bool]:
    """The conditions on headers, on the table of games."""
    columns = t.game.c
    found: list[sa.ColumnElement[bool]] = []
    if question.opening:
        if _ECO.fullmatch(question.opening):
            code = question.opening.upper()
            found.append(sa.and_(columns.eco >= code, columns.eco < code + "~"))
        else:
            found.append(_has_name("opening", question.opening))
    found += [_has_name("player", name) for name in question.players]
    if question.event:
        found.append(_has_name("event", question.event))
    if question.since:
        found.append(columns.date >= question.since)
    if question.until:
        found.append(sa.and_(columns.date != "", columns.date < question.until + "~"))
    return sa.and_(*found)


def _has_name(role: str, folded: str) -> sa.ColumnElement[bool]:
    # "_" and "%" cannot be in a folded name, so nothing has to be escaped
    words = (t.name.c.folded.like(f"%{word}%") for word in folded.split())
    names = sa.select(t.name.c.id).where(t.name.c.role == role, *words)
    return t.game.c.id.in_(sa.select(t.game_name.c.game_id).where(t.game_name.c.name_id.in_(names)))

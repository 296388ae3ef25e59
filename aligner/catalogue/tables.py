"""The catalogue's tables, the same in SQLite and PostgreSQL; the two full-text tables stand in `fulltext`.

Ids of nodes and passages carry their rank: of two answers the better has the smaller id, so that every index hands
out its rows best first and a question stops reading as soon as it has enough.
"""

from __future__ import annotations

from collections.abc import Iterable

import sqlalchemy as sa

VERSION = 2
"""Of the schema; see `migrations`."""

LEVELS = 8
_ORDINAL_BITS, _TALK_BITS = 13, 22

MOST_NODES = 1 << _ORDINAL_BITS
MOST_TALKS = 1 << _TALK_BITS


def ranked_id(level: int, talk: int, ordinal: int) -> int:
    """The id of a node or passage.

    Args:
        level: rank, 0 (best) to 7.
        talk: the talk's id.
        ordinal: place in the talk; for nodes in preorder, so that a node's descendants follow it.
    """
    return (level << _TALK_BITS | talk) << _ORDINAL_BITS | ordinal


def short_id(ranked: int) -> int:
    """Level and ordinal as one number of 16 bits: the id within its talk."""
    return ranked >> _TALK_BITS & ~(MOST_NODES - 1) | ranked & (MOST_NODES - 1)


def long_id(short: int, talk: int) -> int:
    """The inverse of `short_id` for a talk."""
    return ranked_id(short >> _ORDINAL_BITS, talk, short & (MOST_NODES - 1))


def long_ids(shorts: Iterable[int], talk: int) -> list[int]:
    """`long_id` of many, in a fraction of the time."""
    own = talk << _ORDINAL_BITS
    return [short >> _ORDINAL_BITS << _ORDINAL_BITS + _TALK_BITS | own | short & (MOST_NODES - 1) for short in shorts]


def talk_of(ranked: int) -> int:
    """The talk of a node or passage."""
    return ranked >> _ORDINAL_BITS & (MOST_TALKS - 1)


def ordinal_of(ranked: int) -> int:
    """The place of a node or passage in its talk."""
    return ranked & (MOST_NODES - 1)


def level_of(ranked: int) -> int:
    """The rank of a node or passage."""
    return ranked >> _ORDINAL_BITS + _TALK_BITS


def talk_in(ranked: sa.ColumnElement[int]) -> sa.ColumnElement[int]:
    """`talk_of` in the database."""
    return ranked // MOST_NODES % MOST_TALKS


def talk_range(ranked: sa.ColumnElement[int], talk: int) -> sa.ColumnElement[bool]:
    """That a ranked id belongs to a talk, so that an index finds it."""
    ranges = []
    for level in range(LEVELS):
        first = ranked_id(level, talk, 0)
        ranges.append(ranked.between(first, first + MOST_NODES - 1))
    return sa.or_(*ranges)


metadata = sa.MetaData()
_Text = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")  # sorts as SQLite does
_Id = sa.BigInteger().with_variant(sa.Integer, "sqlite")


def _talk_id() -> sa.Column[int]:
    return sa.Column("talk_id", sa.Integer, sa.ForeignKey("talk.id", ondelete="CASCADE"), nullable=False)


about = sa.Table(
    "about", metadata, sa.Column("name", _Text, primary_key=True), sa.Column("value", _Text, nullable=False)
)

talk = sa.Table(
    "talk",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("name", _Text, nullable=False, unique=True),  # the record's path: adding it again replaces the talk
    sa.Column("captions", _Text, nullable=False),
    sa.Column("fingerprint", _Text, nullable=False),
    sa.Column("title", _Text),
    sa.Column("url", _Text),
    sa.Column("seconds", sa.Float, nullable=False),
    sa.Column("words", sa.Integer, nullable=False),
    sa.Column("mentions", sa.Integer, nullable=False),
    sa.Column("nodes", sa.Integer, nullable=False),
    sa.Column("digest", _Text, nullable=False),  # SHA-256 of the blocks of words
)

talk_words = sa.Table(
    "talk_words",
    metadata,
    sa.Column("talk_id", sa.Integer, sa.ForeignKey("talk.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("part", sa.SmallInteger, primary_key=True),  # so many words each that an answer unpacks few
    sa.Column("block", sa.LargeBinary, nullable=False),
)

game = sa.Table(
    "game",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),  # talk * 64 + place in the talk
    _talk_id(),
    sa.Column("white", _Text, nullable=False),
    sa.Column("black", _Text, nullable=False),
    sa.Column("event", _Text, nullable=False),
    sa.Column("date", _Text, nullable=False),  # as far as known: "2024", "2024-05", "2024-05-01" or ""
    sa.Column("eco", _Text, nullable=False),
    sa.Column("opening", _Text, nullable=False),
    sa.Column("first_number", sa.Integer, nullable=False),  # of the start position's next move
    sa.Index("game_date", "date"),
    sa.Index("game_eco", "eco"),
    sa.Index("game_talk", "talk_id"),
)

# Names are looked for as parts ("pen" finds "Penhallow"); there are far fewer of them than games.
name = sa.Table(
    "name",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("role", _Text, nullable=False),  # "player", "event", "opening"
    sa.Column("folded", _Text, nullable=False),
    sa.UniqueConstraint("role", "folded"),
)
game_name = sa.Table(
    "game_name",
    metadata,
    sa.Column("name_id", sa.Integer, sa.ForeignKey("name.id"), primary_key=True),
    sa.Column("game_id", sa.Integer, sa.ForeignKey("game.id", ondelete="CASCADE"), primary_key=True),
    sa.Index("game_name_game", "game_id"),
    sqlite_with_rowid=False,
)

node = sa.Table(
    "node",
    metadata,
    sa.Column("id", _Id, primary_key=True, autoincrement=False),
    sa.Column("game", sa.SmallInteger, nullable=False),  # place of the game in the talk
    sa.Column("placement", sa.LargeBinary, nullable=False),
    sa.Column("state", sa.SmallInteger, nullable=False),
    sa.Column("move", sa.SmallInteger),  # piece and target; NULL at the start position
    sa.Column("origin", sa.SmallInteger, nullable=False),  # square
    sa.Column("san", _Text, nullable=False),
    sa.Column("ply", sa.SmallInteger, nullable=False),
    sa.Column("below", sa.Integer, nullable=False),  # how many descendants follow in preorder
    sa.Column("line", sa.SmallInteger, nullable=False),  # 0 the game, 1 a sideline, 2 an idea, 4 more: misnamed
)

moment = sa.Table(
    "moment",
    metadata,
    sa.Column("node_id", _Id, sa.ForeignKey("node.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("number", sa.SmallInteger, primary_key=True),
    sa.Column("start", sa.Integer, nullable=False),  # milliseconds, as the length
    sa.Column("length", sa.Integer, nullable=False),
    sa.Column("kind", sa.SmallInteger, nullable=False),  # index into KINDS
    sa.Column("confidence", sa.SmallInteger, nullable=False),  # percent
    sa.Column("first_word", sa.Integer, nullable=False),
    sa.Column("words", sa.SmallInteger, nullable=False),
    sa.Column("passage", sa.Integer, nullable=False),  # level, ordinal; -1 where no words are told
    sqlite_with_rowid=False,
)
KINDS = ("move", "again", "slip", "idea", "statement")
"""Kinds of moments: those of mentions, and a false statement that names no move."""

finding = sa.Table(
    "finding",
    metadata,
    _talk_id(),
    sa.Column("number", sa.Integer, nullable=False),
    sa.Column("start", sa.Integer, nullable=False),
    sa.Column("kind", _Text, nullable=False),
    sa.Column("cause", _Text, nullable=False),
    sa.Column("message", _Text, nullable=False),
    sa.PrimaryKeyConstraint("talk_id", "number"),
    sqlite_with_rowid=False,
)

passage = sa.Table(
    "passage",
    metadata,
    sa.Column("id", _Id, primary_key=True, autoincrement=False),
    sa.Column("game", sa.SmallInteger, nullable=False),
    sa.Column("first_word", sa.Integer, nullable=False),
    sa.Column("words", sa.SmallInteger, nullable=False),
    sa.Column("heard", sa.SmallInteger, nullable=False),  # words searched with it
    sa.Column("nodes", sa.LargeBinary, nullable=False),  # spoken of in it: level, ordinal as two bytes
)

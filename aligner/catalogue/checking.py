"""Checking a catalogue: is it whole, and have the captions changed since?"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path

import chess
import sqlalchemy as sa

from aligner.captions.reading import read_captions
from aligner.catalogue import tables as t
from aligner.catalogue.positions import pieces
from aligner.catalogue.prepare import pack_nodes
from aligner.catalogue.store import Catalogue
from aligner.errors import AlignerError


def damage(catalogue: Catalogue) -> Iterator[str]:
    """What is wrong with the catalogue, a sentence each; nothing where it is whole.

    Raises:
        CatalogueError: it cannot be read at all.
    """
    with catalogue.reading() as connection:
        if connection.dialect.name == "sqlite":
            for (line,) in connection.exec_driver_sql("PRAGMA integrity_check(5)"):
                if line != "ok":
                    yield f"the file is damaged: {line}"
            for row in connection.exec_driver_sql("PRAGMA foreign_key_check"):
                yield f"a row of {row[0]} belongs to nothing"
        for number, name, words, nodes, digest in connection.execute(
            sa.select(*(t.talk.c[column] for column in ("id", "name", "words", "nodes", "digest")))
        ).all():
            for fault in _talk(connection, number, words, nodes, digest):
                yield f"{name}: {fault}; put back a copy of the catalogue, or begin another one"
    with catalogue.writing() as connection:  # FTS5 checks itself by way of an INSERT
        fault = catalogue.fulltext.damaged(connection)
    if fault:
        yield fault


def _talk(connection: sa.Connection, number: int, words: int, nodes: int, digest: str) -> Iterator[str]:
    parts = t.talk_words.c
    blocks = connection.execute(sa.select(parts.block).where(parts.talk_id == number).order_by(parts.part)).scalars()
    if hashlib.sha256(b"".join(blocks)).hexdigest() != digest:
        yield "its words are damaged"
    rows = connection.execute(sa.select(t.node.c.id, t.node.c.placement).where(t.talk_range(t.node.c.id, number))).all()
    if len(rows) != nodes or {t.ordinal_of(row[0]) for row in rows} != set(range(nodes)):
        yield f"it should have {nodes} positions and has {len(rows)}"
    for _, placement in rows:
        kings = [piece.color for _, piece in pieces(placement) if piece.piece_type == chess.KING]
        if sorted(kings) != [False, True]:
            yield "a position of it is damaged"
            break
    column = t.passage.c
    query = sa.select(column.first_word, column.words, column.nodes).where(t.talk_range(column.id, number))
    passages = sorted((row[0], row[1], row[2]) for row in connection.execute(query))
    at = 0
    for first, long, _ in passages:
        if first != at:
            break
        at = first + long
    if at != words:
        yield "its passages do not cover its words"
    known = {row[0] for row in rows}
    shorts = {pack_nodes([node]) for node in known}
    if any(packed[at : at + 2] not in shorts for _, _, packed in passages for at in range(0, len(packed), 2)):
        yield "a passage names a position that is not there"


def captions_changed(catalogue: Catalogue) -> Iterator[tuple[str, str]]:
    """By talk, how its captions differ from those it was made from: "changed", "missing" or "unreadable".

    Captions are looked for beside the record. Talks whose captions are the same are left out.

    Raises:
        CatalogueError: the catalogue cannot be read.
    """
    for talk in catalogue.talks():
        path = Path(talk.name).parent / Path(talk.captions).name
        if not talk.fingerprint:
            continue
        if not path.is_file():
            yield talk.name, "missing"
            continue
        try:
            source = read_captions(path).source
        except AlignerError:
            yield talk.name, "unreadable"
            continue
        if hashlib.sha256(source.encode("utf-8", "surrogatepass")).hexdigest() != talk.fingerprint:
            yield talk.name, "changed"

"""What the full-text index was told of a talk's passages, from the tables: to take it out again, or to tell it anew."""

from __future__ import annotations

import hashlib

import sqlalchemy as sa

from aligner.catalogue import tables as t
from aligner.catalogue.faults import DAMAGED, CatalogueError
from aligner.catalogue.fulltext import Searched
from aligner.catalogue.prepare import moves_told, searched_text, unpack_nodes
from aligner.catalogue.words import unpack


def searched(connection: sa.Connection, talk: int) -> list[Searched]:
    """A talk's passages as the index was given them, in order of id.

    Raises:
        CatalogueError: the words have changed since.
    """
    parts = t.talk_words.c
    query = sa.select(parts.block).where(parts.talk_id == talk).order_by(parts.part)
    blocks = list(connection.execute(query).scalars())
    digest = connection.execute(sa.select(t.talk.c.digest).where(t.talk.c.id == talk)).scalar()
    if hashlib.sha256(b"".join(blocks)).hexdigest() != digest:
        raise CatalogueError(DAMAGED)  # the full-text index can only be told to forget what it was told
    texts = [text for block in blocks for text in unpack(block).texts]
    node, passage = t.node.c, t.passage.c
    nodes = sa.select(node.id, node.move).where(t.talk_range(node.id, talk))
    moves = {row[0]: row[1] for row in connection.execute(nodes)}
    rows = sa.select(passage.id, passage.first_word, passage.heard, passage.nodes)
    return sorted(
        (number, searched_text(texts, first, heard), moves_told(unpack_nodes(packed, talk), moves))
        for number, first, heard, packed in connection.execute(rows.where(t.talk_range(passage.id, talk)))
    )

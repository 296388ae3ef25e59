"""The archive at a glance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import sqlalchemy as sa

from aligner.catalogue import tables as t
from aligner.catalogue.positions import Position
from aligner.catalogue.store import Catalogue

MOST_LISTED = 10
_DIAGRAMS, _DIAGRAM = 5, 132
"""Positions drawn in the picture, and the side of each in its units."""


@dataclass(frozen=True, slots=True)
class Summary:
    """What is in a catalogue.

    Attributes:
        talks: number.
        games: number.
        hours: of recordings.
        words: number.
        mentions: number.
        positions: different ones, spoken of or not.
        discussed: FEN and number of talks, of the positions that most talks speak of.
        openings: code, name and number of games, the most frequent first.
        misnamed: kind, cause and number of findings, the most frequent first.
    """

    talks: int
    games: int
    hours: float
    words: int
    mentions: int
    positions: int
    discussed: tuple[tuple[str, int], ...]
    openings: tuple[tuple[str, str, int], ...]
    misnamed: tuple[tuple[str, str, int], ...]


def summarise(catalogue: Catalogue, most: int = MOST_LISTED) -> Summary:
    """The catalogue at a glance; reads every node, so time grows with the archive.

    Args:
        catalogue: to sum up.
        most: how many positions and openings to list.

    Raises:
        CatalogueError: the database refuses.
    """
    number = sa.func.count()
    talk, node, game, finding = t.talk.c, t.node.c, t.game.c, t.finding.c
    with catalogue.reading() as connection:
        sums = (sa.func.coalesce(sa.func.sum(talk[name]), 0) for name in ("seconds", "words", "mentions"))
        talks, seconds, words, mentions = connection.execute(sa.select(number, *sums).select_from(t.talk)).one()
        games = connection.execute(sa.select(number).select_from(t.game)).scalar_one()
        # a level below the last is spoken of; the start position and unspoken moves are not
        spoken = sa.and_(node.id < t.ranked_id(t.LEVELS - 1, 0, 0), node.move.is_not(None))
        talks_with = sa.func.count(sa.distinct(sa.case((spoken, t.talk_in(node.id)))))
        # all nodes are sorted once, for their number as for the first of them
        positions = connection.execute(
            sa.select(number.over(), node.placement, node.state, talks_with)
            .group_by(node.placement, node.state)
            .order_by(talks_with.desc(), node.placement, node.state)
            .limit(max(most, 1))
        ).all()
        openings = connection.execute(
            sa.select(game.eco, game.opening, number)
            .where(game.opening != "")
            .group_by(game.eco, game.opening)
            .order_by(number.desc(), game.eco, game.opening)
            .limit(most)
        ).all()
        misnamed = connection.execute(
            sa.select(finding.kind, finding.cause, number)
            .group_by(finding.kind, finding.cause)
            .order_by(number.desc(), finding.kind, finding.cause)
        ).all()
    return Summary(
        int(talks),
        int(games),
        float(seconds) / 3600,
        int(words),
        int(mentions),
        int(positions[0][0]) if positions else 0,
        tuple(
            (Position(bytes(placement), state).fen(), int(times))
            for _, placement, state, times in positions[:most]
            if times
        ),
        tuple((eco, name, int(times)) for eco, name, times in openings),
        tuple((kind, cause, int(times)) for kind, cause, times in misnamed),
    )


def picture(summary: Summary) -> str:
    """The summary as a picture (SVG 1.1): the most discussed positions, bars for openings and for what was misnamed."""
    from xml.sax.saxutils import escape

    groups = [
        ("Most discussed openings", [(f"{eco} {name}".strip(), times) for eco, name, times in summary.openings]),
        ("Misnamed, by kind and cause", [(f"{kind} ({cause})", times) for kind, cause, times in summary.misnamed[:12]]),
    ]
    head = (
        f"{summary.talks:,} talks, {summary.hours:,.1f} hours, {summary.mentions:,} mentions, "
        f"{summary.positions:,} positions"
    )
    parts = [f'<text x="20" y="34" font-size="18" font-weight="bold">{escape(head)}</text>']
    y = 70
    if summary.discussed:
        parts.append(_diagrams(summary.discussed[:_DIAGRAMS], y))
        y += _DIAGRAM + 60
    for title, bars in groups:
        parts.append(f'<text x="20" y="{y}" font-size="15" font-weight="bold">{escape(title)}</text>')
        y += 12
        most = max((times for _, times in bars), default=1)
        for label, times in bars:
            width = 380 * times / most
            shown = label if len(label) <= 38 else label[:37] + "…"
            parts.append(
                f'<text x="270" y="{y + 14}" text-anchor="end" font-size="13">{escape(shown)}</text>'
                f'<rect x="280" y="{y + 2}" width="{width:.1f}" height="15" fill="#4a6a7c"/>'
                f'<text x="{286 + width:.1f}" y="{y + 14}" font-size="12">{times:,}</text>'
            )
            y += 21
        if not bars:
            parts.append(f'<text x="20" y="{y + 14}" font-size="13">none</text>')
            y += 21
        y += 30
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'width="760" height="{y}" viewBox="0 0 760 {y}" '
        'font-family="sans-serif" role="img">'
        f'<title>{escape(head)}</title><rect width="760" height="{y}" fill="#ffffff"/>{"".join(parts)}</svg>\n'
    )


def _diagrams(discussed: Sequence[tuple[str, int]], y: int) -> str:
    """The positions side by side, White below, with the number of talks under each."""
    from aligner.page.pieces import SIDE, piece_symbols, standing

    parts = [
        f'<defs>{piece_symbols()}</defs><text x="20" y="{y}" font-size="15" font-weight="bold">'
        "Positions that most talks speak of</text>"
    ]
    dark = "".join(
        f"M{SIDE * file} {SIDE * rank}h{SIDE}v{SIDE}h-{SIDE}z"
        for rank in range(8)
        for file in range(8)
        if (rank + file) % 2
    )
    for place, (fen, talks) in enumerate(discussed):
        x = 20 + place * (_DIAGRAM + 15)
        pieces = "".join(
            f'<use xlink:href="#piece-{letter}" width="{SIDE}" height="{SIDE}" x="{SIDE * file}" y="{SIDE * rank}"/>'
            for letter, file, rank in standing(fen)
        )
        parts.append(
            f'<svg x="{x}" y="{y + 10}" width="{_DIAGRAM}" height="{_DIAGRAM}" viewBox="0 0 {8 * SIDE} {8 * SIDE}">'
            f'<title>{fen}</title><rect width="100%" height="100%" fill="#e6ebee"/>'
            f'<path fill="#a9bac4" d="{dark}"/>{pieces}</svg>'
            f'<text x="{x}" y="{y + _DIAGRAM + 26}" font-size="12">{talks:,} talk{"" if talks == 1 else "s"}</text>'
        )
    return "".join(parts)

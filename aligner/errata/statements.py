"""False statements of a talk: checked against every position they may be about; only what is false in all counts."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt
from pathlib import Path

from aligner.engine import Engine
from aligner.errata.about_moves import announced
from aligner.errata.about_names import misnamed_beside
from aligner.errata.about_numbers import lengths, numbers
from aligner.errata.about_positions import castling, colours, material, mates_in, only_moves, standing, turns
from aligner.errata.about_sides import movers, players
from aligner.errata.claim import Claim, Hearing
from aligner.errata.discussion import Discussion
from aligner.errata.left_out import left_out
from aligner.errata.put_right import put_right
from aligner.record.model import Finding, Game
from aligner.speech.listen import Speech

LEAST = 0.7
"""Confidence from which a statement is reported: below it false alarms come more often than one in 20 minutes."""


def false_statements(
    speech: Speech,
    game: Game,
    *,
    at_least: float = LEAST,
    engine: Path | None = None,
    known: bool = True,
) -> tuple[Finding, ...]:
    """The statements of a talk that the board proves wrong, in order of time.

    Args:
        speech: the talk as heard; its words are those of the record.
        game: with nodes and mentions.
        at_least: confidence from which a statement is reported.
        engine: a UCI engine for "mate in N" beyond two moves.
        known: whether the score was given; without it a move named otherwise is as often the record's mistake.

    Raises:
        InputError: the engine cannot be used.
    """
    hearing = Hearing(speech, speech.wordings(), Discussion(game))
    player = Engine(engine) if engine is not None else None
    try:
        claims = [
            *announced(hearing), *numbers(hearing), *lengths(hearing), *colours(hearing), *standing(hearing),
            *material(hearing), *turns(hearing), *movers(hearing), *players(hearing),
            *castling(hearing), *only_moves(hearing),
            *mates_in(hearing, player),
        ]  # fmt: skip
        if known:
            claims += [*misnamed_beside(hearing), *put_right(hearing), *left_out(hearing)]
    finally:
        if player is not None:
            player.close()
    kept = [claim for claim in (_weighed(hearing, claim) for claim in claims) if claim.confidence >= at_least]
    kept.sort(key=lambda claim: (claim.start, claim.end, claim.kind))
    return tuple(_finding(hearing, claim) for claim in kept)


def _weighed(hearing: Hearing, claim: Claim) -> Claim:
    """The claim with its confidence lowered where the record itself is in doubt.

    A square's colour needs no record, and a move number is right in a record that has the move before it wrong.
    """
    if claim.kind == "colour":
        return claim
    trust = min(hearing.discussion.trust(hearing.word(claim.start)), 1.0)
    return replace(claim, confidence=claim.confidence * (sqrt(trust) if claim.kind == "number" else trust))


def _finding(hearing: Hearing, claim: Claim) -> Finding:
    words = hearing.speech.words
    first, last = hearing.word(claim.start), hearing.word(claim.end - 1) + 1
    return Finding(
        start=words[first].start / 1000,
        end=words[last - 1].end / 1000,
        said=" ".join(word.text for word in words[first:last]),
        words=(first, last),
        kind=claim.kind,
        cause=claim.cause,
        meant=claim.meant,
        confidence=round(claim.confidence, 4),
        message=claim.message,
        fen=claim.fen,
    )

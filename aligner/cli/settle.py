"""Decide one doubt from a script: `aligner settle`."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from aligner.cli.source import Engine, Fen, Force, Game, GameNumber, Prices, Quiet
from aligner.cli.terminal import progress_on_terminal, put, say
from aligner.errors import InputError
from aligner.record.printing import clean, clock


class Where(StrEnum):
    """Where a settled move stands."""

    game = "game"
    line = "line"


def settle(
    captions: Annotated[Path, typer.Argument(metavar="CAPTIONS", help="The talk's captions.")],
    at: Annotated[str, typer.Option("--at", metavar="TIME", help="When the words are spoken: 7:12 or 1:07:12.")],
    decision: Annotated[
        str | None,
        typer.Option(
            "--as", metavar="MOVE", help="The move in SAN; or: none, back (in the game), right or wrong (a finding)."
        ),
    ] = None,
    where: Annotated[
        Where | None, typer.Option("--in", help="Whether it is a move of the game or of a line; else the likelier.")
    ] = None,
    line: Annotated[
        str | None,
        typer.Option("--line", metavar="MOVES", help='All moves from the start, "1. e4 e5 2. Nf3", to be exact.'),
    ] = None,
    unspoken: Annotated[
        bool, typer.Option("--unspoken", help="It is the move that nobody spoke, before the words spoken then.")
    ] = False,
    words: Annotated[
        str | None, typer.Option("--words", metavar="WORDS", help="The words meant, where several are spoken then.")
    ] = None,
    forget: Annotated[bool, typer.Option("--forget", help="Take back what was settled about these words.")] = False,
    game: Game = None,
    game_number: GameNumber = None,
    fen: Fen = None,
    force: Force = False,
    prices: Prices = None,
    engine: Engine = None,
    quiet: Quiet = False,
) -> None:
    """Decide what some words of a talk speak of, for good: later verbs take it into account.

    The decision is kept beside the captions, in TALK.settled.toml. What else has changed with it is printed.
    """
    if forget == (decision is not None or line is not None):
        raise InputError("give either --as (or --line) to decide, or --forget to take a decision back.")
    if unspoken and (forget or where is not None):
        raise InputError("--unspoken names a move to settle; leave out --in and --forget.")
    from aligner.desk.opening import open_talk
    from aligner.desk.settling import forget_at, settle_at
    from aligner.pins.sidecar import clock_value

    time = clock_value(at)
    if time is None:
        raise InputError(f"--at {at!r} is no time; write it like 7:12 or 1:07:12.")
    talk = open_talk(captions, game, game_number, fen, force=force, prices=prices, remembers=True, engine=engine)
    talk.align(progress=None if quiet else progress_on_terminal())
    in_game = None if where is None else where is Where.game
    if forget:
        done = forget_at(talk, time, words or "")
    else:
        done = settle_at(talk, time, words or "", decision or "", in_game, line or "", unspoken)
    changes = talk.align(progress=None if quiet else progress_on_terminal())
    if not quiet:
        say(clean(done))
    for change in changes:
        put(f'{clock(change.start)} "{clean(change.text)}": {change.before} -> {change.after}\n')

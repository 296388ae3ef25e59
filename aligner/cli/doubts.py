"""What is doubtful in a talk, the most telling first: `aligner doubts`."""

from __future__ import annotations

import json as json_format
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from aligner.cli.source import Engine, Fen, Force, Game, GameNumber, Prices, Quiet
from aligner.cli.terminal import progress_on_terminal, put, say
from aligner.record.printing import clean, clock


def doubts(
    captions: Annotated[Path, typer.Argument(metavar="CAPTIONS", help="The talk's captions.")],
    game: Game = None,
    game_number: GameNumber = None,
    fen: Fen = None,
    force: Force = False,
    prices: Prices = None,
    engine: Engine = None,
    json: Annotated[bool, typer.Option("--json", help="JSON instead of a table.")] = False,
    most: Annotated[int, typer.Option("--most", metavar="N", min=1, help="No more than so many.")] = 40,
    quiet: Quiet = False,
) -> None:
    """List what is doubtful in a talk, the doubt whose answer clears up most first.

    Each with its time, its words and what they may speak of; without a score also the moves of the game that nobody
    spoke, and which they may have been. Decide one with `aligner settle` (an unspoken one with its `--unspoken`), or
    all of them in the browser with `aligner desk`.
    """
    from aligner.desk.opening import open_talk

    talk = open_talk(captions, game, game_number, fen, force=force, prices=prices, engine=engine)
    talk.align(progress=None if quiet else progress_on_terminal())
    rows = talk.aligned.view.doubts[:most]
    if json:
        put(json_format.dumps([asdict(row) for row in rows], indent=2, ensure_ascii=False) + "\n")
        return
    for row in rows:
        answers = "; or ".join(f"{answer.name} {answer.probability:.2f}" for answer in row.answers)
        spoken, unspoken = f'"{clean(row.text)}"', f"unspoken, {clean(row.text)}"
        asked = unspoken if row.kind == "inferred" else spoken
        put(f"{clock(row.start)} {asked}: {answers} (worth {row.worth:.1f})\n")
    if not quiet:
        for note in talk.record.notes:
            say(f"note: {clean(note)}")
        say(f"{len(rows)} doubts, {len(talk.pins)} settled decisions")

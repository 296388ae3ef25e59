"""Captions in which moves are spelt right: `aligner captions`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from aligner.cli.source import Fen, Force, Game, GameNumber, Prices, Quiet
from aligner.cli.terminal import progress_on_terminal, put, say
from aligner.errors import InputError
from aligner.files import check_outputs, write_files
from aligner.record.printing import clock

LISTED = 12
"""So many changes are listed on standard error."""


def captions(
    captions: Annotated[
        Path, typer.Argument(metavar="CAPTIONS", help="WebVTT, SubRip, SBV, or text lines that begin [m:ss].")
    ],
    game: Game = None,
    game_number: GameNumber = None,
    fen: Fen = None,
    out: Annotated[
        Path | None,
        typer.Option("-o", "--out", metavar="FIXED", help="Corrected captions (.vtt, .srt); else standard output."),
    ] = None,
    spelling: Annotated[
        str, typer.Option("--spelling", metavar="spoken|symbols", help='"knight takes e5" or "Nxe5".')
    ] = "spoken",
    note_slips: Annotated[
        bool, typer.Option("--note-slips", help="Mark what the speaker misnamed with the move that was meant.")
    ] = False,
    at_least: Annotated[
        float, typer.Option("--at-least", min=0.0, max=1.0, help="Confidence from which a word is changed.")
    ] = 0.3,
    force: Force = False,
    prices: Prices = None,
    quiet: Quiet = False,
) -> None:
    """Write the captions with misheard moves put right; all else stays byte for byte as it was.

    What the speaker misnamed stays as said. Running it on its own output changes nothing.
    """
    if spelling not in ("spoken", "symbols"):
        raise InputError(f"there is no spelling {spelling!r}; choose spoken or symbols.", "--spelling")
    if game_number is not None and game is None:
        raise InputError("--game-number chooses a game of a score; give the score too, with --game.")
    inputs = [path for path in (captions, game, prices) if path is not None]
    check_outputs([out] if out is not None else [], inputs)

    from aligner.captions import Captions, read_captions
    from aligner.captions.conversion import converted, format_of_name
    from aligner.pgn.fen import parse_fen
    from aligner.pgn.reader import read_scores
    from aligner.pins.sidecar import read_pins, sidecar_of
    from aligner.record.model import Record

    start_fen = parse_fen(fen) if fen is not None else None
    talk = read_captions(captions)
    pins = read_pins(sidecar_of(captions))
    wanted = format_of_name(out.name, talk.format) if out is not None else talk.format
    scores = read_scores(game) if game is not None else ()

    from aligner.errata.correct import corrected
    from aligner.pipeline import align

    def aligned(now: Captions) -> Record:
        return align(
            now, scores, start_fen=start_fen, game_number=game_number, force=force, prices=prices, pins=pins,
            progress=None if quiet else progress_on_terminal(),
        )  # fmt: skip

    text, changes = corrected(talk, aligned, spelling=spelling, note_slips=note_slips, at_least=at_least)
    text = converted(text, talk.name, wanted)
    if captions.read_bytes().startswith(b"\xef\xbb\xbf"):
        text = "\ufeff" + text
    if out is None:
        put(text)
    else:
        write_files({out: text})
    if not quiet:
        for change in changes[:LISTED]:
            say(f'{clock(change.start / 1000)} "{change.before}" -> "{change.after}"')
        more = f", {LISTED} of them listed" if len(changes) > LISTED else ""
        say(f"{len(changes)} {'place' if len(changes) == 1 else 'places'} changed{more}")

"""The chapters of a talk: `aligner chapters`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from aligner.cli.source import Fen, Force, Game, GameNumber, Prices, Quiet, Source, Title, record_from
from aligner.cli.terminal import put, say
from aligner.errors import InputError
from aligner.files import check_outputs, write_files


def chapters(
    source: Source,
    game: Game = None,
    game_number: GameNumber = None,
    fen: Fen = None,
    out: Annotated[
        Path | None,
        typer.Option("-o", "--out", metavar="CHAPTERS.vtt", help="WebVTT chapters; with .txt the plain list."),
    ] = None,
    list_file: Annotated[
        Path | None, typer.Option("--list", metavar="CHAPTERS.txt", help="The plain list of times and titles.")
    ] = None,
    at_most: Annotated[
        int | None, typer.Option("--at-most", metavar="N", min=1, help="How many chapters; else what suits the length.")
    ] = None,
    title: Title = None,
    force: Force = False,
    prices: Prices = None,
    quiet: Quiet = False,
) -> None:
    """Write the chapters of a talk: WebVTT by the W3C standard, and a plain list of times and titles.

    The list goes to standard output where no file is named.
    """
    outputs = [path for path in (out, list_file) if path is not None]
    check_outputs(outputs, inputs=[path for path in (source, game, prices) if path is not None])
    record = record_from(
        source, game=game, game_number=game_number, fen=fen, title=title, force=force, prices=prices, quiet=quiet
    )

    from aligner.chapters import chapter_list, chapter_track, choose

    chosen = choose(record, at_most)
    if not chosen:
        raise InputError("the talk lasts no time, so it has no chapters; check the times of its captions.", source.name)
    listed = chapter_list(chosen)
    texts: dict[Path, str] = {}
    if out is not None:
        texts[out] = listed if out.suffix.lower() == ".txt" else chapter_track(chosen)
    if list_file is not None:
        texts[list_file] = listed
    write_files(texts)
    if not texts:
        put(listed)
    elif not quiet:
        say(listed.rstrip("\n"))

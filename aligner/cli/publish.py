"""Everything about a talk in a folder: `aligner publish`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from aligner.cli.source import Fen, Force, Game, GameNumber, Prices, Quiet, Source, Title, is_record, record_from
from aligner.cli.terminal import say


def publish(
    source: Source,
    out: Annotated[Path, typer.Option("-o", "--out", metavar="FOLDER", help="Folder; made where it is missing.")],
    game: Game = None,
    game_number: GameNumber = None,
    fen: Fen = None,
    media: Annotated[
        str | None, typer.Option("--media", metavar="FILE|URL", help="The sound or film, for the replay page.")
    ] = None,
    title: Title = None,
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="Replace also files that were not published from here, or were edited.")
    ] = False,
    force: Force = False,
    prices: Prices = None,
    quiet: Quiet = False,
) -> None:
    """Write all there is to hand out about a talk into a folder, with an index page.

    Replay page, notes, annotated PGN, chapters, picture, errata and record; what else is in the folder stays.
    """
    # what follows loads slowly, and a folder that cannot be used is told first
    from aligner.publish.folder import check_folder, write_folder

    check_folder(out)
    record = record_from(
        source,
        game=game,
        game_number=game_number,
        fen=fen,
        title=title,
        media=media,
        force=force,
        prices=prices,
        quiet=quiet,
    )

    from aligner.publish.parts import Talk, file_stem, make

    captions = None if is_record(source) else source
    texts = make(Talk(record, file_stem(record), out, media, captions))
    write_folder(out, texts, overwrite)
    if not quiet:
        say(f"{len(texts)} files in {out}; begin with {out / 'index.html'}")

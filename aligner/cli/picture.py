"""The picture of a talk: `aligner picture`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from aligner.cli.source import Fen, Force, Game, GameNumber, Prices, Quiet, Source, Title, record_from
from aligner.errors import InputError
from aligner.files import check_outputs, write_files


def picture(
    source: Source,
    out: Annotated[Path, typer.Option("-o", "--out", metavar="TALK.svg", help="The picture.")],
    link: Annotated[
        str | None,
        typer.Option("--link", metavar="ADDRESS", help="The page or recording that a press on the picture opens."),
    ] = None,
    game: Game = None,
    game_number: GameNumber = None,
    fen: Fen = None,
    title: Title = None,
    force: Force = False,
    prices: Prices = None,
    quiet: Quiet = False,
) -> None:
    """Draw the talk in one picture: time across, the game's moves upward, sidelines where they leave it.

    An SVG file; with --link each part of it leads to its moment there. Without, the recording's address is taken
    from the record, where it has one.
    """
    check_outputs([out], inputs=[path for path in (source, game, prices) if path is not None])
    if link is not None:
        _check_link(link)
    record = record_from(
        source,
        game=game,
        game_number=game_number,
        fen=fen,
        title=title,
        force=force,
        prices=prices,
        quiet=quiet,
    )

    from aligner.page.media import is_address
    from aligner.page.picture import write_picture

    recorded = record.recording.url or ""
    write_files({out: write_picture(record, link or (recorded if is_address(recorded) else ""))})


def _check_link(link: str) -> None:
    from aligner.page.media import is_address, is_relative

    if "#" in link or not (is_address(link) or is_relative(link)):
        what = f"the link {link!r} must be an address (http or https) or a file beside the picture, without '#'."
        raise InputError(what)

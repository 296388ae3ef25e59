"""The replay page: `aligner page`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from aligner.cli.source import Fen, Force, Game, GameNumber, Prices, Quiet, Source, Title, record_from
from aligner.cli.terminal import say
from aligner.files import check_outputs, write_files


def page(
    source: Source,
    out: Annotated[Path, typer.Option("-o", "--out", metavar="TALK.html", help="The page.")],
    media: Annotated[
        str | None, typer.Option("--media", metavar="FILE|URL", help="The sound or film; else the page is silent.")
    ] = None,
    game: Game = None,
    game_number: GameNumber = None,
    fen: Fen = None,
    title: Title = None,
    force: Force = False,
    prices: Prices = None,
    quiet: Quiet = False,
) -> None:
    """Write the replay page: words, board, moves and recording in one file, for any browser.

    The page needs no network; it plays the recording from where it is, and without one follows a silent clock.
    """
    from aligner.page.media import is_address, recorded
    from aligner.page.media import media as media_for

    inputs = [path for path in (source, game, prices) if path is not None]
    playing = None if media is None else media_for(media, out)
    if media is not None and not is_address(media):
        inputs.append(Path(media))
    check_outputs([out], inputs=inputs)
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

    from aligner.page.page import write_page
    from aligner.pgn.writer import write_pgn

    text = write_page(record, pgn=write_pgn(record), media=playing or recorded(record.recording.url))
    write_files({out: text})
    if media is not None and not is_address(media) and not Path(media).is_file() and not quiet:
        say(f"note: there is no recording {media} yet; the page plays silently until there is.")

"""The hand-out of a talk: `aligner notes`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from aligner.cli.source import Fen, Force, Game, GameNumber, Prices, Quiet, Source, Title, record_from
from aligner.errors import InputError
from aligner.files import check_outputs, write_files

_HTML, _MARKDOWN = {".html", ".htm", ".xhtml"}, {".md", ".markdown", ".txt"}


def notes(
    source: Source,
    out: Annotated[
        Path, typer.Option("-o", "--out", metavar="NOTES.md|NOTES.html", help="Markdown or HTML, by the name's ending.")
    ],
    game: Game = None,
    game_number: GameNumber = None,
    fen: Fen = None,
    link: Annotated[
        str | None,
        typer.Option("--link", metavar="ADDRESS", help="Where times lead to: the replay page, or else the recording."),
    ] = None,
    title: Title = None,
    media: Annotated[str | None, typer.Option("--media", metavar="URL", help="Address of the sound or film.")] = None,
    force: Force = False,
    prices: Prices = None,
    quiet: Quiet = False,
) -> None:
    """Write the hand-out of a talk: the game with its remarks in edited paragraphs, diagrams, sidelines, errata."""
    ending = out.suffix.lower()
    if ending not in _HTML | _MARKDOWN:
        raise InputError("notes are HTML or Markdown; end the name of the output in .html or .md.", out.name)
    check_outputs([out], inputs=[path for path in (source, game, prices) if path is not None])
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

    from aligner.notes import notes_html, notes_markdown, take_notes

    taken = take_notes(record)
    write_files({out: notes_html(taken, link) if ending in _HTML else notes_markdown(taken, link)})

"""Where was it discussed? `aligner find`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from aligner.cli.catalogue import Address
from aligner.cli.terminal import put, say
from aligner.errors import InputError
from aligner.files import check_outputs, write_files

FORMATS = ("table", "json", "csv", "page")


def find(
    said: Annotated[str | None, typer.Argument(metavar="MOVE", help="The same as --move.")] = None,
    move: Annotated[str | None, typer.Option("--move", metavar="MOVE", help='"Nf5", or "knight to f5".')] = None,
    fen: Annotated[str | None, typer.Option("--fen", metavar="FEN", help="A position, by any order of moves.")] = None,
    after: Annotated[
        str | None, typer.Option("--after", metavar="MOVES", help='"e4 c5 Nf3", and all from there.')
    ] = None,
    partial: Annotated[
        str | None,
        typer.Option("--partial", metavar="PIECES", help='"white knight d5, no light-squared bishops, pc5".'),
    ] = None,
    words: Annotated[
        str | None, typer.Option("--words", metavar="WORDS", help='All of them; "in a row" in quotes, -not.')
    ] = None,
    opening: Annotated[str | None, typer.Option("--opening", metavar="NAME|CODE", help="Or part of it: B9.")] = None,
    player: Annotated[
        list[str] | None, typer.Option("--player", metavar="NAME", help="Or part of it; twice: both.")
    ] = None,
    event: Annotated[str | None, typer.Option("--event", metavar="NAME", help="Or part of it.")] = None,
    since: Annotated[str | None, typer.Option("--since", metavar="DATE", help="2024, 2024-05 or 2024-05-01.")] = None,
    until: Annotated[str | None, typer.Option("--until", metavar="DATE", help="The same.")] = None,
    kind: Annotated[
        list[str] | None, typer.Option("--kind", metavar="KIND", help="game, sideline, erratum, idea; may be repeated.")
    ] = None,
    confidence: Annotated[float, typer.Option("--confidence", metavar="0..1", help="The least.")] = 0.0,
    limit: Annotated[int, typer.Option("--limit", metavar="N", help="How many answers.")] = 20,
    form: Annotated[
        str, typer.Option("--format", metavar="table|json|csv|page", help="A page plays the moments, in HTML.")
    ] = "table",
    out: Annotated[Path | None, typer.Option("-o", "--out", metavar="FILE", help="Else standard output.")] = None,
    address: Address = None,
) -> None:
    """Find every moment that fits all conditions in the catalogue, the best first."""
    if form not in FORMATS:
        raise InputError(f"there is no format {form!r}; choose one of {', '.join(FORMATS)}.", "--format")
    if said is not None and move is not None:
        raise InputError("the move is told twice; tell it once.", "--move")
    if out is not None:
        check_outputs([out])

    from aligner.catalogue.find import find as find_moments
    from aligner.catalogue.listing import to_csv, to_json, to_page, to_table
    from aligner.catalogue.nearest import nearest
    from aligner.catalogue.question import ask
    from aligner.catalogue.store import open_catalogue

    question = ask(
        move=said if move is None else move, fen=fen, after=after, partial=partial, words=words, opening=opening,
        player=player or (), event=event, since=since, until=until, kind=kind or (), confidence=confidence, limit=limit,
    )  # fmt: skip
    sentence = ""
    with open_catalogue(address) as store:
        moments = find_moments(store, question)
        if not moments:
            near = nearest(store, question)
            moments, sentence = near.answers, near.sentence
            say(f"Nothing was found: {sentence}")
    if form == "json":
        text = to_json(moments, sentence)
    elif form == "csv":
        text = to_csv(moments)
    elif form == "page":
        text = to_page(moments, "Moments found", f"Nothing was found: {sentence}" if sentence else "")
    else:
        text = to_table(moments)
        text += "\n" if text else ""
        if len(moments) == limit:
            say(f"these are the first {limit}; ask for more with --limit")
    if out is None:
        put(text)
    else:
        write_files({out: text})

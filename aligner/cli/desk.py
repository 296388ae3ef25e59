"""Settle doubts in the browser: `aligner desk`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from aligner.cli.source import Engine, Fen, Force, Game, GameNumber, Prices, Quiet, Title
from aligner.cli.terminal import say
from aligner.errors import InputError
from aligner.files import check_outputs, write_files

if TYPE_CHECKING:
    from aligner.desk.talk import Talk


def desk(
    captions: Annotated[Path, typer.Argument(metavar="CAPTIONS", help="The talk's captions.")],
    game: Game = None,
    game_number: GameNumber = None,
    fen: Fen = None,
    media: Annotated[
        Path | None, typer.Option("--media", metavar="FILE", help="The recording, to listen to the doubtful places.")
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option("-o", "--out", metavar="OUT.pgn", help="The annotated PGN; else TALK.annotated.pgn."),
    ] = None,
    json: Annotated[Path | None, typer.Option("--json", metavar="OUT.json", help="The alignment record too.")] = None,
    title: Title = None,
    force: Force = False,
    prices: Prices = None,
    engine: Engine = None,
    port: Annotated[int, typer.Option("--port", metavar="N", min=0, max=65535, help="Else any that is free.")] = 0,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the browser.")] = True,
    quiet: Quiet = False,
) -> None:
    """Settle what is doubtful in a talk in the browser, one key a doubt.

    The page is served to this machine only, at an address that nobody can guess. Every decision is kept at once in
    TALK.settled.toml beside the captions. "Write the outputs" on the page writes the PGN, and the record with --json.
    """
    target = out if out is not None else captions.with_name(f"{captions.stem}.annotated.pgn")
    outputs = [path for path in (target, json) if path is not None]
    inputs = [path for path in (captions, game, media, prices, engine) if path is not None]
    check_outputs(outputs, inputs)
    if media is not None and not media.is_file():
        raise InputError("there is no such recording; name its file.", str(media))

    from aligner.desk.opening import open_talk
    from aligner.desk.serving import serve

    talk = open_talk(
        captions, game, game_number, fen, title=title, media=str(media) if media else None, force=force, prices=prices,
        remembers=True, engine=engine,
    )  # fmt: skip

    def finish(done: Talk) -> str:
        from aligner.pgn.writer import write_pgn
        from aligner.record.document import record_to_json

        texts = {target: write_pgn(done.record)}
        if json is not None:
            texts[json] = record_to_json(done.record)
        write_files(texts)
        return f"Written: {', '.join(path.name for path in texts)}."

    def opened(address: str) -> None:
        say(f"the desk is open at {address}")
        if browser:
            import webbrowser

            webbrowser.open(address)

    serve(talk, media, port, finish, opened)
    if not quiet:
        say(f"the desk is closed; {len(talk.pins)} decisions are kept in {talk.sidecar.name}")

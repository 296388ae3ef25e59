"""The main job: `aligner align`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from aligner.cli.source import Engine
from aligner.cli.terminal import progress_on_terminal, put, say
from aligner.collection import collection_paused
from aligner.errors import InputError
from aligner.files import check_outputs, write_files


@collection_paused()
def align(
    captions: Annotated[
        Path, typer.Argument(metavar="CAPTIONS", help="WebVTT, SubRip, SBV, or text lines that begin [m:ss].")
    ],
    game: Annotated[
        Path | None, typer.Option("--game", metavar="SCORE.pgn", help="The game's score, where there is one.")
    ] = None,
    game_number: Annotated[
        int | None,
        typer.Option("--game-number", metavar="N", min=1, help="Which game of the score; else the one that fits."),
    ] = None,
    scores: Annotated[
        Path | None, typer.Option("--scores", metavar="DATABASE.pgn", help="Many games; the talk's own is found in it.")
    ] = None,
    fen: Annotated[
        str | None, typer.Option("--fen", metavar="FEN", help="The start position, where there is no score.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option("-o", "--out", metavar="OUT.pgn", help="The annotated PGN; else standard output.")
    ] = None,
    json: Annotated[
        Path | None, typer.Option("--json", metavar="OUT.json", help="The alignment record, with every doubt.")
    ] = None,
    title: Annotated[str | None, typer.Option("--title", metavar="T", help="Title of the talk.")] = None,
    media: Annotated[
        str | None, typer.Option("--media", metavar="URL", help="Address of the sound or film, for the PGN.")
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Align even where captions and score don't belong together.")
    ] = False,
    prices: Annotated[
        Path | None, typer.Option("--prices", metavar="FILE", help="Other prices than the fitted ones.")
    ] = None,
    engine: Engine = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No summary and no progress.")] = False,
) -> None:
    """Align captions with a game: the annotated PGN with times, sidelines and doubts.

    Captions and the game's score go in; without a score the game is found from the talk alone. A summary goes to
    standard error.
    """
    outputs = [path for path in (out, json) if path is not None]
    check_outputs(outputs, inputs=[path for path in (captions, game, scores, prices, engine) if path is not None])
    if game_number is not None and game is None:
        raise InputError("--game-number chooses a game of a score; give the score too, with --game.")

    if scores is not None and (game is not None or fen is not None):
        raise InputError("--scores finds the game; leave out --game and --fen.")
    if engine is not None and (game is not None or scores is not None):
        raise InputError("--engine only weighs moves that nobody spoke, where there is no score; leave it out.")

    # what follows loads slowly; help and usage errors never wait for it
    from aligner.captions import read_captions
    from aligner.cli.summary import summarise
    from aligner.engine import engine_at
    from aligner.pgn.fen import parse_fen
    from aligner.pgn.reader import read_scores
    from aligner.pgn.writer import write_pgn
    from aligner.pins.sidecar import read_pins, sidecar_of
    from aligner.record.document import record_to_json

    player = engine_at(engine)
    start_fen = parse_fen(fen) if fen is not None else None
    talk = read_captions(captions)
    pins = read_pins(sidecar_of(captions))
    known = read_scores(game) if game is not None else ()

    # spaCy loads slowest of all: only once the input has been found usable
    from aligner.pipeline import align as align_talk

    if scores is not None:
        from aligner.cli.score import the_score

        known = (the_score(talk, scores),)
    record = align_talk(
        talk,
        known,
        start_fen=start_fen,
        game_number=game_number,
        title=title,
        url=media,
        force=force,
        prices=prices,
        pins=pins,
        engine=player,
        progress=None if quiet else progress_on_terminal(),
    )
    pgn = write_pgn(record)
    texts: dict[Path, str] = {}
    if json is not None:
        texts[json] = record_to_json(record)
    if out is not None:
        texts[out] = pgn
    write_files(texts)
    if out is None:
        put(pgn)
    if not quiet:
        say(summarise(record))

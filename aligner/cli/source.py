"""What every view is made from: a record that is there already, or one that is aligned first."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Annotated

import typer

from aligner.cli.terminal import progress_on_terminal
from aligner.errors import InputError, RecordError
from aligner.record.model import Record

Source = Annotated[
    Path, typer.Argument(metavar="CAPTIONS|RECORD.json", help="The talk's captions, or the record of an alignment.")
]
Game = Annotated[Path | None, typer.Option("--game", metavar="SCORE.pgn", help="The game's score, where there is one.")]
GameNumber = Annotated[
    int | None,
    typer.Option("--game-number", metavar="N", min=1, help="Which game of the score; else the one that fits."),
]
Fen = Annotated[str | None, typer.Option("--fen", metavar="FEN", help="The start position, where there is no score.")]
Title = Annotated[str | None, typer.Option("--title", metavar="T", help="Title of the talk.")]
Force = Annotated[bool, typer.Option("--force", help="Align even where captions and score don't belong together.")]
Prices = Annotated[Path | None, typer.Option("--prices", metavar="FILE", help="Other prices than the fitted ones.")]
Engine = Annotated[
    Path | None,
    typer.Option("--engine", metavar="PATH", help="A UCI engine, to weigh moves nobody spoke where there's no score."),
]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="No messages and no progress.")]

_HEAD = 4096


def is_record(path: Path) -> bool:
    """Whether a file is JSON, so to be read as a record: by its name, else by its first sign; no captions begin so."""
    if path.suffix.lower() == ".json":
        return True
    try:
        with path.open("rb") as file:
            return file.read(_HEAD).removeprefix(b"\xef\xbb\xbf").lstrip().startswith(b"{")
    except OSError:
        return False


def record_from(
    path: Path,
    *,
    game: Path | None = None,
    game_number: int | None = None,
    fen: str | None = None,
    title: str | None = None,
    media: str | None = None,
    force: bool = False,
    prices: Path | None = None,
    quiet: bool = False,
) -> Record:
    """The record in a file, or the record of the talk whose captions are in it; spaCy is loaded only for the latter.

    Args:
        path: a record (JSON) or captions.
        game: the score, for captions.
        game_number: 1-based place of the game in the score, for captions.
        fen: the start position, for captions without a score.
        title: of the talk; None keeps the record's own.
        media: address or file of the recording; None keeps the record's own.
        force: align captions and score that do not belong together.
        prices: a price file of one's own, for captions.
        quiet: show no progress.

    Raises:
        RecordError: the record cannot be read, is damaged or was written by a newer version.
        InputError: captions, score, position or prices cannot be used, or are given beside a record.
        MismatchError: captions and score do not belong together, or the captions hold no game.
    """
    if game_number is not None and game is None:
        raise InputError("--game-number chooses a game of a score; give the score too, with --game.")
    if not is_record(path):
        return _aligned(path, game, game_number, fen, title, media, force, prices, quiet)
    given = {"--game": game, "--fen": fen, "--prices": prices}
    for option, value in given.items():
        if value is not None:
            what = f"this is a record, aligned already, and {option} goes with captions; leave it out."
            raise InputError(what, path.name)
    record = read_record(path)
    recording = record.recording
    changed = dataclasses.replace(recording, title=title or recording.title, url=media or recording.url)
    return dataclasses.replace(record, recording=changed)


def read_record(path: Path) -> Record:
    """Read an alignment record.

    Raises:
        RecordError: the file cannot be read, is damaged or was written by a newer version.
    """
    from aligner.record.document import record_from_json

    name = path.name or str(path)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise RecordError("there is no such file; check the name and the folder.", name) from None
    except IsADirectoryError:
        raise RecordError("this is a folder; name the record in it.", name) from None
    except PermissionError:
        raise RecordError("the file may not be read; check its permissions.", name) from None
    except UnicodeDecodeError as error:
        what = f"this is no UTF-8 from byte {error.start} on, so no record; write it again with `aligner align`."
        raise RecordError(what, name) from None
    except (OSError, ValueError) as error:
        raise RecordError(f"the file cannot be read ({getattr(error, 'strerror', None) or error}).", name) from None
    return record_from_json(text, name)


def _aligned(
    captions: Path,
    game: Path | None,
    game_number: int | None,
    fen: str | None,
    title: str | None,
    media: str | None,
    force: bool,
    prices: Path | None,
    quiet: bool,
) -> Record:
    from aligner.captions import read_captions
    from aligner.pgn.fen import parse_fen
    from aligner.pgn.reader import read_scores
    from aligner.pins.sidecar import read_pins, sidecar_of

    start_fen = parse_fen(fen) if fen is not None else None
    talk = read_captions(captions)
    pins = read_pins(sidecar_of(captions))
    scores = read_scores(game) if game is not None else ()

    # spaCy loads slowest of all: only once the input has been found usable
    from aligner.pipeline import align

    return align(
        talk,
        scores,
        start_fen=start_fen,
        game_number=game_number,
        title=title,
        url=media,
        force=force,
        prices=prices,
        pins=pins,
        progress=None if quiet else progress_on_terminal(),
    )

"""What every view of a talk begins with: read a record, or align first; nothing is decoded twice."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from aligner.cli.terminal import progress_on_terminal
from aligner.errors import InputError
from aligner.record.model import Record


def is_record(source: Path) -> bool:
    """Whether a file is an alignment record rather than captions: its name ends in .json, or it begins with `{`."""
    if source.suffix.lower() == ".json":
        return True
    try:
        with open(source, "rb") as file:
            return file.read(64).lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{")
    except OSError:
        return False


def record_from(
    source: Path,
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
    """The record of a talk: read where `source` is one, else aligned from captions.

    Args:
        source: captions, or a record that `aligner align --json` wrote.
        game: the game's score, where there is one.
        game_number: 1-based place of the score to take.
        fen: the start position, where there is no score.
        title: of the talk; also put into a record that is read.
        media: address or file of the sound or film; likewise.
        force: align even where captions and score don't belong together.
        prices: a price file of one's own.
        quiet: show no progress.

    Raises:
        AlignerError: something cannot be read, or does not belong together.
    """
    if game_number is not None and game is None:
        raise InputError("--game-number chooses a game of a score; give the score too, with --game.")
    if is_record(source):
        if game is not None or fen is not None or prices is not None:
            raise InputError(
                "this is a record and aligned already; leave out --game, --fen and --prices, or give the captions.",
                str(source),
            )
        return _named(_read_record(source), title, media)

    # what follows loads slowly
    from aligner.captions import read_captions
    from aligner.pgn.fen import parse_fen
    from aligner.pgn.reader import read_scores

    start_fen = parse_fen(fen) if fen is not None else None
    talk = read_captions(source)
    scores = read_scores(game) if game is not None else ()
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
        progress=None if quiet else progress_on_terminal(),
    )


def _read_record(source: Path) -> Record:
    from aligner.record.document import record_from_json

    try:
        text = source.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise InputError(f"this is no UTF-8 text (byte {error.start}); name a record or captions.", str(source)) from None
    except OSError as error:
        raise InputError(f"this file cannot be read ({error.strerror}); check its name.", str(source)) from None
    return record_from_json(text, source.name)


def _named(record: Record, title: str | None, media: str | None) -> Record:
    if title is None and media is None:
        return record
    recording = replace(
        record.recording,
        title=record.recording.title if title is None else title,
        url=record.recording.url if media is None else media,
    )
    return replace(record, recording=recording)

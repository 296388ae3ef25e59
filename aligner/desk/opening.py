"""A talk laid on the desk: captions, score and decisions read."""

from __future__ import annotations

from pathlib import Path

from aligner.captions import read_captions
from aligner.desk.talk import Talk
from aligner.engine import engine_at
from aligner.errors import InputError
from aligner.pgn.fen import parse_fen
from aligner.pgn.reader import read_scores
from aligner.pins.sidecar import read_pins, sidecar_of


def open_talk(
    captions: Path,
    game: Path | None = None,
    game_number: int | None = None,
    fen: str | None = None,
    *,
    title: str | None = None,
    media: str | None = None,
    force: bool = False,
    prices: Path | None = None,
    remembers: bool = False,
    engine: Path | None = None,
) -> Talk:
    """Read captions, score and what is settled; nothing is aligned yet.

    `remembers` makes later alignments quick, at the cost of the first.

    Raises:
        AlignerError: something cannot be read, or does not belong together.
    """
    if game_number is not None and game is None:
        raise InputError("--game-number chooses a game of a score; give the score too, with --game.")
    if captions.suffix.lower() == ".json":
        raise InputError("this is a record; decisions are made about captions, so name them.", str(captions))
    player = engine_at(engine)
    start_fen = parse_fen(fen) if fen is not None else None
    talk = read_captions(captions)
    scores = read_scores(game) if game is not None else ()
    read_pins(sidecar_of(captions))
    from aligner.pipeline import WholeTalk  # spaCy loads slowest of all

    alignment = WholeTalk(
        talk, scores, start_fen=start_fen, game_number=game_number, title=title, url=media, force=force, prices=prices,
        remembers=remembers, engine=player,
    )  # fmt: skip
    return Talk(captions, alignment)

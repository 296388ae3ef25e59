"""Prices of one's own: `aligner tune`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from aligner.cli.source import Quiet
from aligner.cli.terminal import say
from aligner.errors import InputError
from aligner.files import check_outputs, write_files
from aligner.record.printing import clean

_FEWEST = 2
"""Settled talks, so that one can be held out."""


def tune(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Captions with TALK.settled.toml, and TALK.pgn.")],
    out: Annotated[
        Path, typer.Option("-o", "--out", metavar="PRICES.toml", help="The price file, for --prices of other verbs.")
    ] = Path("my-prices.toml"),
    rounds: Annotated[int, typer.Option("--rounds", metavar="N", min=1, max=100, help="Over all talks.")] = 6,
    quiet: Quiet = False,
) -> None:
    """Fit prices on the talks that you settled, so that the program learns how you speak.

    What is fitted is how a talk is read once its game is known. The fitted prices are tried on talks that were held
    out, and written only where they do better there than the default ones.
    """
    check_outputs([out])
    from aligner.tune.folder import settled_talks

    files = settled_talks(folder)
    if not files:
        raise InputError("no talk in this folder is settled; settle some with `aligner desk` first.", str(folder))

    from aligner.captions import read_captions
    from aligner.pgn.reader import read_scores
    from aligner.pins.sidecar import read_pins, sidecar_of
    from aligner.pipeline import WholeTalk
    from aligner.prices.fitting import prices_text
    from aligner.prices.prices import MODES, read_prices
    from aligner.tune.settled_talk import SettledTalk
    from aligner.tune.tuning import tune as tuned

    talks: list[SettledTalk] = []
    for captions, score in files:
        whole = WholeTalk(read_captions(captions), read_scores(score) if score is not None else (), force=True)
        pins = whole.pins_of(read_pins(sidecar_of(captions)))
        talks += [
            SettledTalk(clean(captions.name), part, settled)
            for part, settled in zip(whole.parts, pins, strict=True)
            if settled
        ]
    prices = {mode: read_prices(None, mode) for mode in MODES}
    if len(talks) < _FEWEST:
        say(
            "one talk is settled, and one must be held out to see whether prices help; settle another: "
            "nothing is written."
        )
        return
    result = tuned(talks, prices["score"], rounds, None if quiet else say)
    before, after = result.before, result.after
    verdict = (
        "this helps" if result.helps else "this does not help, so the default prices are kept and nothing is written"
    )
    say(
        f"{before.talks} talks held out in turn: {after.right} of {after.settled} settled decisions right "
        f"instead of {before.right}, loss {after.loss:.3f} instead of {before.loss:.3f} nats a window; {verdict}."
    )
    if not result.helps:
        return
    prices["score"] = result.prices
    write_files({out: prices_text(prices, f"Prices in nats, fitted by `aligner tune` on {len(talks)} settled talks.")})
    say(f"written: {out}; use it with --prices")

"""What to mend before publishing: `aligner errata`."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from aligner.cli.source import Fen, Force, Game, GameNumber, Prices, Quiet, Source
from aligner.cli.terminal import put
from aligner.errors import InputError
from aligner.files import check_outputs, write_files
from aligner.record.model import Finding, Record

AT_LEAST = 0.7
"""Confidence from which a finding is reported: at most one false alarm in 20 minutes of talk."""


def errata(
    source: Source,
    game: Game = None,
    game_number: GameNumber = None,
    fen: Fen = None,
    form: Annotated[
        str, typer.Option("--format", metavar="table|json|csv|markdown", help="How to list them.")
    ] = "table",
    at_least: Annotated[
        float, typer.Option("--at-least", min=0.0, max=1.0, help="Confidence from which a finding is reported.")
    ] = AT_LEAST,
    diagrams: Annotated[bool, typer.Option("--diagrams", help="The position under each finding.")] = False,
    engine: Annotated[
        Path | None, typer.Option("--engine", metavar="PATH", help="A UCI engine, to test mates of three moves on.")
    ] = None,
    out: Annotated[Path | None, typer.Option("-o", "--out", metavar="FILE", help="Else standard output.")] = None,
    force: Force = False,
    prices: Prices = None,
    quiet: Quiet = False,
) -> None:
    """List what was misnamed or is false: misnamed moves, and statements that the board proves wrong.

    Each with its time, what was said and meant, who is to blame (speaker or captions), and the reason.
    """
    from aligner.engine import engine_at
    from aligner.errata.report import FORMATS, write
    from aligner.errata.report import errata as findings_of

    if form not in FORMATS:
        raise InputError(f"there is no format {form!r}; choose one of {', '.join(FORMATS)}.", "--format")
    engine_at(engine)
    inputs = [path for path in (source, game, prices) if path is not None]
    check_outputs([out] if out is not None else [], inputs)

    from aligner.cli.source import record_from

    record = record_from(source, game=game, game_number=game_number, fen=fen, force=force, prices=prices, quiet=quiet)
    record = _looked_at_again(record, at_least, engine)
    text = write(findings_of(record, at_least), form, diagrams)
    if out is None:
        put(text)
    else:
        write_files({out: text})


def _looked_at_again(record: Record, at_least: float, engine: Path | None) -> Record:
    """The record with the statements that only a lower bound or an engine brings up."""
    from aligner.errata.statements import LEAST

    if at_least >= LEAST and engine is None:
        return record
    from aligner.captions import Word
    from aligner.errata.statements import false_statements
    from aligner.speech.listen import listen

    words = [Word(w.text, round(w.start * 1000), round(w.end * 1000), w.cue, w.speaker) for w in record.words]
    games = []
    for one in record.games:
        names = [one.headers.get(side, "") for side in ("White", "Black")]
        more = false_statements(listen(words, names), one, at_least=at_least, engine=engine)
        added = [finding for finding in more if not _known(finding, one.findings)]
        games.append(replace(one, findings=tuple(sorted([*one.findings, *added], key=lambda f: (f.start, f.end)))))
    return replace(record, games=tuple(games))


def _known(finding: Finding, others: tuple[Finding, ...]) -> bool:
    return any(finding.words[0] < other.words[1] and other.words[0] < finding.words[1] for other in others)

"""The errata of a record as a table, JSON, CSV or Markdown; every sentence and cell is safe text."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from aligner.errata.reasons import diagram
from aligner.record.model import Finding, Record
from aligner.record.printing import clean, clock

FORMATS = ("table", "json", "csv", "markdown")
_COLUMNS = ("time", "said", "meant", "kind", "cause", "confidence", "why")
_SAID_SHOWN = 44


@dataclass(frozen=True, slots=True)
class Erratum:
    """A finding and the game it belongs to.

    Attributes:
        game: 1-based number of the game in the record.
        finding: of the record.
    """

    game: int
    finding: Finding


def errata(record: Record, at_least: float) -> list[Erratum]:
    """The findings of a record from a confidence on, in order of time."""
    found = [
        Erratum(number, finding)
        for number, game in enumerate(record.games, start=1)
        for finding in game.findings
        if finding.confidence >= at_least
    ]
    return sorted(found, key=lambda erratum: (erratum.finding.start, erratum.finding.end))


def write(found: Sequence[Erratum], form: str, diagrams: bool = False) -> str:
    """The report, ending with a line end.

    Args:
        found: in order of time.
        form: one of `FORMATS`.
        diagrams: whether table and Markdown show the position under each finding.
    """
    if form == "json":
        return json.dumps([_data(erratum) for erratum in found], ensure_ascii=False, indent=1) + "\n"
    if form == "csv":
        return _csv(found)
    return _markdown(found, diagrams) if form == "markdown" else _table(found, diagrams)


def _data(erratum: Erratum) -> dict[str, object]:
    finding = erratum.finding
    return {
        "game": erratum.game,
        "start": finding.start,
        "end": finding.end,
        "said": finding.said,
        "meant": {"uci": finding.meant.uci, "san": finding.meant.san, "node": finding.meant.node},
        "kind": finding.kind,
        "cause": finding.cause,
        "confidence": finding.confidence,
        "message": finding.message,
        "fen": finding.fen,
    }


def _cells(finding: Finding) -> tuple[str, ...]:
    return (
        clock(finding.start), clean(finding.said), finding.meant.san or "", finding.kind, finding.cause,
        f"{finding.confidence:.2f}", clean(finding.message),
    )  # fmt: skip


def _csv(found: Iterable[Erratum]) -> str:
    """Comma-separated values (RFC 4180, with LF line ends); what a sheet would compute gets an apostrophe."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(("game", "start", "end", *_COLUMNS, "fen"))
    for erratum in found:
        finding = erratum.finding
        row = (str(erratum.game), f"{finding.start:.3f}", f"{finding.end:.3f}", *_cells(finding), finding.fen)
        writer.writerow([f"'{cell}" if cell[:1] in ("=", "+", "-", "@") else cell for cell in row])
    return text.getvalue()


def _table(found: Sequence[Erratum], diagrams: bool) -> str:
    lines = []
    for erratum in found:
        time, said, meant, kind, cause, sure, why = _cells(erratum.finding)
        short = said if len(said) <= _SAID_SHOWN else said[: _SAID_SHOWN - 4].rsplit(" ", 1)[0] + " ..."
        lines.append(f'{time:>8}  {kind:<9} {cause:<8} {sure}  "{short}"{" -> " + meant if meant else ""}')
        lines.append(f"          {why}")
        if diagrams and erratum.finding.fen:
            lines.append("")
            lines.extend(f"          {row}" for row in diagram(erratum.finding.fen).splitlines())
            lines.append("")
    return "\n".join([*lines, f"{len(found)} {'finding' if len(found) == 1 else 'findings'}"]) + "\n"


def _markdown(found: Sequence[Erratum], diagrams: bool) -> str:
    lines = ["| " + " | ".join(_COLUMNS) + " |", "|" + " --- |" * len(_COLUMNS)]
    for erratum in found:
        cells = [_marked(cell) for cell in _cells(erratum.finding)]
        lines.append("| " + " | ".join(cells) + " |")
    if diagrams:
        for erratum in found:
            if erratum.finding.fen:
                heading = f"{clock(erratum.finding.start)} {_marked(clean(erratum.finding.said))}"
                lines += ["", heading, "", "```", diagram(erratum.finding.fen), "```", "", f"`{erratum.finding.fen}`"]
    return "\n".join(lines) + "\n"


def _marked(text: str) -> str:
    """Text that Markdown shows as it is."""
    return "".join(f"\\{sign}" if sign in "\\`*_{}[]<>|#~" else sign for sign in text)

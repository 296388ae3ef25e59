"""What a run says when it is over: a table for people, JSON for programs."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence

from aligner.batch.journal import Entry

_NAME = 40
_ORDER = {"failed": 0, "doubtful": 1, "done": 2}


def report_json(entries: Sequence[Entry], left: Sequence[str], fresh: int, seconds: float) -> str:
    """The report as JSON.

    Args:
        entries: of the talks that are settled.
        left: names of those that are not.
        fresh: talks settled by this very run.
        seconds: it took.
    """
    document = {
        "version": 1,
        "counts": _counts(entries, left),
        "this_run": {"talks": fresh, "seconds": round(seconds, 1)},
        "talks": [
            {
                "name": entry.name,
                "status": entry.status,
                "sentence": entry.sentence,
                "score": entry.score,
                **entry.figures,
            }
            for entry in sorted(entries, key=lambda entry: entry.name)
        ],
        "left": sorted(left),
    }
    return json.dumps(document, ensure_ascii=False, indent=1) + "\n"


def report_table(entries: Sequence[Entry], left: Sequence[str], listed: int = 40) -> str:
    """The report as a table: failed talks first, then doubtful ones, then the sum; at most `listed` rows."""
    rows = sorted(entries, key=lambda entry: (_ORDER.get(entry.status, 3), entry.name))
    shown = [row for row in rows if row.status != "done"]
    if len(rows) <= listed:
        shown = rows
    lines = []
    if shown:
        width = min(_NAME, max(4, *(len(row.name) for row in shown)))
        lines.append(f"{'talk':<{width}}  {'minutes':>7}  {'mentions':>8}  {'doubtful':>8}  {'findings':>8}  score")
        for row in shown[:listed]:
            name = row.name if len(row.name) <= width else "..." + row.name[3 - width :]
            if row.status == "failed":
                lines.append(f"{name:<{width}}  failed: {row.sentence}")
                continue
            figures = row.figures
            lines.append(
                f"{name:<{width}}  {figures.get('minutes', 0):>7.1f}  {figures.get('mentions', 0):>8.0f}  "
                f"{figures.get('doubts', 0):>8.0f}  {figures.get('findings', 0):>8.0f}  {row.score}"
                + (f"  doubtful: {row.sentence}" if row.status == "doubtful" else "")
            )
        if len(shown) > listed:
            lines.append(f"and {len(shown) - listed} more in the report")
    counts = _counts(entries, left)
    lines.append(", ".join(f"{count:,} {name}" for name, count in counts.items() if count or name == "done"))
    return "\n".join(lines)


def _counts(entries: Sequence[Entry], left: Sequence[str]) -> dict[str, int]:
    statuses = Counter(entry.status for entry in entries)
    return {**{name: statuses[name] for name in ("done", "doubtful", "failed")}, "left": len(left)}

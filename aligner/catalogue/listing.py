"""Answers in the forms people take away: a table, JSON, CSV, a page to play the moments from."""

from __future__ import annotations

import base64
import csv
import dataclasses
import hashlib
import io
import json
from collections.abc import Sequence
from functools import lru_cache
from typing import Any
from urllib.parse import urlsplit

import jinja2
from markupsafe import Markup

from aligner.catalogue.answers import Moment
from aligner.page.pieces import piece_symbols, standing

KIND_NAMES = {
    "move": "spoken of",
    "again": "spoken of again",
    "slip": "misnamed",
    "idea": "only planned",
    "statement": "a false statement",
    "unspoken": "not spoken of",
    "words": "words",
}


def clock(seconds: float) -> str:
    """A time as m:ss or h:mm:ss."""
    minutes, rest = divmod(max(0, int(seconds)), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"


def plain(moment: Moment) -> dict[str, Any]:
    """An answer as JSON knows it."""
    return dataclasses.asdict(moment)


def to_json(moments: Sequence[Moment], sentence: str = "") -> str:
    """A JSON document: `answers`, and `nearest`, a sentence that is empty where these are real answers."""
    document = {"nearest": sentence, "answers": [plain(moment) for moment in moments]}
    return json.dumps(document, ensure_ascii=False, indent=1) + "\n"


def to_csv(moments: Sequence[Moment]) -> str:
    """CSV (RFC 4180) with a header line; a cell that a spreadsheet would calculate begins with an apostrophe."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    names = [field.name for field in dataclasses.fields(Moment)]
    writer.writerow(names)
    for moment in moments:
        writer.writerow([_cell(getattr(moment, name)) for name in names])
    return out.getvalue()


def _cell(value: object) -> object:
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r"):
        return "'" + value
    return value


def to_table(moments: Sequence[Moment]) -> str:
    """Lines for a terminal: where and when, then the move, then the words."""
    lines = []
    for moment in moments:
        game = f"{moment.white or '?'} - {moment.black or '?'}" if moment.white or moment.black else ""
        about = ", ".join(part for part in (game, moment.event, moment.date) if part)
        lines.append(f"{moment.title}  {clock(moment.start)}-{clock(moment.end)}" + (f"  {about}" if about else ""))
        if moment.move or moment.line:
            what = [moment.line] if moment.line else []
            if moment.kind not in ("move", "again"):
                what.append(KIND_NAMES[moment.kind])
            lines.append(f"  {moment.move}  [{', '.join(what)}, {moment.confidence:.2f}]".rstrip())
        if moment.said:
            lines.append(f"  {moment.before} »{moment.said}« {moment.after}")
        if moment.note:
            lines.append(f"  {moment.note}")
        if moment.link:
            lines.append(f"  {moment.link}")
    return "\n".join(
        " ".join(line.split()) if not line.startswith(" ") else "  " + " ".join(line.split()) for line in lines
    )


@lru_cache(maxsize=1)
def environment() -> jinja2.Environment:
    """Templates that escape everything."""
    made = jinja2.Environment(
        loader=jinja2.ChoiceLoader([jinja2.PackageLoader("aligner.catalogue"), jinja2.PackageLoader("aligner.serve")]),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
    )
    made.globals.update(clock=clock, standing=standing, names=KIND_NAMES, web=is_web, symbols=Markup(piece_symbols()))
    return made


def is_web(link: str) -> bool:
    """Whether a link leads to a page of the web or a file, and runs nothing."""
    try:
        return bool(link) and urlsplit(link).scheme in ("http", "https", "file", "")
    except ValueError:
        return False


def style() -> str:
    """The pages' style sheet."""
    loader = environment().loader
    assert loader is not None
    return loader.get_source(environment(), "moments.css")[0]


def to_page(moments: Sequence[Moment], title: str, sentence: str = "") -> str:
    """A page of its own, to play the moments one after the other, with the position of each."""
    css = style()
    digest = base64.b64encode(hashlib.sha256(css.encode("utf-8")).digest()).decode("ascii")
    page = environment().get_template("playlist.html")
    return page.render(moments=moments, title=title, sentence=sentence, style=Markup(css), digest=digest)

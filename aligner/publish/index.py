"""The index page of a published talk."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from aligner.chapters import Chapter
from aligner.notes.links import clock, moment_link, plain
from aligner.notes.notes import heading
from aligner.record.model import Record


@dataclass(frozen=True, slots=True)
class Entry:
    """A file of the set as the index shows it.

    Attributes:
        name: of the file.
        title: what it is.
        about: what it is for.
        size: in bytes.
    """

    name: str
    title: str
    about: str
    size: int


def index_page(record: Record, entries: Sequence[Entry], chapters: Sequence[Chapter], page: str) -> str:
    """The index as HTML: the files with what they are for, and the chapters, each leading to its moment in the page.

    Args:
        record: of the talk.
        entries: the files.
        chapters: of the talk.
        page: name of the replay page.
    """
    style = (files("aligner.publish") / "templates" / "index.css").read_text(encoding="utf-8")
    digest = base64.b64encode(hashlib.sha256(style.encode("utf-8")).digest()).decode("ascii")
    title, about = heading(record)
    return (
        _environment()
        .get_template("index.html")
        .render(
            title=title,
            about=about,
            length=record.recording.seconds,
            entries=entries,
            chapters=chapters,
            style=Markup(style),
            policy=f"default-src 'none'; style-src 'sha256-{digest}'",
            moment=lambda seconds: moment_link(quote(page), seconds),
        )
    )


def _size(number: int) -> str:
    return f"{number / 1000:,.0f} kB" if number >= 1000 else f"{number} bytes"


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("aligner.publish", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(plain=plain, clock=clock, size=_size, address=quote)
    return environment

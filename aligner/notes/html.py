"""The notes as one HTML file that prints on A4; nothing in it runs, and nothing is loaded from elsewhere."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from aligner.notes.diagram import diagram_svg, piece_shapes
from aligner.notes.links import clock, moment_link, plain
from aligner.notes.model import Diagram, Line, Moves, Notes, Paragraph
from aligner.notes.prose import Piece


def notes_html(notes: Notes, link: str | None = None) -> str:
    """The notes as HTML.

    Args:
        notes: of the talk.
        link: address that times link to, with a Media Fragment; the recording's own where None.
    """
    address = link if link is not None else notes.url
    style = (files("aligner.notes") / "templates" / "notes.css").read_text(encoding="utf-8")
    digest = base64.b64encode(hashlib.sha256(style.encode("utf-8")).digest()).decode("ascii")
    numbers = iter(range(1, 100_000))

    def draw(diagram: Diagram) -> Markup:
        return Markup(diagram_svg(diagram.fen, str(escape(plain(diagram.caption))), f"diagram-{next(numbers)}"))

    return (
        _environment()
        .get_template("notes.html")
        .render(
            notes=notes,
            style=Markup(style),
            policy=f"default-src 'none'; style-src 'sha256-{digest}'",
            shapes=Markup(piece_shapes()),
            href=lambda seconds: moment_link(address, seconds),
            draw=draw,
            kind=_kind,
        )
    )


def _kind(block: object) -> str:
    kinds = {Moves: "moves", Paragraph: "paragraph", Line: "line", Diagram: "diagram"}
    return kinds[type(block)]


def _prose(sentences: tuple[tuple[Piece, ...], ...]) -> Markup:
    written = Markup("")
    for pieces in sentences:
        for place, piece in enumerate(pieces):
            if not piece.glued and (written or place):
                written += Markup(" ")
            text = escape(plain(piece.text))
            written += Markup('<span class="move">{}</span>').format(text) if piece.is_move else text
    return written


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("aligner.notes", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(plain=plain, clock=clock, prose=_prose)
    return environment

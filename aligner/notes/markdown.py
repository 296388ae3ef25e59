"""The notes as Markdown (CommonMark): words of the talk are escaped, so that they stay words."""

from __future__ import annotations

import re
from collections.abc import Iterator

from aligner.notes.diagram import diagram_text
from aligner.notes.links import clock, moment_link, plain
from aligner.notes.model import Block, Diagram, Line, Moves, Notes, Paragraph
from aligner.notes.prose import Piece

_MARKUP = re.compile(r"([\\`*_{}\[\]<>#|~$])")
_AT_LINE_START = re.compile(r"^(\d{1,9})([.)])(?=\s|$)|^([-+=])")


def notes_markdown(notes: Notes, link: str | None = None) -> str:
    """The notes as Markdown.

    Args:
        notes: of the talk.
        link: address that times link to, with a Media Fragment; the recording's own where None.
    """
    address = link if link is not None else notes.url
    blocks = [f"# {escaped(notes.title)}"]
    if notes.about:
        blocks.append(f"*{escaped(notes.about)}*")
    for section in notes.sections:
        blocks.append(f"## {escaped(section.title)} ({_time(section.start, address)})")
        for block in section.blocks:
            blocks.extend(_block(block, address))
    if notes.errata:
        blocks.append("## Errata")
        rows = (f"- {_time(one.start, address)} {one.cause}: {escaped(one.message)}" for one in notes.errata)
        blocks.append("\n".join(rows))
    return "\n\n".join(blocks) + "\n"


def escaped(text: str) -> str:
    """Text that Markdown shows as it is: no emphasis, links, tags, entities, headings, lists."""
    safe = _MARKUP.sub(r"\\\1", plain(text)).replace("&", "&amp;").replace("://", "&#58;//")
    safe = re.sub(r"\b(www)\.", r"\1&#46;", safe, flags=re.IGNORECASE).replace("@", "&#64;")
    return _AT_LINE_START.sub(lambda sign: f"{sign[1]}\\{sign[2]}" if sign[1] else f"\\{sign[3]}", safe)


def _time(seconds: float, address: str | None) -> str:
    to = moment_link(address, seconds)
    return f"[{clock(seconds)}](<{to}>)" if to else clock(seconds)


def _block(block: Block, address: str | None) -> Iterator[str]:
    match block:
        case Moves(text, start):
            yield f"**{escaped(text)}**" + (f" ({_time(start, address)})" if start is not None else "")
        case Line(text, start):
            yield f"> *{escaped(text)}* ({_time(start, address)})"
        case Paragraph(sentences, start, sideline):
            yield f"{'> ' if sideline else ''}{_prose(sentences)} ({_time(start, address)})"
        case Diagram(fen, caption, start):
            yield f"{escaped(caption)} ({_time(start, address)}):"
            yield f"```text\n{diagram_text(fen)}\n```"


def _prose(sentences: tuple[tuple[Piece, ...], ...]) -> str:
    written = ""
    for pieces in sentences:
        for piece in pieces:
            written += ("" if piece.glued or not written else " ") + plain(piece.text)
    return escaped(written)

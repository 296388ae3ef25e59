"""The replay page: one HTML file with the talk's words, the board, the tree, the picture and the recording."""

from __future__ import annotations

from collections.abc import Iterator

from markupsafe import Markup

from aligner.page.assets import digest, script, style, template
from aligner.page.lines import lines
from aligner.page.media import Media
from aligner.page.picture import PLATE, STRIP, description, drawing
from aligner.page.pieces import piece_symbols, standing
from aligner.page.places import Course, Place, course
from aligner.page.text import clock, embedded_json, fragment, printable
from aligner.page.words import Erratum, errata, paragraphs, word_times
from aligner.record.model import Game, Record

_UNKNOWN = {"", "?", "*", "????.??.??"}


def write_page(record: Record, *, pgn: str = "", media: Media | None = None) -> str:
    """The replay page of a record.

    The page asks for nothing from outside but the recording, and its own policy forbids everything else.

    Args:
        record: the record.
        pgn: the annotated game, to be copied from the page.
        media: the recording; None lets the page follow a silent clock.
    """
    whole = course(record)
    notes = errata(record, whole)
    text = list(paragraphs(record, whole, notes))
    css, js = style("page.css", "phone.css", "print.css", "picture.css"), script("main")
    return template("page.html").render(
        title=printable(record.recording.title or _players(record.games[0]) or record.recording.captions),
        games=[_heading(game) for game in record.games],
        policy=_policy(css, js, media),
        style=Markup(css),
        script=Markup(js),
        data=Markup(embedded_json(_data(record, whole, [paragraph.first for paragraph in text], notes, pgn))),
        media=media,
        course=whole,
        paragraphs=text,
        errata=notes,
        lines=[list(lines(whole.places, root)) for root in whole.roots],
        pieces=Markup(piece_symbols()),
        standing=list(standing(whole.places[whole.first].fen)),
        strip=drawing(whole, notes, STRIP),
        plate=drawing(whole, notes, PLATE),
        about=description(whole),
        captions=printable(record.recording.captions),
        clock=clock,
        fragment=fragment,
        target=_target,
    )


def _policy(css: str, js: str, media: Media | None) -> str:
    """Content Security Policy, level 3: nothing but what stands in the page, and the one recording."""
    rules = [
        "default-src 'none'",
        f"style-src {digest(css)}",
        f"script-src {digest(js)}",
        "img-src data:",
        "base-uri 'none'",
        "form-action 'none'",
        "require-trusted-types-for 'script'",
        "trusted-types 'none'",
    ]
    return "; ".join([*rules, f"media-src {media.source}"] if media else rules)


def _players(game: Game) -> str:
    names = [printable(game.headers.get(side, "")) for side in ("White", "Black")]
    return " \u2013 ".join(names) if not _UNKNOWN & set(names) else ""


def _heading(game: Game) -> dict[str, str]:
    """What is printed above a game, "" for what is not known."""
    headers = {name: printable(value) for name, value in game.headers.items()}
    known = {name: "" if value in _UNKNOWN else value for name, value in headers.items()}
    event = ", ".join(filter(None, (known.get("Event", ""), known.get("Site", ""), _date(known.get("Date", "")))))
    return {"players": _players(game), "result": known.get("Result", ""), "event": event}


def _date(date: str) -> str:
    """A PGN date without its unknown parts (PGN standard, 8.1.1.3)."""
    return ".".join(part for part in date.split(".") if "?" not in part)


def _target(place: Place, index: int) -> str:
    """The fragment to which a printed move leads: its first moment, or itself where it is never spoken of."""
    return fragment(place.times[0]) if place.times else f"move-{index}"


def _data(record: Record, whole: Course, firsts: list[int], notes: tuple[Erratum, ...], pgn: str) -> dict[str, object]:
    """What the page's scripts work on; all times in milliseconds, word times as differences."""
    return {
        "end": whole.end,
        "words": list(_differences(word_times(record.words))),
        "paragraphs": firsts,
        "places": [
            [place.parent, place.number, place.node.san, place.node.uci or "", place.fen, place.depth, *place.times]
            for place in whole.places
        ],
        "spoken": [[spoken.start, *spoken.places] for spoken in whole.spoken],
        "moments": [[moment.time, moment.place, moment.spoken] for moment in whole.moments],
        "errata": [[note.time, note.said, note.message] for note in notes],
        "pgn": pgn,
    }


def _differences(times: list[int]) -> Iterator[int]:
    before = 0
    for time in times:
        yield time - before
        before = time

"""What is published of a talk: one row for each file, made from the record alone."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path, PurePath

from aligner.chapters import chapter_list, chapter_track, choose
from aligner.notes import notes_html, notes_markdown, take_notes
from aligner.publish.index import Entry, index_page
from aligner.record.model import Record


@dataclass(frozen=True, slots=True)
class Talk:
    """What the files are made from.

    Attributes:
        record: of the talk.
        name: what all file names begin with.
        folder: into which they go.
        media: address or path of the recording, as the user gave it; None where there is none.
        captions: path of the captions, None where a record was given.
    """

    record: Record
    name: str
    folder: Path
    media: str | None = None
    captions: Path | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """One file of the set.

    Attributes:
        ending: of its name, after the talk's.
        title: in the index.
        about: what it is for, one sentence.
        text: makes it; None where the talk gives nothing to write.
    """

    ending: str
    title: str
    about: str
    text: Callable[[Talk], str | None]


def file_stem(record: Record) -> str:
    """The name that the files of a talk begin with: its captions' name, without what a file system may refuse."""
    stem = unicodedata.normalize("NFC", PurePath(record.recording.captions).stem)
    safe = re.sub(r"[^\w.-]+", "-", stem).strip(".-")[:80]
    return safe if safe and safe.lower() != "index" else "talk"


def make(talk: Talk) -> dict[str, str]:
    """All files of a talk by name, the index page last.

    Raises:
        AlignerError: a part cannot be made from this record or with this recording.
    """
    texts: dict[str, str] = {}
    entries: list[Entry] = []
    for part in PARTS:
        text = part.text(talk)
        if text is not None:
            suffix = talk.captions.suffix if part.ending == CORRECTED and talk.captions else ""
            name = talk.name + part.ending + suffix
            texts[name] = text
            entries.append(Entry(name, part.title, part.about, len(text.encode("utf-8", "replace"))))
    texts["index.html"] = index_page(talk.record, entries, choose(talk.record), talk.name + PAGE)
    return texts


PAGE = ".html"
"""Ending of the replay page, to whose moments the other files link."""
CORRECTED = ".corrected"
"""Ending of the corrected captions, before that of their format."""


def _page(talk: Talk) -> str:
    from aligner.page.media import media, recorded
    from aligner.page.page import write_page

    page = talk.folder / (talk.name + PAGE)
    recording = media(talk.media, page) if talk.media else recorded(talk.record.recording.url)
    return write_page(talk.record, pgn=_pgn(talk), media=recording)


def _picture(talk: Talk) -> str:
    from aligner.page.picture import write_picture

    return write_picture(talk.record, talk.name + PAGE)


def _notes_html(talk: Talk) -> str:
    return notes_html(take_notes(talk.record), talk.name + PAGE)


def _notes_markdown(talk: Talk) -> str:
    return notes_markdown(take_notes(talk.record), talk.name + PAGE)


def _pgn(talk: Talk) -> str:
    from aligner.pgn.writer import write_pgn

    return write_pgn(talk.record)


def _record(talk: Talk) -> str:
    from aligner.record.document import record_to_json

    return record_to_json(talk.record)


def _track(talk: Talk) -> str | None:
    chapters = choose(talk.record)
    return chapter_track(chapters) if chapters else None


def _list(talk: Talk) -> str | None:
    return chapter_list(choose(talk.record)) or None


def _errata(form: str) -> Callable[[Talk], str | None]:
    def text(talk: Talk) -> str | None:
        from aligner.errata.report import errata, write
        from aligner.errata.statements import LEAST

        found = errata(talk.record, LEAST)
        return write(found, form) if found else None

    return text


def _corrected(talk: Talk) -> str | None:
    if talk.captions is None:
        return None
    from aligner.captions import read_captions
    from aligner.errata.correct import correct

    text, changes = correct(read_captions(talk.captions), talk.record)
    return text if changes else None


PARTS: tuple[Part, ...] = (
    Part(PAGE, "Replay page", "The talk beside the board: words, moves and recording follow each other.", _page),
    Part(".notes.html", "Notes", "A hand-out to read or to print on A4.", _notes_html),
    Part(".notes.md", "Notes as Markdown", "The same hand-out, for editing.", _notes_markdown),
    Part(".pgn", "Annotated game", "PGN with sidelines, remarks and the second of every move.", _pgn),
    Part(".chapters.vtt", "Chapter track", "WebVTT chapters for a player.", _track),
    Part(".chapters.txt", "Chapter list", "Times and titles, for the description of the recording.", _list),
    Part(".picture.svg", "Picture of the talk", "What the talk dwells on: time against moves.", _picture),
    Part(".errata.md", "Errata", "What was misnamed, by whom, and what was meant.", _errata("markdown")),
    Part(".errata.csv", "Errata as a table", "The same for a spreadsheet.", _errata("csv")),
    Part(CORRECTED, "Corrected captions", "Misheard moves spelt right; times as they were.", _corrected),
    Part(".json", "Alignment record", "Every decision with its confidence and its rivals.", _record),
)

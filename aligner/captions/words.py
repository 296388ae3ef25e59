"""What any captions file becomes: timed words. Nothing downstream knows file formats."""

from __future__ import annotations

from dataclasses import dataclass

Span = tuple[int, int]
"""Half-open range of characters in the decoded text of the captions file."""


@dataclass(frozen=True, slots=True)
class Word:
    """One word as it stands in the captions, punctuation included.

    Attributes:
        text: the word, without markup and character references resolved; never empty, holds no white space.
        start: milliseconds from the start of the recording.
        end: milliseconds; never before `start`.
        cue: index into `Captions.cues` (0-based) of the cue the word was first shown in.
        speaker: name from a voice span, or None.
        span: where the word stands in `Captions.source`.
        echoes: where the same word stands again, in captions whose lines come twice.
    """

    text: str
    start: int
    end: int
    cue: int
    speaker: str | None = None
    span: Span = (0, 0)
    echoes: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True)
class Cue:
    """One cue of the file.

    Attributes:
        start: milliseconds.
        end: milliseconds.
        text: its lines without markup, joined by a line feed.
        line: 1-based line of the file on which the cue's time stands.
    """

    start: int
    end: int
    text: str
    line: int


@dataclass(frozen=True, slots=True)
class Problem:
    """Something in the captions file that was mended or passed over.

    Attributes:
        line: 1-based line of the file.
        message: one sentence.
    """

    line: int
    message: str


@dataclass(frozen=True, slots=True)
class Captions:
    """A captions file, read.

    Attributes:
        name: file name without folders.
        format: "webvtt", "subrip", "sbv" or "text".
        source: the decoded text (without byte order mark, line ends as they stand), into which the spans point.
        words: in order of time.
        cues: in order of the file.
        problems: what was mended or passed over, in order of lines.
        duration: milliseconds, the end of the last word.
    """

    name: str
    format: str
    source: str
    words: tuple[Word, ...]
    cues: tuple[Cue, ...]
    problems: tuple[Problem, ...] = ()
    duration: int = 0

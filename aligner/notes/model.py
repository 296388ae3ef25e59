"""What notes consist of, before they become HTML or Markdown. All text is as spoken or written, unescaped."""

from __future__ import annotations

from dataclasses import dataclass

from aligner.notes.prose import Piece


@dataclass(frozen=True, slots=True)
class Moves:
    """Moves of the game, in bold where the notes are printed.

    Attributes:
        text: "6.dxc5 Nf6 7.Bb5+".
        start: seconds, None where they are not spoken of.
    """

    text: str
    start: float | None = None


@dataclass(frozen=True, slots=True)
class Paragraph:
    """What is said, edited.

    Attributes:
        sentences: pieces of each.
        start: seconds.
        sideline: whether it is about a sideline.
    """

    sentences: tuple[tuple[Piece, ...], ...]
    start: float
    sideline: bool


@dataclass(frozen=True, slots=True)
class Line:
    """A sideline as a line of moves.

    Attributes:
        text: "6.exd5 exd5 7.Ngf3 Nc6".
        start: seconds.
    """

    text: str
    start: float


@dataclass(frozen=True, slots=True)
class Diagram:
    """A position.

    Attributes:
        fen: of it.
        caption: "Position after 17.Bxh7+".
        start: seconds.
    """

    fen: str
    caption: str
    start: float


Block = Moves | Paragraph | Line | Diagram


@dataclass(frozen=True, slots=True)
class Section:
    """A chapter of the talk.

    Attributes:
        title: of the chapter.
        start: seconds.
        blocks: in the order of the talk.
    """

    title: str
    start: float
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Erratum:
    """One finding.

    Attributes:
        start: seconds.
        cause: "Slip of the tongue", "Caption" or "Speaker or caption".
        said: the words.
        meant: the move with its number, "" where the statement is about no move.
        message: one sentence.
    """

    start: float
    cause: str
    said: str
    meant: str
    message: str


@dataclass(frozen=True, slots=True)
class Notes:
    """A hand-out.

    Attributes:
        title: of the talk.
        about: players, event and result, one line; may be empty.
        url: address of the recording, None where it is not known.
        sections: in the order of the talk.
        errata: in the order of the talk.
    """

    title: str
    about: str
    url: str | None
    sections: tuple[Section, ...]
    errata: tuple[Erratum, ...]

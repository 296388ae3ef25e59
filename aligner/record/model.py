"""The alignment record: the one result, of which every output is a view (contract, section 1).

Times are seconds from the start of the recording, rounded to milliseconds. Confidences are probabilities, 0 to 1.
"""

from __future__ import annotations

from dataclasses import dataclass, field

Times = tuple[float, float]
"""Start and end in seconds, end exclusive."""

VERSION = 1


@dataclass(frozen=True, slots=True)
class Recording:
    """What was aligned.

    Attributes:
        captions: file name of the captions, without folders.
        title: title of the talk, where known.
        url: address or file of the sound or film, where known.
        seconds: end of the last word.
        words: number of words.
        fingerprint: SHA-256 of the captions file, hexadecimal; tells whether captions have changed since.
    """

    captions: str
    title: str | None
    url: str | None
    seconds: float
    words: int
    fingerprint: str = ""


@dataclass(frozen=True, slots=True)
class SpokenWord:
    """One word of the talk, so that no view needs the captions file.

    Attributes:
        text: as in the captions.
        start: seconds.
        end: seconds.
        speaker: name, or None.
        cue: index of its cue, 0-based.
    """

    text: str
    start: float
    end: float
    speaker: str | None = None
    cue: int = 0


@dataclass(frozen=True, slots=True)
class Alternative:
    """A rival reading of a mention or of a node.

    Attributes:
        uci: the move; None where the rival says that no move is meant.
        san: the move in SAN, "" where `uci` is None.
        confidence: of this rival.
        parent: id of the node after which the rival move stands; None where no move is meant.
        kind: "move", "again", "slip", "idea" or "none".
    """

    uci: str | None
    san: str
    confidence: float
    parent: int | None = None
    kind: str = "move"


@dataclass(frozen=True, slots=True)
class Node:
    """One position of the tree, reached by one move from its parent.

    Attributes:
        id: 0 is the start position, otherwise any number, unique in the game.
        parent: id of the node before; None for node 0.
        uci: the move; None for node 0.
        san: the move in SAN; "" for node 0.
        ply: half-moves from the start position; 0 for node 0.
        main: whether the node stands in the game's own line.
        source: "spoken", "score" (from the score and never spoken) or "inferred" (neither).
        confidence: that this move stands here.
        times: of each mention of the move, in order of time.
        comment: what was said about the move, as readable text.
        nags: Numeric Annotation Glyphs of the PGN standard, section 10.
        alternatives: rivals of an inferred move.
    """

    id: int
    parent: int | None
    uci: str | None
    san: str = ""
    ply: int = 0
    main: bool = True
    source: str = "spoken"
    confidence: float = 1.0
    times: tuple[Times, ...] = ()
    comment: str = ""
    nags: tuple[int, ...] = ()
    alternatives: tuple[Alternative, ...] = ()


@dataclass(frozen=True, slots=True)
class Mention:
    """Words that speak of one move or several.

    Attributes:
        start: seconds.
        end: seconds.
        text: the words.
        words: half-open range of indices into `Record.words`.
        kind: "move" (first spoken), "again" (spoken of before), "slip" (misnamed) or "idea" (a plan, no line).
        nodes: ids of the nodes spoken of, in order; empty for an idea.
        confidence: that the decision is right.
        alternatives: rivals, likeliest first.
        why: what the decision rests on, one plain sentence.
    """

    start: float
    end: float
    text: str
    words: tuple[int, int]
    kind: str
    nodes: tuple[int, ...]
    confidence: float
    alternatives: tuple[Alternative, ...] = ()
    why: str = ""


@dataclass(frozen=True, slots=True)
class Meant:
    """The move that was meant where another was named; all None where the statement names no move.

    Attributes:
        uci: the move.
        san: the same in SAN.
        node: id of the node it leads to.
    """

    uci: str | None = None
    san: str | None = None
    node: int | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """A misnamed move or a false statement.

    Attributes:
        start: seconds.
        end: seconds.
        said: the words.
        words: half-open range of indices into `Record.words`.
        kind: what is wrong: "square", "file", "rank", "piece", "origin", "side", "castling", "capture", "promotion",
            "mirrored", "check", "number", "garble", "position", "colour", "material", "only", "mate".
        cause: "speaker", "caption" or "unsure".
        meant: the move that was meant.
        confidence: that it is wrong and that this was meant.
        message: one plain sentence a commentator understands.
        fen: the position in which the words were spoken.
    """

    start: float
    end: float
    said: str
    words: tuple[int, int]
    kind: str
    cause: str
    meant: Meant
    confidence: float
    message: str
    fen: str = ""


@dataclass(frozen=True, slots=True)
class Game:
    """One game with its sidelines.

    Attributes:
        start_fen: the position that node 0 stands for.
        headers: PGN tag pairs without FEN and SetUp; "Result" is always there.
        nodes: node 0 first, every parent before its children; of siblings the main one first, else in order of time.
        mentions: in order of time.
        findings: in order of time.
        start: seconds at which the talk turns to this game.
        end: seconds at which it leaves it.
    """

    start_fen: str
    headers: dict[str, str]
    nodes: tuple[Node, ...]
    mentions: tuple[Mention, ...]
    findings: tuple[Finding, ...] = ()
    start: float = 0.0
    end: float = 0.0


@dataclass(frozen=True, slots=True)
class Record:
    """The alignment record.

    Attributes:
        recording: what was aligned.
        games: at least one.
        words: the words of the talk.
        version: of this format.
        notes: sentences for the user about the whole (mended captions, doubts about the score, ...).
    """

    recording: Recording
    games: tuple[Game, ...]
    words: tuple[SpokenWord, ...]
    version: int = VERSION
    notes: tuple[str, ...] = field(default=())

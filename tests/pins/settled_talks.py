"""A short invented talk, made ready to be aligned."""

from __future__ import annotations

from aligner.captions import parse_captions
from aligner.pgn.score import Score
from aligner.pins.pin import Pin, anchor
from aligner.pipeline import Alignment

SENTENCES = (
    "pawn to e4 and pawn to e5",
    "knight to f3 attacks the pawn",
    "knight to c6 defends it",
    "bishop to b5 is the oldest idea here",
    "and a6 asks the question",
    "if bishop takes c6 then d takes c6",
    "and now knight takes e5",
    "queen d4 wins the piece back",
    "but in the game bishop to a4",
    "knight f6 and White castles",
    "bishop e7 is quiet",
    "rook e1 and then b5",
    "bishop to b3 and d6",
)
MOVES = ("e2e4", "e7e5", "g1f3", "b8c6", "f1b5", "a7a6", "b5a4", "g8f6", "e1g1", "f8e7", "f1e1", "b7b5", "a4b3", "d7d6")
START = "rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1"


def talk(
    sentences: tuple[str, ...] = SENTENCES, score: bool = True, shift: float = 0.0, remembers: bool = False
) -> Alignment:
    """The talk, four seconds a sentence, beginning so many seconds later."""

    def stamp(seconds: float) -> str:
        return f"{int(seconds) // 60:02d}:{seconds % 60:06.3f}"

    cues = [f"{stamp(4 * n + shift)} --> {stamp(4 * n + 3.5 + shift)}\n{text}\n" for n, text in enumerate(sentences)]
    captions = parse_captions("WEBVTT\n\n" + "\n".join(cues), "evening.vtt")
    headers = {"White": "Orla Finch", "Black": "Tomas Reed", "Result": "*"}
    return Alignment(captions, (Score(START, MOVES, headers, 1),) if score else (), force=True, remembers=remembers)


def words_of(alignment: Alignment, text: str) -> tuple[int, int]:
    """Where some words stand."""
    spoken = [word.text for word in alignment.speech.words]
    wanted = text.split()
    first = next(i for i in range(len(spoken)) if spoken[i : i + len(wanted)] == wanted)
    return first, first + len(wanted)


def pin(alignment: Alignment, text: str, decision: str, line: str = "", **more: object) -> Pin:
    """A decision about some words of the talk."""
    found = anchor(alignment.speech.words, *words_of(alignment, text))
    return Pin(found, decision, tuple(line.split()), **more)  # type: ignore[arg-type]

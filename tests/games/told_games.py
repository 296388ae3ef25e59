"""Short invented talks of one game each, to be told one after the other in one recording."""

from __future__ import annotations

import chess

from aligner.captions import parse_captions
from aligner.captions.words import Captions
from aligner.pgn.score import Score

SPANISH = (
    "Pawn to e4 and pawn to e5.",
    "Knight to f3 attacks the pawn, knight to c6 defends it.",
    "Bishop to b5 is the oldest idea here, and a6 asks the question.",
    "If bishop takes c6, then d takes c6.",
    "But in the game bishop to a4, knight f6, and White castles.",
    "Bishop e7 is quiet. Rook e1 and then b5.",
    "Bishop to b3 and d6. Pawn to c3, and Black castles short.",
    "Pawn to h3, knight to a5, bishop to c2, pawn to c5.",
    "Pawn to d4, queen to c7, and a draw was agreed.",
)
SPANISH_MOVES = "e4 e5 Nf3 Nc6 Bb5 a6 Ba4 Nf6 O-O Be7 Re1 b5 Bb3 d6 c3 O-O h3 Na5 Bc2 c5 d4 Qc7"
QUEENS_PAWN = (
    "Pawn to d4, pawn to d5.",
    "Pawn to c4, pawn to e6. Knight to c3, knight to f6.",
    "Bishop to g5 pins the knight, and bishop to e7 breaks the pin.",
    "Pawn to e3, and Black castles. Knight to f3, knight b to d7.",
    "Rook to c1 and pawn to c6. Bishop to d3, and now d takes c4.",
    "Instead pawn to h6 would ask the bishop first.",
    "In the game bishop takes c4, knight to d5, bishop takes e7, queen takes e7.",
    "White castles, knight takes c3, rook takes c3, and pawn to e5.",
)
QUEENS_PAWN_MOVES = "d4 d5 c4 e6 Nc3 Nf6 Bg5 Be7 e3 O-O Nf3 Nbd7 Rc1 c6 Bd3 dxc4 Bxc4 Nd5 Bxe7 Qxe7 O-O Nxc3 Rxc3 e5"
SICILIAN = (
    "Pawn to e4, pawn to c5. Knight to f3, pawn to d6.",
    "Pawn to d4, c takes d4, knight takes d4, knight to f6.",
    "Knight to c3 and pawn to g6, the dragon's own move.",
    "Bishop to e3, bishop to g7, pawn to f3, and Black castles.",
    "Queen to d2, knight to c6, bishop to c4, bishop to d7.",
    "White castles long, rook to c8, bishop to b3, knight to e5.",
)
SICILIAN_MOVES = "e4 c5 Nf3 d6 d4 cxd4 Nxd4 Nf6 Nc3 g6 Be3 Bg7 f3 O-O Qd2 Nc6 Bc4 Bd7 O-O-O Rc8 Bb3 Ne5"


def told(*sentences: str, bare: bool = False) -> Captions:
    """Captions, four seconds a sentence; bare ones without capitals and punctuation, as recognisers write."""
    cues = []
    for number, text in enumerate(sentences):
        start = 4 * number
        words = "".join(sign for sign in text.lower() if sign.isalnum() or sign in " '") if bare else text
        cues.append(f"{_stamp(start)} --> {_stamp(start + 3.9)}\n{words}\n")
    return parse_captions("WEBVTT\n\n" + "\n".join(cues), "evening.vtt")


def _stamp(seconds: float) -> str:
    return f"{int(seconds) // 60:02d}:{seconds % 60:06.3f}"


def score_of(moves: str, number: int, white: str) -> Score:
    """A score of an invented game."""
    board = chess.Board()
    played = tuple(board.push_san(san).uci() for san in moves.split())
    return Score(chess.STARTING_FEN, played, {"White": white, "Black": "Tomas Reed", "Result": "1/2-1/2"}, number)


def sans(moves: tuple[str, ...]) -> str:
    """Moves in SAN, from moves in UCI."""
    board = chess.Board()
    return " ".join(board.san_and_push(chess.Move.from_uci(move)) for move in moves)

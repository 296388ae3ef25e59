"""Small invented talks for tests: words with times, scores from SAN, and what a record says as plain paths of SAN."""

from __future__ import annotations

import chess

from aligner.captions.words import Captions, Cue, Word
from aligner.pgn.score import Score
from aligner.record.model import Game, Mention, Record
from aligner.search.lines import LineNode, Lines

WORD, PAUSE = 350, 50
"""Milliseconds that a word takes, and those before the next."""
SENTENCE = 400
"""Milliseconds more after a full stop."""

# Invented games. The first is quiet, so that few moves fit a wrong place; the second shares no move with it.
QUIET = "e4 e5 Nf3 Nc6 Bc4 Bc5 c3 Nf6 d3 d6 O-O O-O Re1 a6 Bb3 Ba7 h3 h6 Nbd2 Re8 Nf1 Be6"
OTHER = "d4 d5 Nc3 Bf5 Bf4 e6 e3 Bd6 Bxd6 cxd6 Bd3 Bxd3 Qxd3 Nc6 Nge2 Nge7 O-O-O Rc8 h4 h5 Kb1 g6"
TRADES = "e4 d5 exd5 Qxd5 Nc3 Qa5 d4 Nf6 Nf3 Bg4 Be2 Bxf3 Bxf3 c6 O-O e6 Re1 Be7 Bd2 Qb6"


def words_of(text: str, start: int = 0) -> tuple[Word, ...]:
    """The words of a text, one after the other, with a breath after each full stop."""
    found, at = [], start
    for word in text.split():
        found.append(Word(word, at, at + WORD, 0))
        at += WORD + PAUSE + (SENTENCE if word[-1] in ".!?" else 0)
    return tuple(found)


def captions_of(text: str, name: str = "invented.vtt") -> Captions:
    """Captions of one cue that hold the text."""
    words = words_of(text)
    end = words[-1].end if words else 0
    return Captions(name, "webvtt", text, words, (Cue(0, end, text, 3),) if words else (), (), end)


def uci_of(sans: str, fen: str = chess.STARTING_FEN) -> tuple[str, ...]:
    """The moves of SAN in UCI; python-chess is the reference."""
    board, moves = chess.Board(fen), []
    for san in sans.split():
        move = board.parse_san(san)
        moves.append(move.uci())
        board.push(move)
    return tuple(moves)


def node_after(lines: Lines, sans: str) -> LineNode:
    """The node that moves in SAN lead to from the root."""
    node = lines.root
    for uci in uci_of(sans, node.board.fen()):
        node = lines.after(node, chess.Move.from_uci(uci))
    return node


def score_of(sans: str, fen: str = chess.STARTING_FEN, number: int = 1, **headers: str) -> Score:
    """A score of SAN moves, with invented players."""
    board = chess.Board(fen)
    return Score(board.fen(), uci_of(sans, fen), {"White": "Marl", "Black": "Fenn", "Result": "*", **headers}, number)


def spoken(sans: str) -> str:
    """Each move in plain words, a sentence each: "knight to f3. takes on e5 with the pawn." """
    return " ".join(f"{said(san)}." for san in sans.split())


def said(san: str) -> str:
    """A move in SAN as it is read aloud, common practice: "Nbxd2+" is "knight b takes d2 check"."""
    plain = san.rstrip("+#")
    if plain.startswith("O-O"):
        return "castles queenside" if plain == "O-O-O" else "castles kingside"
    plain, _, promoted = plain.partition("=")
    names = {"K": "king", "Q": "queen", "R": "rook", "B": "bishop", "N": "knight"}
    piece = names.get(plain[0], "")
    origin = plain[1 if piece else 0 : -2].rstrip("x")
    parts = [piece, origin, "takes" if "x" in plain else "", plain[-2:]]
    if promoted:
        parts += ["equals", names[promoted]]
    parts.append("mate" if san.endswith("#") else "check" if san.endswith("+") else "")
    return " ".join(part for part in parts if part)


def path(game: Game, node: int) -> str:
    """The SAN moves from the start to a node, in one line."""
    by_id = {found.id: found for found in game.nodes}
    sans: list[str] = []
    at = by_id[node]
    while at.parent is not None:
        sans.append(at.san)
        at = by_id[at.parent]
    return " ".join(reversed(sans))


def main_of(game: Game) -> str:
    """The game's own moves."""
    return " ".join(node.san for node in game.nodes if node.main and node.uci)


def sidelines(game: Game) -> set[str]:
    """For each sideline that goes no further: its moves from where it leaves the game, "12: Nf3 Nf6" after ply 12."""
    by_id = {node.id: node for node in game.nodes}
    parents = {node.parent for node in game.nodes}
    found = set()
    for node in game.nodes:
        if node.main or node.id in parents:
            continue
        sans, at = [], node
        while not at.main:
            sans.append(at.san)
            assert at.parent is not None
            at = by_id[at.parent]
        found.add(f"{at.ply}: {' '.join(reversed(sans))}")
    return found


def last_moves(game: Game) -> list[str]:
    """For each mention its kind and the SAN of its last move."""
    san = {node.id: node.san for node in game.nodes}
    return [f"{mention.kind} {san[mention.nodes[-1]]}" for mention in game.mentions if mention.nodes]


def mention_of(record: Record, words: str) -> Mention:
    """The one mention whose words are these, case and punctuation aside."""
    plain = [(m, " ".join(w.strip(".,!?").lower() for w in m.text.split())) for m in record.games[0].mentions]
    [found] = [m for m, text in plain if text == words]
    return found

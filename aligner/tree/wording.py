"""Plain sentences about decisions: why a phrase is taken for a move, and what was misnamed."""

from __future__ import annotations

import chess

from aligner.search.lines import LineNode
from aligner.search.reading import Choice

_WHY = {
    "game": "the game's next move",
    "return": "the game's next move, where the talk comes back to it",
    "open": "the next move of the game as the talk tells it",
    "promote": "the game goes on along the line that was being shown",
    "replace": "the game's move, put right",
    "leave": "a sideline that leaves the game here",
    "line": "the next move of the sideline",
    "alternative": "another move in place of the one just spoken of",
    "earlier": "another move, some plies back in the line",
    "leave_back": "a sideline from the game, after an earlier one was left",
    "part_way": "a move in a sideline that was left before",
    "focus": "another move in place of the one looked back at",
    "far": "a sideline from an earlier position of the game",
    "again": "a move that was spoken of before",
}
_PIECES = {
    chess.PAWN: "pawn",
    chess.KNIGHT: "knight",
    chess.BISHOP: "bishop",
    chess.ROOK: "rook",
    chess.QUEEN: "queen",
    chess.KING: "king",
}
_SLIPS = {
    "square": "the square is wrong",
    "file": "the file is wrong",
    "rank": "the rank is wrong",
    "mirrored": "the square is mirrored",
    "piece": "the piece is wrong",
    "origin": "it comes from elsewhere",
    "side": "it is the other side's move",
    "castling": "it is the other wing",
    "capture": "nothing is captured",
    "captured": "another piece is captured",
    "promotion": "the promotion is wrong",
    "colour": "the bishop is of the other colour",
    "check": "it is no check",
}


def san(node: LineNode) -> str:
    """The move that leads to a node, in SAN of the FIDE Laws of Chess."""
    if node.parent is None or node.move is None:
        return ""
    return node.parent.board.san(node.move)


def numbered(node: LineNode) -> str:
    """The move with its number: "12.Nf3", "12...Nf6"."""
    if node.parent is None:
        return "the start position"
    board = node.parent.board
    return f"{board.fullmove_number}{'.' if board.turn else '...'}{san(node)}"


def why(choice: Choice) -> str:
    """What a decision rests on, one sentence."""
    decision = choice.decision
    reason = _WHY.get(decision.kind, "the move that fits")
    names = " ".join(numbered(node) for node in decision.nodes)
    sentence = f"{names}: {reason}"
    if decision.slips:
        sentence += ", though " + " and ".join(_SLIPS[slip] for slip in decision.slips)
    elif any(name == "sound" for name, _ in decision.terms):
        sentence += ", as the words sound"
    if decision.passed:
        sentence += (
            f"; {len(decision.passed)} {'ply' if len(decision.passed) == 1 else 'plies'} before it went unspoken"
        )
    return sentence + "."


def misnamed(said: str, node: LineNode, slips: tuple[str, ...]) -> str:
    """One sentence for the commentator: what was said, and what was meant and why."""
    reasons = " and ".join(_SLIPS[slip] for slip in slips) or "the words sound like it"
    return f'"{said}" is not the move here: {numbered(node)} is meant; {reasons}.'

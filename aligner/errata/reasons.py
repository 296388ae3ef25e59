"""Why a move is misnamed, in one plain sentence, and the position to look at."""

from __future__ import annotations

import chess

from aligner.errata.cause import Named, named_in
from aligner.record.model import Finding, Node

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven")
_PIECE = {chess.piece_name(kind): kind for kind in chess.PIECE_TYPES}


def reason(finding: Finding, node: Node | None) -> str:
    """One sentence: what was said, whether it is possible, what was meant, how the two differ.

    Args:
        finding: of a misnamed move, with position and move.
        node: the move's node; None where it has none.
    """
    if not finding.fen or not finding.meant.uci:
        return finding.message
    board = chess.Board(finding.fen)
    move = chess.Move.from_uci(finding.meant.uci)
    said = finding.said.strip(" ,.;:!?")
    named = named_in(said)
    number = f"{board.fullmove_number}{'.' if board.turn else '...'}{finding.meant.san or board.san(move)}"
    whose = "the game has" if node is not None and node.main else "the line has"
    if finding.kind == "garble":
        return f'"{said}" is {number} misheard: {whose} this move, and the words sound like it.'
    if finding.kind == "side":
        return f'"{said}" is {"White" if board.turn else "Black"}\'s move: {whose} {number}.'
    possible = _possible(board, named)
    opening = f'"{said}" is possible here too' if possible else f'"{said}" is not possible here'
    if finding.kind in ("check", "capture", "captured", "castling", "promotion", "colour"):
        opening = f'"{said}" is not right'
    difference = _difference(board, move, named, finding.kind)
    return f"{opening}; {whose} {number}{', ' + difference if difference else ''}."


def _possible(board: chess.Board, named: Named) -> bool:
    """Whether a legal move fits piece, file and square of the words; python-chess knows what is legal."""
    if not named.square:
        return False
    target = chess.parse_square(named.square)
    kind = _PIECE.get(named.piece, chess.PAWN)
    return any(
        move.to_square == target
        and board.piece_type_at(move.from_square) == kind
        and (not named.file or chess.FILE_NAMES[chess.square_file(move.from_square)] == named.file)
        for move in board.legal_moves
    )


def _difference(board: chess.Board, move: chess.Move, named: Named, kind: str) -> str:
    mover = board.piece_type_at(move.from_square)
    name = chess.piece_name(mover) if mover else "piece"
    match kind:
        case "piece":
            return f"a {name}'s move" + (f" and not a {named.piece}'s" if named.piece and named.piece != name else "")
        case "origin":
            return f"from the {chess.FILE_NAMES[chess.square_file(move.from_square)]}-file"
        case "castling":
            return "on the other wing"
        case "capture":
            return "which captures nothing"
        case "captured":
            return "which captures another piece"
        case "promotion":
            return "which promotes otherwise" if move.promotion else "which is no promotion"
        case "colour":
            light = chess.BB_SQUARES[move.from_square] & chess.BB_LIGHT_SQUARES
            return f"with the {'light' if light else 'dark'}-squared bishop"
        case "check":
            return "which gives no check"
        case "mirrored":
            return "its mirror image"
    if not named.square:
        return ""
    target = chess.parse_square(named.square)
    files = abs(chess.square_file(target) - chess.square_file(move.to_square))
    ranks = abs(chess.square_rank(target) - chess.square_rank(move.to_square))
    parts = [f"{_NUMBERS[n]} {what}{'' if n == 1 else 's'}" for n, what in ((files, "file"), (ranks, "rank")) if n]
    return f"{' and '.join(parts)} away" if parts else ""


def diagram(fen: str) -> str:
    """The position as eight lines with ranks and files; upper case is White, a dot an empty square, as in FEN."""
    board = chess.Board(fen)
    rows = str(board).splitlines()
    lines = [f"{8 - index} {row}" for index, row in enumerate(rows)]
    return "\n".join([*lines, "  a b c d e f g h", f"  {'White' if board.turn else 'Black'} to move"])

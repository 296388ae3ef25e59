"""The annotated PGN of a record: export format of the PGN standard, with the times of every spoken move."""

from __future__ import annotations

from collections.abc import Iterator

import chess

from aligner.errors import RecordError
from aligner.pgn.text import (
    RESULTS,
    comment_text,
    comment_tokens,
    justified,
    media_command,
    tag_name,
    tag_pair,
    tag_value,
)
from aligner.record.model import Game, Node, Record, Recording
from aligner.record.tree import children, main_line

ROSTER = {"Event": "?", "Site": "?", "Date": "????.??.??", "Round": "?", "White": "?", "Black": "?", "Result": "*"}
"""The Seven Tag Roster in its order, with the values that stand for "unknown": PGN standard, 8.1.1."""

END_OF_GAME = "The game ends here; the moves that follow were shown in the talk."
"""Said after a game's last move where the talk goes on from it: PGN would show those moves as the game's own."""

# FEN and SetUp follow from the record; a variant would make a reader apply other rules than the record's.
_NOT_COPIED = {"FEN", "SetUp", "Variant"}


def write_pgn(record: Record) -> str:
    """All games of a record as PGN, each followed by an empty line.

    The same record always gives the same text. Comments and header values are cleaned, see `aligner.pgn.text`.

    Raises:
        RecordError: a move is not legal where it stands, or a node hangs in no tree.
    """
    return "".join(
        f"{_tag_pairs(game, record.recording)}\n\n{justified(_movetext(game, number))}\n\n"
        for number, game in enumerate(record.games, start=1)
    )


def _tag_pairs(game: Game, recording: Recording) -> str:
    headers: dict[str, str] = {}
    for name, value in game.headers.items():
        if name not in _NOT_COPIED:
            headers.setdefault(tag_name(name), value)
    headers.pop("", None)
    if recording.url or recording.captions:
        headers["Media"] = recording.url or recording.captions
    start = _start(game, "the record").fen(en_passant="fen")
    if start != chess.STARTING_FEN:
        headers |= {"SetUp": "1", "FEN": start}
    roster = {name: tag_value(headers.pop(name, "")) or unknown for name, unknown in ROSTER.items()}
    roster["Result"] = _result(game)
    # PGN standard, 8.1.1: further tag pairs in ASCII order of their names.
    return "\n".join(tag_pair(name, value) for name, value in (*roster.items(), *sorted(headers.items())))


def _result(game: Game) -> str:
    result = game.headers.get("Result", "*")
    return result if result in RESULTS else "*"


def _start(game: Game, where: str) -> chess.Board:
    try:
        return chess.Board(game.start_fen)
    except ValueError:
        raise RecordError(f"the start position {game.start_fen!r} is no FEN.", where) from None


def _movetext(game: Game, number: int) -> Iterator[str]:
    """The tokens of one game, the termination marker last.

    A stack of what is still to be done instead of recursion: a sideline may be thousands of plies deep.
    """
    where = f"game {number} of the record"
    board = _start(game, where)
    below = children(game)
    main = main_line(game)
    last = main[-1] if main else None
    root = game.nodes[0]
    yield from _comment(root, "")
    numbered = True
    moves: dict[int, chess.Move] = {}
    waiting: list[tuple[str, Node]] = [("after", root)]
    while waiting:
        step, node = waiting.pop()
        if step == "after":
            # The first child goes on; the others stand after it, as what could have been played instead of it.
            if below[node.id]:
                first, *others = below[node.id]
                waiting += [("undo", first), ("after", first), ("play", first)]
                for other in reversed(others):
                    waiting += [("close", other), ("undo", other), ("after", other), ("play", other)]
                    waiting += [("move", other), ("open", other)]
                waiting.append(("move", first))
        elif step == "open":
            yield "("
            numbered = True
        elif step == "close":
            yield ")"
            numbered = True
        elif step == "play":
            board.push(moves[node.id])
        elif step == "undo":
            board.pop()
        else:
            moves[node.id] = move = _move(node, board, where)
            if board.turn or numbered:
                yield f"{board.fullmove_number}{'.' if board.turn else '...'}"
            yield board.san(move)
            annotations = [f"${nag}" for nag in sorted(set(node.nags)) if 0 < nag < 256]
            goes_on = node is last and bool(below[node.id])
            # Not twice, where the record was made from our own PGN.
            remark = END_OF_GAME if goes_on and END_OF_GAME not in comment_text(node.comment) else ""
            annotations += _comment(node, remark)
            yield from annotations
            # PGN standard, 8.2.2.2: after an annotation a black move has its number too.
            numbered = bool(annotations)
    adrift = len(game.nodes) - 1 - len(moves)
    if adrift:
        raise RecordError(f"{adrift} of its moves hang in no line from the start.", where)
    yield _result(game)


def _move(node: Node, board: chess.Board, where: str) -> chess.Move:
    try:
        move = chess.Move.from_uci(node.uci or "")
    except ValueError:
        move = chess.Move.null()
    if not board.is_legal(move):
        raise RecordError(f"the move {node.uci!r} of node {node.id} is not legal in {board.fen()}.", where)
    return move


def _comment(node: Node, remark: str) -> list[str]:
    commands = [command for start, end in node.times if (command := media_command(start, end))]
    return comment_tokens(commands, f"{node.comment} {remark}")

"""False statements about moves: check and mate."""

from __future__ import annotations

from collections.abc import Iterator

import chess

from aligner.errata.cause import named_in
from aligner.errata.claim import Claim, Hearing
from aligner.errata.playable import passed
from aligner.record.model import Meant, Mention, Node

RIGHT_AFTER = 2
"""Tokens between a move and the "check" that is said of it."""
SURE_MENTION = 0.8
"""Confidence a mention needs before what is said of its move is checked."""
SUREST_MENTION = 0.98
"""Confidence from which a move of the game stands where it is, though another was spoken of before it."""
LEAPT = 0.8
"""Factor for a move that does not follow the one spoken of before it."""
MATE_TOLD_WITHIN = 30
"""Tokens after a mate within which it may be called one."""


def announced(hearing: Hearing) -> Iterator[Claim]:
    """ "Check" or "mate" said of a move that gives none, and "check" of a move that mates."""
    discussion = hearing.discussion
    for wording in hearing.wordings.of("announced"):
        word = hearing.word(wording.start)
        mention = discussion.last(word)
        if mention is None or mention.kind == "slip" or mention.confidence < SURE_MENTION:
            continue
        if not discussion.nodes[mention.nodes[-1]].main:
            continue  # where a sideline gives no check that was told, it is the record that is wrong
        inside = mention.words[0] <= word < mention.words[1]
        gap = [t for t in range(wording.start - RIGHT_AFTER - 1, wording.start) if t >= 0]
        adjacent = any(hearing.word(token) == mention.words[1] - 1 for token in gap)
        plain = wording.end - wording.start == 1
        if not (inside or adjacent) or (plain and not (inside or _follows(hearing, wording.start, mention))):
            continue
        if _denied(hearing, wording.start) or hearing.wordings.taken_back(wording.end):
            continue
        if any(hearing.wordings.at(token, "mate_in") for token in range(wording.start, wording.end)):
            continue
        yield from _announced(hearing, wording.value, wording.start, wording.end, mention, _placed(hearing, mention))


def _placed(hearing: Hearing, mention: Mention) -> float:
    """How sure it is that the mention's move stands where the record has it, 0 to 1.

    The words must name the piece that moves, and the move before must be as sure as this one.
    """
    discussion = hearing.discussion
    node = discussion.nodes[mention.nodes[-1]]
    if node.parent is None:
        return 0.0
    mover = discussion.boards[node.parent].piece_at(chess.Move.from_uci(node.uci or "").from_square)
    named = named_in(mention.text).piece
    if mover is None or (named or "pawn") != chess.piece_name(mover.piece_type):
        return 0.0
    before = discussion.before(mention)
    if node.main and mention.confidence >= SUREST_MENTION:
        return mention.confidence  # back in the game, wherever the talk was before
    follows = before is None or discussion.nodes[mention.nodes[0]].parent == before.nodes[-1]
    return mention.confidence * (before.confidence if before else 1.0) * (1.0 if follows else LEAPT)


def _announced(hearing: Hearing, value: str, start: int, end: int, mention: Mention, placed: float) -> Iterator[Claim]:
    discussion = hearing.discussion
    nodes = [discussion.nodes[number] for number in mention.nodes if discussion.nodes[number].parent is not None]
    if not nodes:
        return
    boards = [discussion.boards[node.id] for node in nodes]
    last = nodes[-1]
    fen = discussion.boards[last.id].fen()
    meant = Meant(last.uci, last.san, last.id)
    name = discussion.numbered(last)
    following = discussion.next(hearing.word(start))
    more = [discussion.boards[number] for number in following.nodes] if following is not None else []
    told = following is not None and following.words[0] - mention.words[1] <= 3
    if value == "check" and not any(board.is_check() for board in boards):
        if told and any(board.is_check() for board in more):
            return  # "check, knight to f7" announces the move after it
        if _another(hearing, mention, last, mate=False):
            return
        yield Claim(start, end, "check", 0.95 * placed, f"{name} gives no check.", fen, meant=meant)
    elif value == "mate" and not any(board.is_checkmate() for board in boards):
        if hearing.wordings.at(end, "threatened") or any(board.is_checkmate() for board in more):
            return
        if _another(hearing, mention, last, mate=True):
            return
        yield Claim(start, end, "mate", 0.9 * placed, f"{name} does not mate.", fen, meant=meant)
    elif value == "check" and boards[-1].is_checkmate() and not _mate_told(hearing, end):
        message = f"{name} is more than check: it is mate."
        yield Claim(start, end, "mate", 0.75 * placed, message, fen, meant=meant)


def _another(hearing: Hearing, mention: Mention, node: Node, mate: bool) -> bool:
    """Whether another move to the same square, here or in a position nearby, would give the check that was told of.

    Then the check may well be true, and the record have the wrong move. Where a piece is named only moves of that piece
    count, and where no square is, those to any.
    """
    discussion = hearing.discussion
    named = named_in(mention.text)
    pieces = [kind for kind in chess.PIECE_TYPES if chess.piece_name(kind) == named.piece]
    onto = (
        chess.BB_SQUARES[chess.Move.from_uci(node.uci or "").to_square] if named.square or not pieces else chess.BB_ALL
    )
    boards = discussion.positions(discussion.wide(*mention.words))
    if onto == chess.BB_ALL:  # where so little is said, a move before it may be missing
        boards += [other for board in boards if (other := passed(board)) is not None]
    for board in boards:
        for move in board.generate_legal_moves(chess.BB_ALL, onto):
            if (not pieces or board.piece_type_at(move.from_square) in pieces) and board.gives_check(move):
                if not mate:
                    return True
                after = board.copy(stack=False)
                after.push(move)
                if after.is_checkmate():
                    return True
    return False


def _mate_told(hearing: Hearing, end: int) -> bool:
    last = min(end + MATE_TOLD_WITHIN, len(hearing.speech.tokens))
    return hearing.wordings.any_in("announced", "mate", end, last)


def _follows(hearing: Hearing, token: int, mention: Mention) -> bool:
    """Whether a bare "check" stands right after the mention, and is not the beginning of something else."""
    tokens = hearing.speech.tokens
    if token == 0 or hearing.word(token - 1) != mention.words[1] - 1 or tokens[token - 1].stop:
        return False
    return token + 1 >= len(tokens) or hearing.wordings.at(token + 1, "object") is None


def _denied(hearing: Hearing, start: int) -> bool:
    first, _ = hearing.wordings.sentence(start, 3)
    verb = hearing.wordings.before(start, "supposed")
    return hearing.wordings.any_in("supposed", "not", first, start) or (verb is not None and verb.value == "verb")

"""False statements about who moves: "Black plays c3" of a move of White's."""

from __future__ import annotations

from collections.abc import Iterator

import chess

from aligner.errata.about_moves import SURE_MENTION
from aligner.errata.claim import Claim, Hearing
from aligner.record.model import Meant, Mention

_BETWEEN = 2
"""Tokens between the side and the words of the move, "Black now calmly plays"."""
_CONFIDENCE = 0.9
_ONE_MOVE = frozenset({"go_square", "push_square"})
"""Wordings of a verb and a square."""


def movers(hearing: Hearing) -> Iterator[Claim]:
    """A side named as the one that moves, where the move is the other's and the side named has no such move."""
    tokens, discussion = hearing.speech.tokens, hearing.discussion
    mentions = {mention.words[0]: mention for mention in discussion.mentions if _plain(mention)}
    begun = {
        stretch.start
        for stretch in hearing.speech.stretches
        # a verb and a square are one move: the mention may have the square alone of "plays d4"
        if not any(spoken.phrase.moves[0].form in _ONE_MOVE for spoken in stretch.spoken)
    }
    for entry in hearing.speech.entries:
        if entry.kind != "side" or tokens[entry.end - 1].text.endswith("'s") or hearing.supposed(entry.start):
            continue
        for token in range(entry.end, min(entry.end + _BETWEEN + 1, len(tokens))):
            if tokens[token].stop or tokens[token].comma:
                break
            mention = mentions.get(hearing.word(token))
            if mention is None or hearing.word(token - 1) == hearing.word(token):
                if token in begun:
                    break  # another move, which the side may well have made: "Black castles, bishop e3"
                continue
            node = discussion.nodes[mention.nodes[0]]
            before = discussion.boards[node.parent or 0]
            move = chess.Move.from_uci(node.uci or "")
            named = entry.value == "white"
            if named != before.turn and not _could(before, move, named):
                past = token
                while past < len(tokens) and hearing.word(past) < mention.words[1]:
                    past += 1
                message = (
                    f"{node.san} is {'White' if before.turn else 'Black'}'s move, not {entry.value.capitalize()}'s."
                )
                meant = Meant(node.uci, node.san, node.id)
                sure = _CONFIDENCE * mention.confidence
                yield Claim(entry.start, past, "side", sure, message, before.fen(), meant=meant)
            break


def _plain(mention: Mention) -> bool:
    return mention.kind == "move" and len(mention.nodes) == 1 and mention.confidence >= SURE_MENTION


def _could(before: chess.Board, move: chess.Move, side: bool) -> bool:
    """Whether a side could play such a move, right before it or right after it."""
    piece = before.piece_type_at(move.from_square)
    after = before.copy(stack=False)
    after.push(move)
    boards = [after]
    if not before.is_check():
        passed = before.copy(stack=False)
        passed.push(chess.Move.null())
        boards.append(passed)
    takes = before.is_capture(move)  # a pawn's capture is told as one
    return any(
        board.turn == side
        and board.piece_type_at(other.from_square) == piece
        and (piece != chess.PAWN or board.is_capture(other) == takes)
        for board in boards
        for other in board.generate_legal_moves(chess.BB_ALL, chess.BB_SQUARES[move.to_square])
    )

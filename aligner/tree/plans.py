"""Plans, threats and wishes: phrases that name a move which nobody plays, "Black wants to go knight takes e4"."""

from __future__ import annotations

from collections.abc import Mapping

import chess

from aligner.record.model import Alternative, Mention
from aligner.search.lines import LineNode, standing
from aligner.search.matching import Fit, exact_fits
from aligner.search.reading import Choice
from aligner.speech.description import Description
from aligner.speech.listen import Speech

_PLANNED = frozenset({"near.plan", "near.refuse", "near.could", "far.plan", "past.plan"})
"""Signs of the words around a phrase that speak of what may come."""


def plan(speech: Speech, choice: Choice, ids: Mapping[int, int]) -> Mention | None:
    """The idea that a phrase tells which was taken for no move; None where it tells none.

    It is one where the words around speak of what may come, and the side to move, or the other one in its turn, has
    exactly one such move. Where it is the side to move's, the move stands among the alternatives.

    Args:
        speech: the talk as heard.
        choice: a decision without nodes.
        ids: of the record's nodes, by the numbers of the search's.
    """
    spoken = choice.decision.spoken
    if spoken is None or choice.decision.nodes or len(spoken.phrase.moves) != 1 or spoken.phrase.stands is not None:
        return None
    said = spoken.phrase.moves[0]
    if spoken.inside or said.form == "square" or not (said.target is not None or said.castle):
        return None
    if not _PLANNED & set(spoken.signs):
        return None
    now = _only(choice.cursor, said)
    if now is None and _only(_passed(choice.cursor), said) is None:
        return None
    first, past = choice.words
    start, end = speech.words[first].start / 1000, speech.words[past - 1].end / 1000
    text = " ".join(word.text for word in speech.words[first:past])
    sure = round(choice.probability, 4)
    parent = ids.get(choice.cursor.number)
    rivals: tuple[Alternative, ...] = ()
    if now is not None and parent is not None:
        san = choice.cursor.board.san(now.move)
        rivals = (Alternative(now.move.uci(), san, sure, parent, "idea"),)
    return Mention(start, end, text, (first, past), "idea", (), sure, rivals, "a move that is only planned or feared")


def _only(node: LineNode | None, said: Description) -> Fit | None:
    fits = exact_fits(node, said) if node is not None else []
    return fits[0] if len(fits) == 1 else None


def _passed(node: LineNode) -> LineNode | None:
    """The position with the other side to move; None where the rules do not let it be."""
    if node.board.is_check():
        return None
    board = node.board.copy(stack=False)
    board.push(chess.Move.null())
    return standing(board)

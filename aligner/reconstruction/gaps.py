"""Plies that nobody spoke: which ones a phrase takes for granted, likeliest first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import chess

from aligner.search.fits import Fits
from aligner.search.lines import LineNode, standing
from aligner.search.matching import PricedFit, exact_fits
from aligner.speech.description import Terms
from aligner.speech.listen import Spoken

_PLAIN = frozenset({
    "piece_to", "piece_square", "symbols", "piece_takes_square", "file_takes_square", "square", "castle",
    "takes_square", "piece_takes_piece", "file_takes", "push_square", "go_square",
})  # fmt: skip
"""Wordings so plain that plies may have gone unspoken where they can't be played."""
_KEPT = 2
"""Fillings of a gap that are kept; another one is found later where the talk asks for it, by amending."""
_WIDE, _NARROW = 24, 2
"""Plies tried where they must make the phrase's move possible, and where any would do."""

Gap = tuple[tuple[LineNode, ...], Terms, list[PricedFit]]
"""The unspoken plies' nodes, the terms of passing them over, and how the phrase fits after them."""


def is_plain(spoken: Spoken) -> bool:
    """Whether a phrase names a move so plainly that it must have been possible."""
    said = spoken.phrase.moves[0]
    return said.form in _PLAIN and (said.target is not None or bool(said.castle) or bool(said.piece))


class Gaps:
    """Gaps before the phrases of one talk.

    Args:
        fits: of the talk's phrases.
        unsaid: positions after plies of which it is settled that nobody spoke them.
    """

    def __init__(self, fits: Fits, unsaid: Sequence[LineNode] = ()) -> None:
        self._fits = fits
        self._unsaid = {node.parent.number: node for node in unsaid if node.parent is not None}

    def before(self, node: LineNode, spoken: Spoken, any_ply: bool) -> list[Gap]:
        """Ways in which a phrase that can't be played at a node can be after more plies.

        Args:
            any_ply: whether to look beyond one ply that goes without saying, at one or two of any kind.
        """
        found = self._obvious(node, spoken)
        settled = self._unsaid.get(node.number)
        if settled is not None:
            found.insert(0, ((settled,), (), self._fits.fits(settled, spoken)))
        return [*found, *self._one(node, spoken), *self._two(node, spoken)] if any_ply else found

    def _obvious(self, node: LineNode, spoken: Spoken) -> list[Gap]:
        found: list[Gap] = []
        for between in self._fits.obvious(node):
            fits = self._fits.fits(between, spoken)
            if fits:
                found.append(((between,), (("gap_obvious", 1.0),), fits))
        return found

    def _one(self, node: LineNode, spoken: Spoken) -> list[Gap]:
        """One ply of the side to move; the phrase is the other side's."""
        found: list[Gap] = []
        tried = _WIDE if not self._possible(_passed(node), spoken) else 3 * _KEPT
        for between, nats in self._fits.likely(node)[:tried]:
            fits = self._fits.fits(between, spoken)
            if fits:
                found.append(((between,), _terms(1, nats), fits))
                if len(found) == _KEPT:
                    break
        return found

    def _two(self, node: LineNode, spoken: Spoken) -> list[Gap]:
        """A ply of the side to move that makes its own move possible, and a reply."""
        found: list[Gap] = []
        for first, nats in self._fits.likely(node)[:_WIDE]:
            if not self._possible(_passed(first), spoken):
                continue
            for second, more in self._replies(first, spoken):
                fits = self._fits.fits(second, spoken)
                if fits:
                    found.append(((first, second), _terms(2, nats + more), fits))
        found.sort(key=lambda gap: gap[1][-1][1])
        return found[:_KEPT]

    def _replies(self, node: LineNode, spoken: Spoken) -> Iterator[tuple[LineNode, float]]:
        kept = 0
        for reply, nats in self._fits.likely(node):
            if self._fits.fits(reply, spoken):
                yield reply, nats
                kept += 1
                if kept == _NARROW:
                    return

    def _possible(self, board: chess.Board | None, spoken: Spoken) -> bool:
        """Whether the side that has just moved could make the phrase's move, had it another turn."""
        if board is None:
            return False
        return bool(exact_fits(standing(board), spoken.phrase.moves[0]))


def _passed(node: LineNode) -> chess.Board | None:
    """The position with the other side to move; None where the king could then be taken."""
    board = node.board
    if board.is_check():
        return None
    passed = board.copy(stack=False)
    passed.push(chess.Move.null())
    return passed


def _terms(plies: int, nats: float) -> Terms:
    return ("gap", 1.0), ("gap_plies", float(plies)), ("gap_nats", nats)

"""Plies that nobody spoke, or that were not understood: which ones a phrase takes for granted.

Which move such a ply was is mostly left open: the side passes, as far as the position is concerned, and a move takes
the place of the pass when a later one can't be played otherwise (`amending`), or at the end.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

import chess

from aligner.openings.book import OUT, opening_book
from aligner.reconstruction.enabling import enabling
from aligner.search.fits import Fits
from aligner.search.lines import LineNode
from aligner.search.matching import PricedFit
from aligner.speech.description import Terms
from aligner.speech.listen import Spoken

_PLAIN = frozenset({
    "piece_to", "piece_square", "symbols", "piece_takes_square", "file_takes_square", "square", "castle",
    "takes_square", "piece_takes_piece", "file_takes", "push_square", "go_square",
})  # fmt: skip
"""Wordings so plain that plies may have gone unspoken where they can't be played."""
_KEPT = 2
"""Plies of a gap that are kept of those that make a move possible; others are found later, by amending."""
_TRIED = 24
"""Plies tried that may make a move possible, likeliest first."""
_CASTLED = (chess.G1, chess.C1, chess.G8, chess.C8)
"""Where a castling king goes."""

Gap = tuple[tuple[LineNode, ...], Terms, list[PricedFit]]
"""The unspoken plies' nodes, the terms of passing them over, and how the phrase fits after them."""


def is_plain(spoken: Spoken) -> bool:
    """Whether a phrase names a move so plainly that it must have been possible."""
    said = spoken.phrase.moves[0]
    return said.form in _PLAIN and (said.target is not None or bool(said.castle) or bool(said.piece))


def is_open(node: LineNode) -> bool:
    """Whether a node stands for a ply of which it is not known what was played."""
    return node.move is not None and not node.move


class Gaps:
    """Gaps before the phrases of one talk.

    Args:
        fits: of the talk's phrases.
        unsaid: positions after plies of which it is settled that nobody spoke them.
        course: where the game is known, by the number of a node the one after its next ply.
    """

    def __init__(
        self, fits: Fits, unsaid: Sequence[LineNode] = (), course: Mapping[int, LineNode] | None = None
    ) -> None:
        self._fits = fits
        self._unsaid = {node.parent.number: node for node in unsaid if node.parent is not None}
        self._course = course or {}

    def before(self, node: LineNode, spoken: Spoken, any_ply: bool) -> list[Gap]:
        """Ways in which a phrase that can't be played at a node can be after more plies.

        Args:
            any_ply: whether to look beyond one ply that goes without saying and plies of opening theory, at up to three
                of any kind.
        """
        found = [*self._obvious(node, spoken), *self._by_theory(node, spoken)]
        settled = self._unsaid.get(node.number)
        if settled is not None:
            found.insert(0, ((settled,), (), self._fits.fits(settled, spoken)))
        return [*found, *self._any(node, spoken)] if any_ply else found

    def _obvious(self, node: LineNode, spoken: Spoken) -> list[Gap]:
        found: list[Gap] = []
        for between in self._fits.obvious(node):
            fits = self._fits.fits(between, spoken)
            if fits:
                found.append(((between,), (("gap_obvious", 1.0),), fits))
        return found

    def _by_theory(self, node: LineNode, spoken: Spoken) -> Iterator[Gap]:
        """Plies of opening theory, after which the phrase tells a move of theory too."""
        if node.book == OUT or not is_plain(spoken):
            return
        said = spoken.phrase.moves[0]
        targets = tuple(at for at in (said.target, said.target_for_black) if at is not None)
        if not targets and said.castle:
            targets = _CASTLED
        for *before, last in opening_book().ways(node.book, targets):
            passed: list[LineNode] = []
            at = node
            for ply in before:
                at = self._fits.lines.after(at, ply.move)
                passed.append(at)
            if any(self._course.get(one.number, after) is not after for one, after in pairwise((node, *passed))):
                continue
            fits = [fit for fit in self._fits.fits(at, spoken) if fit[0] == last.move]
            if fits:
                rare = sum(ply.nats for ply in before)
                terms = ("gap_theory", 1.0), ("gap_theory_plies", float(len(before))), ("gap_theory_rare", rare)
                yield tuple(passed), terms, fits

    def _any(self, node: LineNode, spoken: Spoken) -> Iterator[Gap]:
        """One open ply; or a ply that makes the phrase's move possible, with an open one after it and before it."""
        yield from self._made_possible(node, (), spoken)
        between = self._open(node)
        if between is None:
            return
        fits = self._fits.fits(between, spoken)
        if fits:
            yield (between,), _terms(1, 0.0, 1), fits
        else:
            yield from self._made_possible(between, (between,), spoken)

    def _made_possible(self, node: LineNode, before: tuple[LineNode, ...], spoken: Spoken) -> Iterator[Gap]:
        kept = 0
        known = self._course.get(node.number)
        plies = enabling(node, spoken.phrase.moves[0]) if known is None else None
        if plies is not None and not plies:
            return
        for first, nats in self._fits.likely(node)[: None if known else _TRIED]:
            if first is not known if plies is None else first.move and not plies.may(node.board, first.move):
                continue
            second = self._open(first)
            if second is None:
                continue
            fits = self._fits.fits(second, spoken)
            if fits:
                passed = (*before, first, second)
                yield passed, _terms(len(passed), nats, len(before) + 1), fits
                kept += 1
                if kept == _KEPT:
                    return

    def _open(self, node: LineNode) -> LineNode | None:
        """The position after a ply that is left open; None where the rules do not let it be."""
        known = self._course.get(node.number)
        if known is not None:
            return known
        if is_open(node) or node.board.is_check():
            return None
        return self._fits.lines.after(node, chess.Move.null())


def _terms(plies: int, nats: float, open_plies: int) -> Terms:
    return ("gap", 1.0), ("gap_plies", float(plies)), ("gap_nats", nats), ("gap_open", float(open_plies))

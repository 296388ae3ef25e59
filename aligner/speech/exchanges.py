"""Exchanges: "trades queens", "the rooks come off", "gives up the bishop for the knight on f6", "they swap on d5"."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from aligner.speech.atoms import Atom
from aligner.speech.description import Description, Phrase, Terms
from aligner.speech.moving import Moving
from aligner.speech.subjects import Subject

_RETAKES = Description("retakes", capture=True)


class Exchanges(Moving):
    """Reads captures that are told as an exchange: the first, or the first and the one that answers it."""

    def trades(self, start: int, trade: Atom) -> Iterator[Phrase]:
        """What a verb of exchange begins."""
        at = trade.end
        if trade.value == "trade":
            for place in (at, *(everything.end for everything in self.atoms.at(at, "object"))):
                yield from self._where(start, place)
            alone = Description("takes", capture=True)
            yield from _both(start, at, alone, (("trade_alone", 1.0),))
        for link in self.atoms.at(at, "link"):
            if link.value == "det":
                at = link.end
        for end, who in self.subjects(at):
            if who.bare_file or who.piece in ("K", ""):
                continue
            like = Description("trades", piece=who.piece, capture=True, captured=who.piece)
            if who.placed:
                if trade.value == "trade":
                    spot = (who.from_file or 0) + 8 * (who.from_rank or 0)
                    yield from _both(start, end, replace(like, target=spot, target_for_black=spot), who.terms)
                continue
            yield from self._for(start, end, Description("piece_takes_piece", piece=who.piece, capture=True), who.terms)
            if trade.value == "trade" or (trade.value == "change" and who.piece != "P"):
                yield from _both(start, end, like)
                for off in self.atoms.at(end, "come_off"):
                    yield from self._like_on(start, off.end, like)

    def comes_off(self, start: int, place: int, who: Subject) -> Iterator[Phrase]:
        """Pieces of one kind that leave the board: "queens come off"."""
        for off in self.atoms.at(self.past_fillers(place), "come_off"):
            if not who.terms:
                first = Description("trades", piece=who.piece, capture=True, captured=who.piece)
                yield from _both(start, off.end, first)
                yield from self._like_on(start, off.end, first)

    def _like_on(self, start: int, place: int, first: Description) -> Iterator[Phrase]:
        """The square on which like takes like: "the knights come off on d5"."""
        for end, target, heard in self._on_squares(place):
            yield from _both(start, end, replace(first, target=target[0], target_for_black=target[1]), heard)

    def _where(self, start: int, at: int) -> Iterator[Phrase]:
        for end, target, heard in self._on_squares(at):
            move = Description("takes_square", target=target[0], target_for_black=target[1], capture=True)
            yield from _both(start, end, move, (*heard, ("colourful", 1.0)))

    def _for(self, start: int, place: int, move: Description, terms: Terms) -> Iterator[Phrase]:
        """The piece that is got for the one given: "the bishop for the knight on f6"."""
        for link in self.atoms.at(place, "link"):
            if link.value != "for":
                continue
            for end, victim in self.subjects(link.end):
                if victim.piece in ("K", "") or victim.bare_file:
                    continue
                taken = replace(move, captured=victim.piece)
                if victim.placed:
                    spot = (victim.from_file or 0) + 8 * (victim.from_rank or 0)
                    taken = replace(taken, target=spot, target_for_black=spot)
                yield from _both(start, end, taken, (*terms, *victim.terms, ("colourful", 1.0)))


def _both(start: int, end: int, move: Description, terms: Terms = ()) -> Iterator[Phrase]:
    """The capture, with and without the one that answers it."""
    yield Phrase(start, end, (move, _RETAKES), terms)
    yield Phrase(start, end, (move,), terms)

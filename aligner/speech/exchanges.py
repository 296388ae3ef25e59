"""Exchanges: "trades queens", "the rooks come off", "gives up the bishop for the knight on f6", "they swap on d5"."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from aligner.speech.atoms import Atom
from aligner.speech.description import Description, Phrase, Terms
from aligner.speech.moving import Moving, where_it_stood
from aligner.speech.subjects import Subject, made_by

_COLOURFUL: Terms = (("colourful", 1.0),)
_RETAKES = Description("retakes", capture=True)


class Exchanges(Moving):
    """Reads captures that are told as an exchange: the first, or the first and the one that answers it."""

    def trades(self, start: int, trade: Atom) -> Iterator[Phrase]:
        """What a verb of exchange begins."""
        at = trade.end
        if trade.value == "trade":
            pairs = [pair.end for pair in self.atoms.at(at, "pair")]
            for place in (at, *pairs, *(everything.end for everything in self.atoms.at(at, "object"))):
                yield from self._where(start, place)
            for place in pairs:
                yield from _both(start, place, Description("trades", capture=True))
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
            if trade.value == "give" and who.piece != "P" and at > trade.end:
                yield from self.parted_with(start, end, who, who.terms)
            if trade.value == "trade" or (trade.value == "change" and who.piece != "P"):
                yield from _both(start, end, like)
                for off in self.atoms.at(end, "come_off"):
                    yield from self._like_on(start, off.end, like)

    def comes_off(self, start: int, place: int, who: Subject) -> Iterator[Phrase]:
        """Pieces of one kind that leave the board: "queens come off"."""
        for off in self.atoms.at(self.past_fillers(place), "come_off"):
            if not who.terms:
                first = Description("trades", who.piece, who.from_file, capture=True, captured=who.piece)
                yield from _both(start, off.end, first)
                yield from self._like_on(start, off.end, first)

    def they_come_off(self, start: int) -> Iterator[Phrase]:
        """Like takes like, whatever they are: "they come off on d5"."""
        for pair in self.atoms.at(start, "pair"):
            for off in self.atoms.at(self.past_fillers(pair.end), "come_off"):
                first = Description("trades", capture=True)
                yield from _both(start, off.end, first)
                yield from self._like_on(start, off.end, first)

    def falls(self, start: int, place: int, who: Subject) -> Iterator[Phrase]:
        """The piece as what is lost: "the rook falls", "his bishop is taken by the pawn"."""
        if who.piece == "K" or who.terms or not who.definite:
            return
        for fall in self.atoms.at(self.past_fillers(place), "fall"):
            taken = Description("falls", capture=True, captured=who.piece)
            yield from self.told(start, fall.end, where_it_stood(taken, who))

    def parted_with(self, start: int, place: int, who: Subject, terms: Terms) -> Iterator[Phrase]:
        """The piece that takes as what is given: "gives up the queen", "sacrifices the bishop on h7"."""
        move = made_by(who, Description("gives", capture=True))
        yield from self.told(start, place, move, terms)
        for end, target, heard in self._on_squares(place):
            done = replace(move, target=target[0], target_for_black=target[1])
            yield from self.told(start, end, done, (*terms, *heard))

    def taken_apart(self, start: int) -> Iterator[Phrase]:
        """A verb parted by what it takes: "picks the d-pawn off with the rook"."""
        for verb in self.atoms.at(start, "take_apart"):
            for end, done, more in self._objects(verb.end, Description("piece_takes", capture=True)):
                for behind in self.atoms.at(end, "taken_apart") if end > verb.end and not done.manner else ():
                    done = replace(done, form=done.form.removeprefix("piece_"))
                    yield from self.told(start, behind.end, done, (*more, *_COLOURFUL))

    def _like_on(self, start: int, place: int, first: Description) -> Iterator[Phrase]:
        """The square on which like takes like: "the knights come off on d5"."""
        for end, target, heard in self._on_squares(place):
            yield from _both(start, end, replace(first, target=target[0], target_for_black=target[1]), heard)

    def _where(self, start: int, at: int) -> Iterator[Phrase]:
        for end, target, heard in self._on_squares(at):
            move = Description("takes_square", target=target[0], target_for_black=target[1], capture=True)
            yield from _both(start, end, move, (*heard, *_COLOURFUL))

    def _for(self, start: int, place: int, move: Description, terms: Terms) -> Iterator[Phrase]:
        """The piece that is got for the one given: "the bishop for the knight on f6"."""
        for link in self.atoms.at(place, "link"):
            if link.value != "for":
                continue
            for end, victim in self.subjects(link.end):
                if victim.piece in ("K", "") or victim.bare_file:
                    continue
                taken = where_it_stood(replace(move, captured=victim.piece), victim)
                yield from _both(start, end, taken, (*terms, *victim.terms, *_COLOURFUL))


def _both(start: int, end: int, move: Description, terms: Terms = ()) -> Iterator[Phrase]:
    """The capture, with and without the one that answers it."""
    yield Phrase(start, end, (move, _RETAKES), terms)
    yield Phrase(start, end, (move,), terms)

"""Moves told by what they do: "brings out the knight", "doubles rooks", "the e-pawn two squares"."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from aligner.speech.description import Description, Phrase, Terms
from aligner.speech.exchanges import Exchanges
from aligner.speech.moving import DIRECTIONS, LONGEST_PHRASE, way_of
from aligner.speech.subjects import Subject, file_number, made_by
from aligner.speech.symbols import square

_FROM_CHECK = 4
"""Places before an answer at which the check may end: "check, and then he walks in"."""
_WINGS = {"queen": "b2", "king": "g2"}
"""Where a bishop of each wing stands in fianchetto, seen from White."""


class Manoeuvres(Exchanges):
    """Reads moves told by what they do, with or without the piece."""

    def pushes(self, start: int, place: int, way: str) -> Iterator[Phrase]:
        """A pawn pushed: which one, how far."""
        base = way_of(Description("pushes", piece="P"), "past" if way == "past" else "up")
        yield Phrase(start, place, (base,))
        for end, who in self.subjects(place):
            if who.piece == "P" and not who.bare_file and not who.placed:
                pawn = made_by(who, base)
                yield Phrase(start, end, (pawn,), who.terms)
                yield from self.steps(start, end, pawn, who.terms, base.way)

    def steps(self, start: int, place: int, base: Description, terms: Terms, way: str = "") -> Iterator[Phrase]:
        """How far a piece goes: "two squares", "one square back", "up two"."""
        few_here, steps_here = self.atoms.at(place, "few"), self.atoms.at(place, "steps")
        if not (few_here or steps_here) or self.tokens[place - 1].stop:
            return
        for step in steps_here:
            move = replace(base, form="piece_steps", steps=int(step.value))
            yield Phrase(start, step.end, (way_of(move, way),), terms)
            for go in self.atoms.at(step.end, "go"):
                if go.value in DIRECTIONS:
                    yield Phrase(start, go.end, (way_of(move, go.value),), terms)
        for few in few_here:
            move = replace(base, form="piece_steps", steps=int(few.value))
            if way and not self.atoms.at(few.end, "piece"):
                yield Phrase(start, few.end, (way_of(move, way),), terms)
            for go in self.atoms.at(few.end, "go"):
                if go.value in DIRECTIONS:
                    yield Phrase(start, go.end, (way_of(move, go.value),), terms)

    def to_line(self, start: int, place: int, base: Description, terms: Terms) -> Iterator[Phrase]:
        """A file or a rank as the place to go to: "to the e-file", "on the open file", "to the seventh"."""
        for link in self.atoms.at(place, "link"):
            if link.value != "det":
                continue
            for file in self.atoms.at(link.end, "file"):
                for noun in self.atoms.at(file.end, "line"):
                    if noun.value == "file":
                        move = replace(base, form="piece_to_line", to_file=file_number(file.value))
                        yield Phrase(start, noun.end, (move,), terms)
            for spot in self.atoms.at(link.end, "spot"):
                yield Phrase(start, spot.end, (replace(base, form="piece_to_line", manner=spot.value),), terms)
            for rank in self.atoms.at(link.end, "ordinal"):
                move = replace(base, form="piece_to_line", to_rank=int(rank.value) - 1)
                yield Phrase(start, rank.end, (move,), terms)

    def brought(self, start: int) -> Iterator[Phrase]:
        """A piece as the object of the verb: "develops the knight", "withdraws the bishop", "brings back the rook"."""
        for verb in self.atoms.at(start, "bring"):
            way = verb.value
            for end, who in self.subjects(verb.end):
                if who.bare_file or not who.piece or who.terms or who.piece == "P":
                    continue
                yield Phrase(start, end, (way_of(made_by(who, Description("piece_moves")), way),))

    def by_both(self, start: int) -> Iterator[Phrase]:
        """A move that each side makes: "both sides fianchetto the king's bishop", "we both bring out a knight"."""
        for both in self.atoms.at(start, "both"):
            place = self.past_fillers(both.end)
            for phrase in [*self.told_by_aim(place), *self.brought(place)]:
                if phrase.moves[0].form != "likewise":
                    yield Phrase(start, phrase.end, phrase.moves * 2, phrase.terms)

    def by_each(self, start: int) -> Iterator[Phrase]:
        """One piece of each side: "knights out", "everybody's knights come out", "the bishops to e2 and e7"."""
        for place, wing in self._before_plural(start):
            for plural in self.atoms.at(place, "plural"):
                for out in self.atoms.at(self.past_fillers(plural.end), "each_out"):
                    move = way_of(Description("both_move", plural.value, wing=wing), out.value)
                    yield Phrase(start, out.end, (move, move))
                piece = Description("piece_square", plural.value, wing=wing)
                for end, way, _, only_on in self._ways(plural.end):
                    if not only_on and end - start <= LONGEST_PHRASE:
                        yield from self._to_each(start, end, way_of(piece, way))

    def _before_plural(self, start: int) -> Iterator[tuple[int, str]]:
        """Where the pieces may be named, and the wing they are said to be from."""
        yield start, ""
        for link in self.atoms.at(start, "link"):
            if link.value == "det":
                yield link.end, ""
        for which in self.atoms.at(start, "which"):
            wing = {"queenside": "queen", "kingside": "king"}.get(which.value)
            if wing:
                yield which.end, wing

    def _to_each(self, start: int, place: int, piece: Description) -> Iterator[Phrase]:
        """The squares of both pieces: "f3 and f6"."""
        for middle, first, heard in self._squares(place, False):
            for joint in self.atoms.at(middle, "joint"):
                for end, second, more in self._squares(joint.end, False):
                    moves = tuple(replace(piece, target=spot[0], target_for_black=spot[1]) for spot in (first, second))
                    yield Phrase(start, end, moves, (*heard, *more))

    def turned_round(self, start: int) -> Iterator[Phrase]:
        """The verb before the piece, behind a direction: "in hops the knight", "back he comes"."""
        for ahead in self.atoms.at(start, "ahead"):
            for go in self.atoms.at(ahead.end, "go"):
                if not self._verb_ends(go.end):
                    continue
                for end, who in self.subjects(go.end):
                    if who.piece not in ("", "P") and not who.bare_file and not who.terms:
                        yield Phrase(start, end, (way_of(made_by(who, Description("piece_moves")), ahead.value),))
            place = ahead.end
            if (
                ahead.value == "back"
                and place < len(self.tokens)
                and self.tokens[place].text in self.words.context.movers
            ):
                for go in self.atoms.at(place + 1, "go"):
                    if self._verb_ends(go.end):
                        yield Phrase(start, go.end, (Description("moves", way="back", manner="returns"),))

    def to_corner(self, start: int) -> Iterator[Phrase]:
        """Somebody, mostly the king, into the corner; a bare "corner" only among other moves."""
        into = Description("to_line", manner="corner")
        for spot in self.atoms.at(start, "spot"):
            if spot.value == "corner":
                yield Phrase(start, spot.end, (into,), alone="piece")
        for go in self.atoms.at(start, "go"):
            for place in {go.end, *(end for end, _, _, _ in self._ways(go.end))}:
                for det in self.atoms.at(place, "link"):
                    for spot in self.atoms.at(det.end, "spot") if det.value == "det" else ():
                        if spot.value == "corner" and spot.end - start <= LONGEST_PHRASE:
                            yield Phrase(start, spot.end, (into,))

    def out_of_check(self, start: int) -> Iterator[Phrase]:
        """Where the king goes that was checked right before: "check, there", "check, and he walks in"."""
        if not self._behind_check(start):
            return
        away = Description("evades", "K", manner="evades")
        for spot in self.atoms.at(start, "spot"):
            if spot.value == "corner":
                yield Phrase(start, spot.end, (replace(away, manner="corner"),))
        for word in self.atoms.at(start, "escape"):
            yield Phrase(start, word.end, (away,))
        for end, way, verbs, only_on in self._ways(start):
            if not verbs or only_on or end - start > LONGEST_PHRASE:
                continue
            going = replace(away, way=way if way in ("back", "up") else "")
            if self._verb_ends(end):
                yield Phrase(start, end, (going,))
            for word in self.atoms.at(end, "escape"):
                yield Phrase(start, word.end, (going,))

    def _behind_check(self, start: int) -> bool:
        """Whether a check was told right before a token, or before the little words and the mover there."""
        for place in range(start, max(start - _FROM_CHECK, 0), -1):
            if place in self._checked:
                return True
            little = self.past_joints(place - 1) > place - 1
            if not little and self.tokens[place - 1].text not in self.words.context.movers:
                return False
        return False

    def another_one(self, start: int) -> Iterator[Phrase]:
        """Another piece of the kind that was moved last: "and the other one comes out"."""
        like = Description("moves", manner="fellow")
        for fellow in self.atoms.at(start, "fellow"):
            yield Phrase(start, fellow.end, (like,), alone="piece")
            for end, way, verbs, only_on in self._ways(fellow.end):
                if not verbs or only_on or end - start > LONGEST_PHRASE:
                    continue
                if self._verb_ends(end):
                    yield Phrase(start, end, (replace(like, way=way if way in ("back", "up") else ""),))
                for after, target, heard in self._squares(end, True):
                    move = replace(like, form="go_square", target=target[0], target_for_black=target[1])
                    yield from self.told(start, after, move, heard)

    def against_men(self, start: int) -> Iterator[Phrase]:
        """A move told by the man it is aimed at: "hits the queen with the knight", "pins it", "offers the rooks"."""
        for attack in self.atoms.at(start, "attack"):
            yield from self.aimed(start, attack.end, Description("hits", manner="hits"))
        for pin in self.atoms.at(start, "pin"):
            yield from self.aimed(start, pin.end, Description("hits", manner="pins"))
        for offer in self.atoms.at(start, "offer"):
            for end, who in self.subjects(offer.end):
                if who.piece not in ("", "K", "P") and not who.bare_file and not who.placed and not who.terms:
                    move = Description("offers", piece=who.piece, manner="offers")
                    ends = [end, *(off.end for off in self.atoms.at(end, "come_off"))]
                    yield from (Phrase(start, last, (move,)) for last in ends)

    def aimed(self, start: int, place: int, move: Description, terms: Terms = ()) -> Iterator[Phrase]:
        """What is attacked, and what with, where that is said."""
        found = [(end, who.piece) for end, who in self.subjects(place) if who.definite and _named(who)]
        unnamed = [atom.end for atom in self.atoms.at(place, "object")]
        if move.manner == "pins":
            found += [(end, "") for end in unnamed]
            found += [] if move.piece else [(place, "")]
        for end, piece in found:
            yield Phrase(start, end, (replace(move, hits=piece),), terms)
        for end, piece in dict.fromkeys([*found, *((end, "") for end in unnamed)]):  # "hits it" alone says nothing
            for after, made, heard in self._with(end, replace(move, hits=piece)):
                yield Phrase(start, after, (made,), (*terms, *heard))

    def told_by_aim(self, start: int) -> Iterator[Phrase]:
        """Moves named for their aim: a fianchetto, doubled rooks, a capture in passing, the same as the other side."""
        for atom in self.atoms.at(start, "fianchetto"):
            ends = [(atom.end, "")]
            ends += [(end, who.wing) for end, who in self.subjects(atom.end) if who.piece == "B" and not who.placed]
            for end, wing in ends:
                for name, spot in _WINGS.items():
                    at = square(spot)
                    if wing in ("", name):
                        move = Description("fianchetto", piece="B", target=at, target_for_black=at ^ 56)
                        yield Phrase(start, end, (move,))
        for atom in self.atoms.at(start, "doubles"):
            move = Description("doubles", piece="R", manner="doubles")
            yield Phrase(start, atom.end, (move,))
            for on in self.atoms.at(atom.end, "link"):
                if on.value == "on":
                    for phrase in self.to_line(start, on.end, move, ()):
                        yield replace(phrase, moves=(replace(phrase.moves[0], form="doubles", manner="doubles"),))
        for atom in self.atoms.at(start, "passing"):
            yield Phrase(start, atom.end, (Description("takes", piece="P", capture=True, manner="passing"),))
        for atom in self.atoms.at(start, "block"):
            yield from self.told(start, atom.end, Description("moves", manner="blocks"))
        for atom in self.atoms.at(start, "guard"):
            yield from self._guards(start, atom.end)
        for atom in self.atoms.at(start, "likewise"):
            yield Phrase(start, atom.end, (Description("likewise", manner="mirrored"),))

    def _guards(self, start: int, place: int) -> Iterator[Phrase]:
        """What is guarded, where it is said, and what with: "defends the pawn with the rook"."""
        ends = {place, *(atom.end for atom in self.atoms.at(place, "object"))}
        ends.update(end for end, who in self.subjects(place) if who.piece and not who.bare_file)
        for end in sorted(ends):
            for after, move, terms in self._with(end, Description("moves", manner="guards")):
                yield Phrase(start, after, (move,), terms)


def _named(who: Subject) -> bool:
    """Whether a piece is plainly named."""
    return bool(who.piece) and not who.bare_file and not who.terms

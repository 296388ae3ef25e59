"""What a piece does: the words behind it into descriptions of one move, "goes back to e7", "takes on d5 with check"."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from aligner.speech.atoms import LETTERS_ALONE, Atom, Atoms
from aligner.speech.description import Description, Phrase, Terms
from aligner.speech.lexicon import Lexicon
from aligner.speech.subjects import Subject, Subjects, file_number, made_by
from aligner.speech.symbols import square
from aligner.speech.tokens import Token

DIRECTIONS = ("back", "up", "aside", "past")
LONGEST_PHRASE = 16
"""Tokens; nobody words one move longer than that, and it bounds the work on captions of any length."""

_FILE_AND_SQUARE = re.compile(r"([a-h])([a-h][1-8])")
"""As captioners write it after a piece: "rook fd1"."""
_TAILS = ("check", "check_heard", "promote", "promoting", "piece", "passing", "for_both")
"""What may follow a move, besides what it is made with."""
_FARTHEST_CHECK = 1.0
"""Sounds farther off than this are no check: "made" and "bay" are seldom mate."""


class Moving(Subjects):
    """Reads what a piece does, and what follows a move."""

    def __init__(self, tokens: Sequence[Token], atoms: Atoms, words: Lexicon) -> None:
        super().__init__(tokens, atoms, words)
        withs = {place for place, links in atoms.of("link").items() if any(link.value == "with" for link in links)}
        # where something may follow a move: most places have nothing, and are asked about again and again
        self._tailed = withs.union(*map(atoms.of, _TAILS))
        self._counted = {*atoms.of("few"), *atoms.of("steps")}
        self._joints = {place: max(joint.end for joint in joints) for place, joints in atoms.of("joint").items()}
        told = [atom for kind in ("check", "checking") for atoms_at in atoms.of(kind).values() for atom in atoms_at]
        self._checked = {check.end for check in told if check.value == "check"}

    def past_joints(self, place: int) -> int:
        """The place after the little words that join moves told in a row."""
        place = self._joints.get(place, place)
        return self._joints.get(place, place)

    def _moved(self, start: int, place: int, who: Subject) -> Iterator[Phrase]:
        base = made_by(who, Description(""))
        if who.placed and place - start <= 8 and not who.terms:
            at = (who.from_file or 0) + 8 * (who.from_rank or 0)
            stands = (who.piece, at, who.side)
            statement = Description("piece_on", who.piece, target=at, target_for_black=at, side=who.side)
            yield Phrase(start, place, (statement,), who.terms, stands=stands)
        if not who.bare_file:
            yield from self._goes(start, place, base, who.terms)
        elif place - start == 1 and self.tokens[start].text != "a":
            yield from self.steps(start, place, base, who.terms)
        yield from self._takes(start, place, base, who)
        if not who.bare_file:
            for promoting in self.atoms.at(self.past_fillers(place), "promoting"):
                move = replace(base, form="promoting", piece="P", promotion=promoting.value)
                yield Phrase(start, promoting.end, (move,), who.terms)
            for castle in self.atoms.at(self.past_fillers(place), "castle"):
                if who.piece == "K":
                    yield Phrase(start, castle.end, (Description("castle", castle=castle.value, side=who.side),))

    def _goes(self, start: int, place: int, base: Description, terms: Terms) -> Iterator[Phrase]:
        near = place
        joined = _FILE_AND_SQUARE.fullmatch(self.tokens[place].text) if 0 < place < len(self.tokens) else None
        if joined and base.from_file is None:
            at = square(joined[2])
            move = replace(base, form="piece_square", from_file=file_number(joined[1]), target=at, target_for_black=at)
            yield from self.told(start, place + 1, move, terms)
        for end, way, verbs, only_on in self._ways(place):
            if end - start > LONGEST_PHRASE:
                continue
            for after, target, heard in self._squares(end, True):
                form = "piece_square" if not verbs else "piece_on_square" if only_on else "piece_to"
                move = way_of(replace(base, form=form, target=target[0], target_for_black=target[1]), way)
                yield from self.told(start, after, move, terms + heard)
            if verbs:
                for bare in self.atoms.at(end, "squares_bare"):
                    at = square(bare.value)
                    move = way_of(replace(base, form="piece_to", target=at, target_for_black=at ^ 56), way)
                    yield from self.told(start, bare.end, move, terms + bare.terms)
                yield from self.to_line(start, end, base, terms)
            if end in self._counted and not only_on:
                yield from self.steps(start, end, base, terms, way or ("up" if verbs and base.piece == "P" else ""))
            if verbs and not only_on and end > near and self._verb_ends(end) and not terms:
                move = way_of(replace(base, form="piece_moves"), way)
                yield from self.told(start, end, move, terms)
        behind = self.past_fillers(place)
        for block in [*self.atoms.at(behind, "block"), *self.atoms.at(behind, "between")]:
            yield from self.told(start, block.end, replace(base, form="piece_moves", manner="blocks"), terms)
        for kind, manner in (("attack", "hits"), ("pin", "pins")):
            for verb in self.atoms.at(behind, kind):
                yield from self.aimed(start, verb.end, replace(base, form="piece_hits", manner=manner), terms)
        for check in self.atoms.at(self.past_fillers(place), "checking"):
            move = replace(base, form="piece_checks", check=check.value == "check", mate=check.value == "mate")
            yield Phrase(start, check.end, (move,), terms)
            for after, target, heard in self._on_squares(check.end):
                yield Phrase(
                    start, after, (replace(move, target=target[0], target_for_black=target[1]),), terms + heard
                )

    def aimed(self, start: int, place: int, move: Description, terms: Terms = ()) -> Iterator[Phrase]:
        """What the piece attacks; see `manoeuvres`."""
        raise NotImplementedError

    def steps(self, start: int, place: int, base: Description, terms: Terms, way: str = "") -> Iterator[Phrase]:
        """How far the piece goes; see `manoeuvres`."""
        raise NotImplementedError

    def to_line(self, start: int, place: int, base: Description, terms: Terms) -> Iterator[Phrase]:
        """Which file or rank the piece goes to; see `manoeuvres`."""
        raise NotImplementedError

    def _ways(self, place: int) -> Iterator[tuple[int, str, int, bool]]:
        """Ways from the piece to its square: (end, direction, number of verbs, whether only "on" stood there)."""
        seen = {(place, "", 0, False)}
        frontier = list(seen)
        while frontier:
            state = frontier.pop()
            yield state
            at, way, verbs, _ = state
            if verbs >= 4 or at - place > 8:
                continue
            steps = [
                (a.end, a.value if a.value in DIRECTIONS else way, verbs + 1, False) for a in self.atoms.at(at, "go")
            ]
            skipped = self.past_fillers(at)
            if skipped > at:
                steps.append((skipped, way, verbs, state[3]))
            for link in self.atoms.at(at, "link"):
                if link.value == "on":
                    steps.append((link.end, way, max(verbs, 1), verbs == 0))
                if link.value == "from":
                    for where in [*self.atoms.at(link.end, "square"), *self._ranks_left(link.end)]:
                        steps.append((where.end, way, max(verbs, 1), False))
            if at == place:
                steps += [(must.end, way, verbs, False) for must in self.atoms.at(at, "compelled")]
            for step in steps:
                if step not in seen:
                    seen.add(step)
                    frontier.append(step)

    def _ranks_left(self, place: int) -> Iterator[Atom]:
        """ "the back rank" and "the corner", behind "off" or "from"."""
        for det in self.atoms.at(place, "link"):
            if det.value == "det":
                yield from self.atoms.at(det.end, "ordinal")
                yield from self.atoms.at(det.end, "spot")

    def _verb_ends(self, end: int) -> bool:
        """Whether the words before `end` can close a move: "retreats" can, "back to" needs its square."""
        last = self.tokens[end - 1].text
        return last not in ("to", "into", "onto", "in", "at", "from", "on", "towards")

    def _takes(self, start: int, place: int, base: Description, who: Subject) -> Iterator[Phrase]:
        at = self.past_fillers(place)
        for kind in ("take", "take_heard"):
            for take in self.atoms.at(at, kind):
                lettered = self.tokens[start].text in LETTERS_ALONE  # "c tapes" can be nothing else
                lone = "sound" if who.bare_file and kind == "take_heard" and not lettered else ""
                if who.bare_file and who.from_file == 0 and self.tokens[start].text == "a" and take.value != "take":
                    continue
                if take.value in ("give", "change", "gain", "goodbye", "have"):
                    continue
                move = replace(base, form="piece_takes", capture=True)
                terms = who.terms + take.terms + colour(take)
                for end, done, more in self._objects(take.end, move):
                    form = ("file" if who.bare_file else "piece") + done.form.removeprefix("piece")
                    alone = lone if done.target is None else ""
                    yield from self.told(start, end, replace(done, form=form), terms + more, alone)

    def _squares(self, place: int, strong: bool) -> Iterator[tuple[int, tuple[int, int], Terms]]:
        """Squares that start here: (end, (for White, for Black), terms). Sounds only count after a piece or a verb."""
        place = self.past_fillers(place) if strong else place
        kinds = ("square", "square_heard") if strong else ("square",)
        for kind in kinds:
            for atom in self.atoms.at(place, kind):
                at = square(atom.value)
                yield atom.end, (at, at), atom.terms
        articles = [link.end for link in self.atoms.at(place, "link") if link.value == "det"] if strong else []
        for start in (place, *articles):  # "to the rook's fourth"
            for atom in self.atoms.at(start, "squares"):
                at = square(atom.value)
                yield atom.end, (at, at ^ 56), atom.terms

    def _on_squares(self, place: int) -> Iterator[tuple[int, tuple[int, int], Terms]]:
        for link in self.atoms.at(place, "link"):
            if link.value == "on":
                yield from self._squares(link.end, True)

    def _objects(self, place: int, move: Description) -> Iterator[tuple[int, Description, Terms]]:
        """What is captured: a square, a piece, a file, something unnamed, or nothing said."""
        yield place, move, ()
        at = self.past_fillers(place)
        for link in self.atoms.at(at, "link"):
            if link.value == "on":
                at = link.end
        for end, target, heard in self._squares(at, True):
            yield end, replace(move, form="piece_takes_square", target=target[0], target_for_black=target[1]), heard
        heard_files = (
            []
            if at < len(self.tokens) and self.tokens[at].text in self.words.single
            else [file for file in self.atoms.at(at, "file_heard") if not self.atoms.at(file.end, "rank")]
        )
        for file in [*self.atoms.at(at, "file"), *heard_files]:
            if not (file.value == "a" and self.tokens[at].text == "a") or move.piece == "P":
                yield file.end, replace(move, form="piece_takes_file", to_file=file_number(file.value)), file.terms
        for passing in self.atoms.at(at, "passing"):
            yield passing.end, replace(move, form="piece_takes", manner="passing"), ()
        for pronoun in self.atoms.at(at, "object"):
            yield pronoun.end, replace(move, form="piece_takes"), ()
        for end, victim in self.subjects(at):
            if victim.bare_file or not victim.piece:
                continue
            taken = where_it_stood(replace(move, form="piece_takes_piece", captured=victim.piece), victim)
            yield end, taken, victim.terms

    def told(self, start: int, place: int, move: Description, terms: Terms = (), alone: str = "") -> Iterator[Phrase]:
        """The move with and without what may follow it: "with check", "with the pawn", "equals queen"."""
        yield Phrase(start, place, (move,), terms, alone=alone)
        if place > 0 and place <= len(self.tokens) and self.tokens[place - 1].stop:
            return
        at = self.past_fillers(place)
        if self._tailed.isdisjoint((place, at, at + 1)):
            return
        for end, done, heard in self._tails(place, at, move):
            yield Phrase(start, end, (done,), terms + heard, alone=alone)
        if move.target != move.target_for_black:
            for both in self.atoms.at(at, "for_both"):  # "pawn to king's four on both sides"
                yield Phrase(start, both.end, (move, move), terms)

    def _tails(self, place: int, at: int, move: Description) -> Iterator[tuple[int, Description, Terms]]:
        """What may follow a move: (end, the move with it, terms)."""
        yield from self._checks(place, move)
        for end, done, heard in self._with(place, move):
            yield end, done, heard
            yield from ((after, checked, heard + more) for after, checked, more in self._checks(end, done))
        if move.capture:
            for passing in self.atoms.at(at, "passing"):
                yield passing.end, replace(move, manner="passing"), ()
        for promote in self.atoms.at(at, "promote"):
            for piece in self.pieces(promote.end):
                if piece.value in "QRBN" and _may_promote(move):
                    done = replace(move, promotion=piece.value)
                    yield piece.end, done, ()
                    yield from self._checks(piece.end, done)
        for promoting in [*self.atoms.at(at, "promoting"), *self.atoms.at(at + 1, "promoting")]:
            if _may_promote(move):
                yield promoting.end, replace(move, promotion="Q"), ()
        for piece in self.atoms.at(place, "piece"):
            if piece.value in ("Q", "R", "B", "N") and _may_promote(move) and move.target is not None:
                yield piece.end, replace(move, promotion=piece.value), piece.terms
                yield from self._checks(piece.end, replace(move, promotion=piece.value))

    def _checks(self, place: int, move: Description) -> Iterator[tuple[int, Description, Terms]]:
        at = self.past_fillers(place)
        for check in self.atoms.at(at, "check"):
            yield check.end, replace(move, check=check.value != "mate", mate=check.value == "mate"), ()
        for check in self.atoms.at(at, "check_heard"):
            if sum(amount for _, amount in check.terms) <= _FARTHEST_CHECK:
                yield check.end, replace(move, check=check.value != "mate", mate=check.value == "mate"), check.terms

    def _with(self, place: int, move: Description) -> Iterator[tuple[int, Description, Terms]]:
        if move.piece not in ("", "P") or (move.piece and move.form != "symbols"):
            return
        for link in self.atoms.at(place, "link"):
            if link.value == "with":
                for end, who in self.subjects(link.end):
                    if not who.bare_file and who.piece:
                        done = made_by(who, replace(move, form=move.form + "_with"))
                        yield end, done, who.terms
                        if done.target is None:
                            for after, target, _ in self._on_squares(end):
                                placed = replace(done, target=target[0], target_for_black=target[1])
                                yield after, placed, who.terms


def way_of(move: Description, way: str) -> Description:
    """The move with the direction it goes in; "past" an enemy pawn, "out" of the back rank and the like are manners."""
    if way == move.way:
        return move
    if way in ("out", "centre"):
        return replace(move, way="", manner=way)
    if way == "past":
        return replace(move, way="up", manner=way)
    return replace(move, way=way)


def where_it_stood(taken: Description, who: Subject) -> Description:
    """The capture with what was said of the place of what it takes."""
    if who.placed:
        spot = (who.from_file or 0) + 8 * (who.from_rank or 0)
        return replace(taken, target=spot, target_for_black=spot)
    return replace(taken, to_file=who.from_file) if who.from_file is not None else taken


def colour(take: Atom) -> Terms:
    return (("colourful", 1.0),) if take.value == "seize" else ()


def _may_promote(move: Description) -> bool:
    last = move.target is None or move.target // 8 in (0, 7)
    return last and not move.castle and move.piece in ("", "P") and not move.form.startswith(("takes_with", "check"))

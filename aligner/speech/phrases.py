"""The grammar of spoken moves: atoms into phrases, each a reading of some tokens as one move or several.

Every way to read a stretch is kept: "takes e4" may be one move or a capture and a pawn's move. The board decides.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence, Set
from dataclasses import replace

from aligner.speech.atoms import Atom, Atoms
from aligner.speech.description import Description, Phrase, Terms
from aligner.speech.lexicon import Lexicon
from aligner.speech.subjects import Subject, Subjects, file_number
from aligner.speech.symbols import read_symbols, square
from aligner.speech.tokens import Token

_DIRECTIONS = ("back", "up", "aside")
_LONGEST_PHRASE = 16
"""Tokens; nobody words one move longer than that, and it bounds the work on captions of any length."""
_MOST_READINGS = 10
"""Readings kept from one starting token, cheapest first."""


def phrases(tokens: Sequence[Token], atoms: Atoms, words: Lexicon) -> list[Phrase]:
    """Every phrase that may speak of a move, by start, then longest first, then by what it takes for granted."""
    grammar = _Grammar(tokens, atoms, words)
    found: list[Phrase] = []
    stops = [index for index, token in enumerate(tokens) if token.stop]
    for start, kinds in grammar.starts():
        readings = list(grammar.at(start, kinds))
        if not readings:
            continue
        best: dict[tuple[int, tuple[Description, ...], tuple[str, ...]], Phrase] = {}
        stop = bisect_left(stops, start)
        full_stop = stops[stop] if stop < len(stops) and stops[stop] < start + _LONGEST_PHRASE else len(tokens)
        for phrase in readings:
            if phrase.end > full_stop + 1:
                continue  # nobody words one move across a full stop
            key = (phrase.end, phrase.moves, phrase.fixed)
            if key not in best or _taken(phrase) < _taken(best[key]):
                best[key] = phrase
        found += sorted(best.values(), key=lambda p: (_taken(p), -p.end))[:_MOST_READINGS]
    return sorted(_sifted(found), key=lambda p: (p.start, -p.end, _taken(p)))


def _sifted(found: Sequence[Phrase]) -> Iterator[Phrase]:
    """Without phrases that say less about the same move than a longer one does, and could win in no reading."""
    earliest: dict[tuple[int, tuple[Description, ...], tuple[str, ...]], int] = {}
    to_square: dict[tuple[int, int | None], int] = {}
    farthest: dict[int, int] = {}
    for phrase in found:
        move = phrase.moves[0]
        key = (phrase.end, phrase.moves, phrase.fixed)
        earliest[key] = min(earliest.get(key, phrase.start), phrase.start)
        if move.piece and move.target is not None and move.form in ("piece_to", "piece_square") and not phrase.terms:
            farthest[phrase.start] = max(farthest.get(phrase.start, 0), phrase.end)
        if move.form in ("piece_to", "go_square") and not phrase.terms:
            spot = (phrase.end, move.target)
            to_square[spot] = min(to_square.get(spot, phrase.start), phrase.start)
    for phrase in found:
        move = phrase.moves[0]
        if earliest[phrase.end, phrase.moves, phrase.fixed] < phrase.start:
            continue
        if move.form == "go_square" and to_square.get((phrase.end, move.target), phrase.start) < phrase.start:
            continue
        if move.form == "piece_moves" and farthest.get(phrase.start, 0) > phrase.end:
            continue
        yield phrase


def _taken(phrase: Phrase) -> float:
    return sum(amount for name, amount in phrase.terms if name != "colourful")


class _Grammar(Subjects):
    """Reads phrases that start at a given token."""

    def __init__(self, tokens: Sequence[Token], atoms: Atoms, words: Lexicon) -> None:
        super().__init__(tokens, atoms, words)
        # what reads which phrases, by the kinds of atoms that those can start with
        self._beginnings = {
            frozenset({"castle", "castle_heard", "side", "both"}): self._castles,
            frozenset({"opening"}): self._named,
            frozenset({"piece", "piece_file", "square", "file", "side", "which", "link"}): self._with_subject,
            frozenset({"take", "square", "squares", "go", "checking", "promoting", "promote"}): self._without_subject,
        }

    def starts(self) -> Iterator[tuple[int, Set[str]]]:
        """The tokens that a reading may start at, in order, each with the kinds of atoms that stand there."""
        kinds: dict[int, set[str]] = {
            index: set() for index, token in enumerate(self.tokens) if read_symbols(token.raw)
        }
        for kind in {"letter"}.union(*self._beginnings):
            for index in self.atoms.of(kind):
                kinds.setdefault(index, set()).add(kind)
        yield from sorted(kinds.items())

    def at(self, start: int, kinds: Set[str]) -> Iterator[Phrase]:
        """Every reading that starts at the token; `kinds` of atoms stand there."""
        yield from self._symbols(start)
        for beginnings, read in self._beginnings.items():
            if not beginnings.isdisjoint(kinds):
                yield from read(start)

    def _symbols(self, start: int) -> Iterator[Phrase]:
        for read in read_symbols(self.tokens[start].raw):
            for end, done in self._tails(start + 1, read):
                yield Phrase(start, end, (done,))
        for letter in self.atoms.at(start, "letter"):
            raw = self.tokens[start].raw
            for end, target, terms in self._squares(letter.end, True):
                if raw != raw.lower() or letter.value in "NKQ":
                    move = Description("symbols", piece=letter.value, target=target[0], target_for_black=target[1])
                    yield Phrase(start, end, (move,), (*terms, ("apart", 1.0)))

    def _castles(self, start: int) -> Iterator[Phrase]:
        for atom in [*self.atoms.at(start, "castle"), *self.atoms.at(start, "castle_heard")]:
            move = Description("castle", castle=atom.value)
            for end, done in self._tails(atom.end, move):
                yield Phrase(start, end, (done,), atom.terms)
        sides = [(side.end, side.value == "white") for side in self.atoms.at(start, "side")]
        for end, white in sides:
            for atom in self.atoms.at(self.past_fillers(end), "castle"):
                yield Phrase(start, atom.end, (Description("castle", castle=atom.value, side=white),))
        for both in self.atoms.at(start, "both"):
            for place in range(both.end, both.end + 3):
                for atom in self.atoms.at(place, "castle"):
                    one = Description("both_castle", castle=atom.value)
                    yield Phrase(start, atom.end, (one, one))

    def _named(self, start: int) -> Iterator[Phrase]:
        for atom in self.atoms.at(start, "opening"):
            opening = self.words.openings[atom.value]
            yield Phrase(start, atom.end, (Description("opening"),), fixed=opening.moves)

    def _with_subject(self, start: int) -> Iterator[Phrase]:
        for end, subject in self.subjects(start):
            yield from self._moved(start, end, subject)

    def _moved(self, start: int, place: int, who: Subject) -> Iterator[Phrase]:
        base = Description("", who.piece, who.from_file, who.from_rank, side=who.side, shade=who.shade, wing=who.wing)
        if who.placed and place - start <= 8 and not who.terms:
            at = (who.from_file or 0) + 8 * (who.from_rank or 0)
            stands = (who.piece, at, who.side)
            statement = Description("piece_on", who.piece, target=at, target_for_black=at, side=who.side)
            yield Phrase(start, place, (statement,), who.terms, stands=stands)
        if not who.bare_file:
            yield from self._goes(start, place, base, who.terms)
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
        for end, way, verbs, only_on in self._ways(place):
            if end - start > _LONGEST_PHRASE:
                continue
            for after, target, heard in self._squares(end, True):
                form = "piece_square" if not verbs else "piece_on_square" if only_on else "piece_to"
                move = replace(base, form=form, target=target[0], target_for_black=target[1], way=way)
                for last, done in self._tails(after, move):
                    yield Phrase(start, last, (done,), terms + heard)
            if verbs and not only_on and end > near and self._verb_ends(end) and not terms:
                move = replace(base, form="piece_moves", way=way)
                for last, done in self._tails(end, move):
                    yield Phrase(start, last, (done,), terms)
        for check in self.atoms.at(self.past_fillers(place), "checking"):
            move = replace(base, form="piece_checks", check=True)
            yield Phrase(start, check.end, (move,), terms)
            for after, target, heard in self._check_squares(check.end):
                yield Phrase(
                    start, after, (replace(move, target=target[0], target_for_black=target[1]),), terms + heard
                )

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
                (a.end, a.value if a.value in _DIRECTIONS else way, verbs + 1, False) for a in self.atoms.at(at, "go")
            ]
            skipped = self.past_fillers(at)
            if skipped > at:
                steps.append((skipped, way, verbs, state[3]))
            for link in self.atoms.at(at, "link"):
                if link.value == "on":
                    steps.append((link.end, way, max(verbs, 1), verbs == 0))
                if link.value == "from":
                    for where in self.atoms.at(link.end, "square"):
                        steps.append((where.end, way, max(verbs, 1), False))
            for step in steps:
                if step not in seen:
                    seen.add(step)
                    frontier.append(step)

    def _verb_ends(self, end: int) -> bool:
        """Whether the words before `end` can close a move: "retreats" can, "back to" needs its square."""
        last = self.tokens[end - 1].text
        return last not in ("to", "into", "onto", "in", "at", "from", "on", "towards")

    def _takes(self, start: int, place: int, base: Description, who: Subject) -> Iterator[Phrase]:
        at = self.past_fillers(place)
        kinds = ("take",) if who.bare_file else ("take", "take_heard")
        for kind in kinds:
            for take in self.atoms.at(at, kind):
                if who.bare_file and who.from_file == 0 and self.tokens[start].text == "a" and take.value != "take":
                    continue
                move = replace(base, form="piece_takes", capture=True)
                terms = who.terms + take.terms + _colour(take)
                for end, done, more in self._objects(take.end, move):
                    form = ("file" if who.bare_file else "piece") + done.form.removeprefix("piece")
                    for last, finished in self._tails(end, replace(done, form=form)):
                        yield Phrase(start, last, (finished,), terms + more)

    def _without_subject(self, start: int) -> Iterator[Phrase]:
        for take in self.atoms.at(start, "take"):
            if take.value == "trade":
                yield from self._trades(start, take)
                continue
            form = "retakes" if take.value == "retake" else "takes"
            for end, done, more in self._objects(take.end, Description("piece_takes", capture=True)):
                done = replace(done, form=form + done.form.removeprefix("piece_takes"))
                for last, finished in self._tails(end, done):
                    yield Phrase(start, last, (finished,), more + _colour(take))
        for end, target, heard in self._squares(start, False):
            move = Description("square", target=target[0], target_for_black=target[1])
            if "descriptive" in (name for name, _ in heard):
                move = replace(move, piece="P")
            for last, done in self._tails(end, move):
                yield Phrase(start, last, (done,), heard)
        for go in self.atoms.at(start, "go"):
            if go.value == "push":
                for det in (go.end, go.end + 1):
                    for piece in self.pieces(det):
                        if piece.value == "P":
                            yield Phrase(start, piece.end, (Description("pushes", piece="P", way="up"),))
                yield Phrase(start, go.end, (Description("pushes", piece="P", way="up"),))
            way = go.value if go.value in _DIRECTIONS else ""
            for end, further, _, _ in self._ways(go.end):
                for after, target, heard in self._squares(end, False):
                    form = "push_square" if go.value == "push" else "go_square"
                    move = Description(form, target=target[0], target_for_black=target[1], way=further or way)
                    for last, done in self._tails(after, move):
                        yield Phrase(start, last, (done,), heard)
            for last, done in self._with(go.end, Description("go", way=way)):
                yield Phrase(start, last, (done,))
            if way == "back":
                yield Phrase(start, go.end, (Description("moves", way=way),))
        for check in self.atoms.at(start, "checking"):
            yield Phrase(start, check.end, (Description("check", check=True),))
            for after, target, heard in self._check_squares(check.end):
                move = Description("check_square", target=target[0], target_for_black=target[1], check=True)
                for last, done in self._tails(after, move):
                    yield Phrase(start, last, (done,), heard)
            for last, done in self._with(check.end, Description("check_with", check=True)):
                yield Phrase(start, last, (done,))
        for promoting in self.atoms.at(start, "promoting"):
            yield Phrase(start, promoting.end, (Description("promoting", piece="P", promotion=promoting.value),))
        for promote in self.atoms.at(start, "promote"):
            if self.tokens[start].text.startswith(("promot", "underpromot", "becom", "turn")):
                for piece in self.pieces(promote.end):
                    if piece.value in "QRBN":
                        move = Description("promoting", piece="P", promotion=piece.value)
                        for last, done in self._tails(piece.end, move):
                            yield Phrase(start, last, (done,))

    def _trades(self, start: int, trade: Atom) -> Iterator[Phrase]:
        at = trade.end
        for on in self.atoms.at(at, "link"):
            if on.value == "on":
                for end, target, heard in self._squares(on.end, False):
                    move = Description("takes_square", target=target[0], target_for_black=target[1], capture=True)
                    yield Phrase(start, end, (move,), (*heard, ("colourful", 1.0)))
        for link in self.atoms.at(at, "link"):
            if link.value == "det":
                at = link.end
        for end, who in self.subjects(at):
            if not who.bare_file and not who.placed and who.piece not in ("K", ""):
                first = Description("trades", piece=who.piece, capture=True, captured=who.piece)
                yield Phrase(start, end, (first, Description("retakes", capture=True)))
                yield Phrase(start, end, (first,))

    def _squares(self, place: int, strong: bool) -> Iterator[tuple[int, tuple[int, int], Terms]]:
        """Squares that start here: (end, (for White, for Black), terms). Sounds only count after a piece or a verb."""
        place = self.past_fillers(place) if strong else place
        kinds = ("square", "square_heard") if strong else ("square",)
        for kind in kinds:
            for atom in self.atoms.at(place, kind):
                at = square(atom.value)
                yield atom.end, (at, at), atom.terms
        for atom in self.atoms.at(place, "squares"):
            at = square(atom.value)
            yield atom.end, (at, at ^ 56), atom.terms

    def _check_squares(self, place: int) -> Iterator[tuple[int, tuple[int, int], Terms]]:
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
            else self.atoms.at(at, "file_heard")
        )
        for file in [*self.atoms.at(at, "file"), *heard_files]:
            if not (file.value == "a" and self.tokens[at].text == "a") or move.piece == "P":
                yield file.end, replace(move, form="piece_takes_file", to_file=file_number(file.value)), file.terms
        for pronoun in self.atoms.at(at, "object"):
            yield pronoun.end, replace(move, form="piece_takes"), ()
        for end, victim in self.subjects(at):
            if victim.bare_file or not victim.piece:
                continue
            taken = replace(move, form="piece_takes_piece", captured=victim.piece)
            if victim.placed:
                spot = (victim.from_file or 0) + 8 * (victim.from_rank or 0)
                taken = replace(taken, target=spot, target_for_black=spot)
            elif victim.from_file is not None:
                taken = replace(taken, to_file=victim.from_file)
            yield end, taken, victim.terms

    def _tails(self, place: int, move: Description) -> Iterator[tuple[int, Description]]:
        """The move with and without what may follow it: "with check", "with the pawn", "equals queen"."""
        yield place, move
        if place > 0 and place <= len(self.tokens) and self.tokens[place - 1].stop:
            return
        yield from self._checks(place, move)
        for end, done in self._with(place, move):
            yield end, done
            yield from self._checks(end, done)
        at = self.past_fillers(place)
        for promote in self.atoms.at(at, "promote"):
            for piece in self.pieces(promote.end):
                if piece.value in "QRBN" and _may_promote(move):
                    done = replace(move, promotion=piece.value)
                    yield piece.end, done
                    yield from self._checks(piece.end, done)
        for promoting in [*self.atoms.at(at, "promoting"), *self.atoms.at(at + 1, "promoting")]:
            if _may_promote(move):
                yield promoting.end, replace(move, promotion="Q")
        for piece in self.atoms.at(place, "piece"):
            if piece.value in ("Q", "R", "B", "N") and _may_promote(move) and move.target is not None:
                yield piece.end, replace(move, promotion=piece.value)

    def _checks(self, place: int, move: Description) -> Iterator[tuple[int, Description]]:
        at = self.past_fillers(place)
        for check in [*self.atoms.at(at, "check"), *self.atoms.at(at, "check_heard")]:
            yield check.end, replace(move, check=check.value != "mate", mate=check.value == "mate")

    def _with(self, place: int, move: Description) -> Iterator[tuple[int, Description]]:
        if move.piece not in ("", "P") or (move.piece and move.form != "symbols"):
            return
        for link in self.atoms.at(place, "link"):
            if link.value == "with":
                for end, who in self.subjects(link.end):
                    if not who.bare_file and who.piece:
                        done = replace(
                            move, form=move.form + "_with", piece=who.piece, from_file=who.from_file,
                            from_rank=who.from_rank, side=who.side, shade=who.shade, wing=who.wing,
                        )  # fmt: skip
                        yield end, done
                        for on in self.atoms.at(end, "link"):
                            if on.value == "on" and done.target is None:
                                for after, target, _ in self._squares(on.end, True):
                                    yield after, replace(done, target=target[0], target_for_black=target[1])


def _colour(take: Atom) -> Terms:
    return (("colourful", 1.0),) if take.value == "seize" else ()


def _may_promote(move: Description) -> bool:
    last = move.target is None or move.target // 8 in (0, 7)
    return last and not move.castle and move.piece in ("", "P") and not move.form.startswith(("takes_with", "check"))

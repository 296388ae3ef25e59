"""The grammar of spoken moves: atoms into phrases, each a reading of some tokens as one move or several.

Every way to read a stretch is kept: "takes e4" may be one move or a capture and a pawn's move. The board decides.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence, Set
from dataclasses import replace

from aligner.speech.atoms import LETTERS_ALONE, Atom, Atoms
from aligner.speech.description import Description, Phrase, Terms
from aligner.speech.lexicon import Lexicon
from aligner.speech.manoeuvres import Manoeuvres
from aligner.speech.moving import DIRECTIONS, LONGEST_PHRASE, colour, way_of
from aligner.speech.neighbours import beside_others, parted, without_aims
from aligner.speech.subjects import Subject, file_number, made_by
from aligner.speech.symbols import read_symbols, square
from aligner.speech.tokens import Token

_SELDOM_ALONE = ("", "P", "K")
"""Pieces that are not named for a move by their bare name."""
_ALONE: Terms = (("alone", 1.0),)
_BEFORE_OTHERS = {"link", "file_heard", "escape"}
"""Atoms that begin a move only together with a piece or a capture behind them, or a check before them."""
_LEAST_PAIRED = 12
"""Squares that must come in pairs before pairs are moves: "e4 e5" begins many a talk."""
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
        full_stop = stops[stop] if stop < len(stops) and stops[stop] < start + LONGEST_PHRASE else len(tokens)
        for phrase in readings:
            if phrase.end > full_stop + 1:
                continue  # nobody words one move across a full stop
            key = (phrase.end, phrase.moves, phrase.fixed)
            if key not in best or _taken(phrase) < _taken(best[key]):
                best[key] = phrase
        found += sorted(best.values(), key=lambda p: (_taken(p), -p.end))[:_MOST_READINGS]
    found.sort(key=lambda p: (p.start, p.end))
    told = list(beside_others(found, tokens, grammar.past_joints, words.context.movers))
    told = list(without_aims(told, tokens, words.context.movers))
    return sorted(_sifted(told), key=lambda p: (p.start, -p.end, _taken(p)))


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


class _Grammar(Manoeuvres):
    """Reads phrases that start at a given token."""

    def __init__(self, tokens: Sequence[Token], atoms: Atoms, words: Lexicon) -> None:
        super().__init__(tokens, atoms, words)
        # what reads which phrases, by the kinds of atoms that those can start with
        self._beginnings = {
            frozenset({"square_heard", "take_heard"}): self._alone,
            frozenset({"castle", "castle_heard", "side", "both"}): self._castles,
            frozenset({"opening"}): self._named,
            frozenset({"both"}): self.by_both,
            frozenset({"plural", "which", "link"}): self.by_each,
            frozenset({"bring"}): self.brought,
            frozenset({"link"}): self._by_piece,
            frozenset({"piece_square"}): self._run_together,
            frozenset({"fianchetto", "doubles", "passing", "likewise", "block", "guard"}): self.told_by_aim,
            frozenset({"attack", "pin", "offer"}): self.against_men,
            frozenset({"fellow"}): self.another_one,
            frozenset({"go", "spot"}): self.to_corner,
            frozenset({"go", "spot", "escape"}): self.out_of_check,
            frozenset({"pair"}): self.they_come_off,
            frozenset({"take_apart"}): self.taken_apart,
            frozenset({"file"}): self._file_takes_file,
            frozenset({"go", "ahead"}): self.turned_round,
            frozenset({"piece", "piece_file", "square", "file", "side", "which", "link"}): self._with_subject,
            frozenset({"file_heard"}): self._file_takes,
            frozenset({"take", "square", "squares", "go", "checking", "promoting", "promote"}): self._without_subject,
        }
        self._kinds = {"letter"}.union(*self._beginnings)
        self._in_pairs = self._told_in_pairs()
        self._symbols_at = {index for index, token in enumerate(tokens) if read_symbols(token.raw)}
        self._openers = self._symbols_at.union(*(atoms.of(kind) for kind in self._kinds - _BEFORE_OTHERS))

    def starts(self) -> Iterator[tuple[int, Set[str]]]:
        """The tokens that a reading may start at, in order, each with the kinds of atoms that stand there."""
        kinds: dict[int, set[str]] = {index: set() for index in self._symbols_at}
        for kind in self._kinds:
            for index in self.atoms.of(kind):
                kinds.setdefault(index, set()).add(kind)
        yield from sorted(kinds.items())

    def at(self, start: int, kinds: Set[str]) -> Iterator[Phrase]:
        """Every reading that starts at the token; `kinds` of atoms stand there."""
        if start in self._symbols_at or "letter" in kinds:
            yield from self._symbols(start)
        for beginnings, read in self._beginnings.items():
            if not beginnings.isdisjoint(kinds):
                yield from read(start)

    def _symbols(self, start: int) -> Iterator[Phrase]:
        for read in read_symbols(self.tokens[start].raw):
            yield from self.told(start, start + 1, read)
        for letter in self.atoms.at(start, "letter"):
            raw = self.tokens[start].raw
            for end, target, terms in self._squares(letter.end, True):
                if raw != raw.lower() or letter.value in "NKQ":
                    move = Description("symbols", piece=letter.value, target=target[0], target_for_black=target[1])
                    yield Phrase(start, end, (move,), (*terms, ("apart", 1.0)))

    def _castles(self, start: int) -> Iterator[Phrase]:
        for atom in [*self._castlings(start), *self.atoms.at(start, "castle_heard")]:
            move = Description("castle", castle=atom.value)
            yield from self.told(start, atom.end, move, atom.terms)
            for both in self.atoms.at(self.past_fillers(atom.end), "for_both"):
                one = Description("both_castle", castle=atom.value)
                yield Phrase(start, both.end, (one, one), atom.terms)
        sides = [(side.end, side.value == "white") for side in self.atoms.at(start, "side")]
        for end, white in sides:
            for atom in self._castlings(self.past_fillers(end)):
                yield Phrase(start, atom.end, (Description("castle", castle=atom.value, side=white),))
        for both in self.atoms.at(start, "both"):
            for place in range(both.end, both.end + 3):
                for atom in self._castlings(place):
                    one = Description("both_castle", castle=atom.value)
                    yield Phrase(start, atom.end, (one, one))

    def _castlings(self, place: int) -> Sequence[Atom]:
        """Words for castling; "castles" is no reading of its own in "castles queenside", which may be a slip."""
        atoms = self.atoms.at(place, "castle")
        if len(atoms) > 1:
            wing = max((atom.end for atom in atoms if atom.value != "any"), default=0)
            if not any(token.stop or token.comma for token in self.tokens[place : wing - 1]):
                return [atom for atom in atoms if atom.value != "any" or atom.end >= wing]
        return atoms

    def _alone(self, start: int) -> Iterator[Phrase]:
        """Words that are a move only among others: "before" for b4, "text" for takes."""
        for atom in self.atoms.at(start, "square_heard"):
            # "age six, I go g4"; one word in a mover's way is a word: "before you take"
            who = atom.end > start + 1 and atom.end < len(self.tokens)
            who = who and self.tokens[atom.end].text in self.words.context.movers
            if not self._leads_on(atom.end) and not (who and self._leads_on(atom.end + 1)):
                continue
            at = square(atom.value)
            move = Description("square", target=at, target_for_black=at)
            yield from self.told(start, atom.end, move, (*atom.terms, *_ALONE), alone="sound")
        for take in self.atoms.at(start, "take_heard"):
            for end, done, more in self._objects(take.end, Description("piece_takes", capture=True)):
                done = replace(done, form=done.form.removeprefix("piece_"))
                alone = "" if "square" in done.form and not more else "sound"
                if alone and self._beside_take(start, end):
                    alone = ""
                for phrase in self.told(start, end, done, (*take.terms, *more, *_ALONE), alone):
                    if phrase.moves[0].piece:  # "bake with the queen": the piece is a witness
                        yield replace(phrase, alone="")
                    elif not alone or self._leads_on(phrase.end):
                        yield phrase

    def _beside_take(self, start: int, end: int) -> bool:
        """Whether a capture is told right before or after, as in "takes tapes": captures come in rows."""
        takes = self.atoms.of("take")
        if end in takes or self.past_joints(end) in takes:
            return True
        return start - 1 in takes or (start - 2 in takes and self.past_joints(start - 1) == start)

    def _by_piece(self, start: int) -> Iterator[Phrase]:
        """Only the piece, after a capture told before: "with the d-pawn"."""
        for link in self.atoms.at(start, "link"):
            for end, who in self.subjects(link.end) if link.value == "with" else ():
                if who.piece and not who.bare_file and not who.placed:
                    move = Description("piece_takes", who.piece, who.from_file, capture=True, side=who.side)
                    answer = parted(self.tokens, start) and parted(self.tokens, end)  # "which one? With the queen."
                    yield Phrase(start, end, (move,), (*who.terms, *_ALONE), alone="" if answer else "piece")

    def _run_together(self, start: int) -> Iterator[Phrase]:
        for joined in self.atoms.at(start, "piece_square"):
            at = square(joined.value[1:])
            move = Description("piece_square", joined.value[0], target=at, target_for_black=at)
            yield from self.told(start, joined.end, move, joined.terms)

    def _leads_on(self, place: int) -> bool:
        """Whether a move may be told from the token on, or none can: a quick test that most words fail."""
        return parted(self.tokens, place) or not self._openers.isdisjoint((place, self.past_joints(place)))

    def _named(self, start: int) -> Iterator[Phrase]:
        for atom in self.atoms.at(start, "opening"):
            yield Phrase(start, atom.end, (Description("opening"),), fixed=tuple(atom.value.split()))

    def _with_subject(self, start: int) -> Iterator[Phrase]:
        for end, subject in self.subjects(start):
            yield from self._moved(start, end, subject)
            if subject.placed or not subject.piece or subject.bare_file:
                continue
            yield from self.falls(start, end, subject)
            if subject.piece == "P" and subject.wing and not subject.definite:
                yield from self._wing_pawn(start, end, subject)
            told_apart = subject.other or subject.wing or subject.stood or subject.from_file is not None
            if subject.piece not in _SELDOM_ALONE or (subject.piece == "P" and told_apart):
                if subject.piece != "P" or self.atoms.at(end - 1, "plural"):
                    yield from self.comes_off(start, end, subject)
                if told_apart or not subject.definite or self._owned(start, subject):
                    move = made_by(subject, Description("piece_alone"))
                    yield Phrase(start, end, (move,), subject.terms, alone="piece")

    def _wing_pawn(self, start: int, end: int, subject: Subject) -> Iterator[Phrase]:
        """A game opened by name: "king's pawn, king's pawn, knight f3"."""
        if parted(self.tokens, end):
            move = Description("piece_steps", "P", file_number("e" if subject.wing == "king" else "d"), steps=2)
            yield Phrase(start, end, (move,), (*subject.terms, *_ALONE))

    def _owned(self, start: int, subject: Subject) -> bool:
        """Whether a piece is plainly somebody's: "other knight, his knight" in a row of moves."""
        return not subject.terms and self.tokens[start].text in self.words.context.possessives

    def _definite(self, place: int) -> bool:
        """Whether a word stands at a token that says which piece is meant."""
        return place < len(self.tokens) and self.tokens[place].text in self.words.context.definite

    def _takes_on(self, first: int, end: int) -> bool:
        """Whether the piece behind a capture is the one that takes: "he took, bishop takes a5"."""
        if self.tokens[first].text in self.words.context.articles or self.tokens[end - 1].stop:
            return False
        return any(self.atoms.at(take.end, "square") for take in self.atoms.at(end, "take"))

    def _file_takes(self, start: int) -> Iterator[Phrase]:
        """A capture by the pawn of a file that was misheard: "seek takes d5"."""
        text, stopped = self.tokens[start].text, self.tokens[start].stop or self.tokens[start].comma
        common = text in self.words.single or text in self.words.context.words
        if start + 1 not in self.atoms.of("take") or common or stopped:
            return
        for file in self.atoms.at(start, "file_heard"):
            letter = file_number(file.value)
            move = Description("", "P", letter)
            who = Subject("P", letter, bare_file=True, terms=file.terms)
            yield from self._takes(start, file.end, move, who)

    def _file_takes_file(self, start: int) -> Iterator[Phrase]:
        """A pawn's capture by two letters: "c d, e d"."""
        text = self.tokens[start].text
        if text in LETTERS_ALONE and not (self.tokens[start].stop or self.tokens[start].comma):
            for file in self.atoms.at(start + 1, "file"):
                first, onto = file_number(text), file_number(file.value)
                if abs(first - onto) == 1 and self.tokens[start + 1].text == file.value != "a":
                    move = Description("files", "P", first, to_file=onto, capture=True)
                    yield Phrase(start, file.end, (move,))

    def _told_in_pairs(self) -> bool:
        """Whether most squares of the talk come in pairs, with no piece: "e2 e4, e7 e5, g1 f3"."""
        squares = self.atoms.of("square")
        paired, at = 0, -1
        for start in sorted(squares):
            after = squares[start][0].end
            if start >= at and after in squares and not parted(self.tokens, after):
                paired += 0 if self.atoms.at(start - 1, "piece") else 2
                at = squares[after][0].end
        return paired >= _LEAST_PAIRED and 2 * paired > len(squares)

    def _between_squares(self, start: int) -> Iterator[Phrase]:
        """A move told by where it starts and ends, no piece named: "e2 to e4", "e4 takes d5", "e2 e4"."""
        if self.atoms.at(start - 1, "piece"):
            return  # "knight g1 to f3"
        for origin in self.atoms.at(start, "square"):
            if origin.terms or parted(self.tokens, origin.end):
                continue
            at = square(origin.value)
            move = Description("piece_to", from_file=at % 8, from_rank=at // 8)
            for go in self.atoms.at(origin.end, "go"):
                for end, target, heard in [] if self._verb_ends(go.end) else self._squares(go.end, False):
                    done = replace(move, target=target[0], target_for_black=target[1])
                    yield from self.told(start, end, done, heard)
            for atom in self.atoms.at(origin.end, "square") if self._in_pairs else ():
                onto = square(atom.value)
                done = replace(move, target=onto, target_for_black=onto)
                yield from self.told(start, atom.end, done, atom.terms)
            for take in self.atoms.at(origin.end, "take"):
                for end, done, heard in self._objects(take.end, replace(move, form="piece_takes", capture=True)):
                    if done.target is not None:
                        yield from self.told(start, end, done, heard)

    def _without_subject(self, start: int) -> Iterator[Phrase]:
        for take in self.atoms.at(start, "take"):
            if take.value in ("trade", "change", "give"):
                yield from self.trades(start, take)
                continue
            form = "retakes" if take.value == "retake" else "takes"
            for end, done, more in self._objects(take.end, Description("piece_takes", capture=True)):
                got = done.captured and (take.value == "goodbye" or self._definite(take.end))
                if take.value in ("gain", "goodbye", "have") and not got:
                    continue
                if take.value == "have" and (done.target is not None or not parted(self.tokens, end)):
                    continue  # "she has the knight on e5"
                if done.captured and done.target is None and self._takes_on(take.end, end):
                    continue
                done = replace(done, form=form + done.form.removeprefix("piece_takes"))
                yield from self.told(start, end, done, more + colour(take))
        for end, target, heard in self._squares(start, False):
            move = Description("square", target=target[0], target_for_black=target[1])
            yield from self.told(start, end, move, heard)
        yield from self._between_squares(start)
        for go in self.atoms.at(start, "go"):
            if go.value in ("push", "past"):
                yield from self.pushes(start, go.end, go.value)
            way = go.value if go.value in DIRECTIONS else ""
            for end, further, _, _ in self._ways(go.end):
                # "goes to e eat": behind a word that a place must follow, a rank may be misheard
                lettered = end < len(self.tokens) and self.tokens[end].text in LETTERS_ALONE
                for after, target, heard in self._squares(end, lettered and not self._verb_ends(end)):
                    form = "push_square" if go.value == "push" else "go_square"
                    move = way_of(Description(form, target=target[0], target_for_black=target[1]), further or way)
                    yield from self.told(start, after, move, heard)
            for last, done, heard in self._with(go.end, way_of(Description("go"), way)):
                yield Phrase(start, last, (done,), heard)
            if way == "back":
                yield Phrase(start, go.end, (Description("moves", way=way, manner="returns"),))
            for run, way, verbs, only_on in self._ways(go.end):
                if verbs and not only_on and self._verb_ends(run):
                    for last, done, heard in self._with(run, way_of(Description("go"), way)):
                        yield Phrase(start, last, (done,), heard)
        for check in self.atoms.at(start, "checking"):
            told = Description("check", check=check.value == "check", mate=check.value == "mate")
            yield Phrase(start, check.end, (told,))
            for after, target, heard in self._on_squares(check.end):
                move = replace(told, form="check_square", target=target[0], target_for_black=target[1])
                yield from self.told(start, after, move, heard)
            for last, done, heard in self._with(check.end, replace(told, form="check_with")):
                yield Phrase(start, last, (done,), heard)
        for promoting in self.atoms.at(start, "promoting"):
            yield Phrase(start, promoting.end, (Description("promoting", piece="P", promotion=promoting.value),))
        for promote in self.atoms.at(start, "promote"):
            if self.tokens[start].text.startswith(("promot", "underpromot", "becom", "turn")):
                for piece in self.pieces(promote.end):
                    if piece.value in "QRBN":
                        move = Description("promoting", piece="P", promotion=piece.value)
                        yield from self.told(start, piece.end, move)

"""Who moves: "the d4 knight", "White's other rook", "the light-squared bishop", "e" in "e takes d5"."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from aligner.speech.atoms import Atom, Atoms
from aligner.speech.description import Description, Terms
from aligner.speech.lexicon import Lexicon
from aligner.speech.symbols import square
from aligner.speech.tokens import Token


class Subject(NamedTuple):
    """Who moves, as far as it was said.

    Attributes:
        piece: letter, upper case; "" where unsaid.
        from_file: 0 to 7, or None.
        from_rank: 0 to 7, or None.
        side: True for White.
        shade: "light" or "dark".
        wing: "king" or "queen".
        other: whether it is said to be another one of its kind than before.
        stood: "front", "rear" or "corner" for a piece named by where it stands.
        placed: whether a whole square was said, which may be a statement about the board.
        bare_file: whether only a file was said, as in "e takes d5".
        definite: whether an article or a side stands before it.
        terms: what is taken for granted.
    """

    piece: str = ""
    from_file: int | None = None
    from_rank: int | None = None
    side: bool | None = None
    shade: str = ""
    wing: str = ""
    other: bool = False
    stood: str = ""
    placed: bool = False
    bare_file: bool = False
    definite: bool = False
    terms: Terms = ()


_UNSAID = Subject()


def made_by(who: Subject, move: Description) -> Description:
    """The move with what was said of the piece that makes it."""
    return replace(
        move, piece=who.piece, from_file=who.from_file, from_rank=who.from_rank, side=who.side, shade=who.shade,
        wing=who.wing, other=who.other, stood=who.stood,
    )  # fmt: skip


class Subjects:
    """Reads who moves, from a given token on."""

    def __init__(self, tokens: Sequence[Token], atoms: Atoms, words: Lexicon) -> None:
        self.tokens = tokens
        self.atoms = atoms
        self.words = words
        self._read: dict[int, list[tuple[int, Subject]]] = {}
        self._fillers = {
            place: max(ends)
            for place, links in atoms.of("link").items()
            if (ends := [link.end for link in links if link.value == "filler"])
        }

    def subjects(self, start: int) -> Sequence[tuple[int, Subject]]:
        """Every way to read a moving piece from the token on: (end, who)."""
        known = self._read.get(start)
        if known is None:
            known = self._read[start] = list(self._subjects(start))
        return known

    def _subjects(self, start: int) -> Iterator[tuple[int, Subject]]:
        place, subject = start, _UNSAID
        for _ in range(5):
            yield from self._named_pieces(place, subject)
            step = self._before_piece(place, subject)
            if step is None:
                return
            place, subject = step

    def _before_piece(self, place: int, subject: Subject) -> tuple[int, Subject] | None:
        if place >= len(self.tokens) or self.tokens[place].stop or self.tokens[place].comma:
            return None
        for side in self.atoms.at(place, "side"):
            return side.end, subject._replace(side=side.value == "white", definite=True)
        for which in self.atoms.at(place, "which"):
            shade = which.value if which.value in ("light", "dark") else subject.shade
            wing = {"queenside": "queen", "kingside": "king"}.get(which.value, subject.wing)
            other = subject.other or which.value == "other"
            stood = which.value if which.value in ("front", "rear", "corner") else subject.stood
            return which.end, subject._replace(shade=shade, wing=wing, other=other, stood=stood)
        for link in self.atoms.at(place, "link"):
            if link.value == "det":
                return link.end, subject._replace(definite=True)
        return None

    def _unbroken(self, place: int) -> bool:
        """Whether no comma and no full stop stands before the token."""
        return not (self.tokens[place - 1].stop or self.tokens[place - 1].comma)

    def _named_pieces(self, place: int, before: Subject) -> Iterator[tuple[int, Subject]]:
        """The piece's name, with what stands right before and after it."""
        for piece in self.pieces(place):
            subject = before._replace(piece=piece.value, terms=before.terms + piece.terms)
            yield from self._after_piece(piece.end, subject)
        for joined in self.atoms.at(place, "piece_file"):
            letter = file_number(joined.value[1])
            yield joined.end, before._replace(piece=joined.value[0], from_file=letter, terms=joined.terms)
        for where in self.atoms.at(place, "square"):
            for piece in self.pieces(where.end) if self._unbroken(where.end) else ():
                at = square(where.value)
                yield (
                    piece.end,
                    before._replace(
                        piece=piece.value, from_file=at % 8, from_rank=at // 8, placed=True, terms=piece.terms
                    ),
                )
        for file in self.atoms.at(place, "file"):  # "a rook" is the article's or the file's; both are kept
            for piece in self.pieces(file.end) if self._unbroken(file.end) else ():
                yield (
                    piece.end,
                    before._replace(piece=piece.value, from_file=file_number(file.value), terms=piece.terms),
                )
            yield file.end, before._replace(piece="P", from_file=file_number(file.value), bare_file=True)

    def _after_piece(self, place: int, subject: Subject) -> Iterator[tuple[int, Subject]]:
        yield place, subject
        if not self._unbroken(place):
            return
        for file in self.atoms.at(place, "file"):
            yield file.end, subject._replace(from_file=file_number(file.value))
        for rank in self.atoms.at(place, "rank"):
            yield rank.end, subject._replace(from_rank=int(rank.value) - 1)
        for where in self.atoms.at(place, "square"):
            if self._unbroken(where.end) and self._goes_on(where.end):  # "rook f1 to c1"
                at = square(where.value)
                yield where.end, subject._replace(from_file=at % 8, from_rank=at // 8)
        for file in self.atoms.at(place, "file_heard"):
            # "to", "the" and their like come after a piece far more often than a letter heard wrong
            goes = file.end in self.atoms.of("go") and file.end + 1 in self.atoms.of("square")  # "as to e1"
            if self.tokens[place].text in self.words.single or (self.atoms.at(file.end, "rank") and not goes):
                continue
            yield file.end, subject._replace(from_file=file_number(file.value), terms=(*subject.terms, *file.terms))
        for link in self.atoms.at(place, "link"):
            if link.value in ("on", "from"):
                after = link.end
                if link.value == "from":  # "from a to b1": no article stands before "to"
                    for file in self.atoms.at(after, "file"):
                        if file.value == "a" and self._goes_on(file.end):
                            yield file.end, subject._replace(from_file=file_number(file.value))
                for det in self.atoms.at(after, "link"):
                    if det.value == "det":
                        after = det.end
                for spot in self.atoms.at(after, "spot") if after > link.end else ():
                    if spot.value == "corner":
                        yield spot.end, subject._replace(stood="corner")
                for where in self.atoms.at(after, "square"):
                    at = square(where.value)
                    yield where.end, subject._replace(from_file=at % 8, from_rank=at // 8, placed=True)
                for file in self.atoms.at(after, "file"):
                    if link.value == "from" and file.value != "a":
                        yield file.end, subject._replace(from_file=file_number(file.value))
                    if file.end < len(self.tokens) and self.tokens[file.end].text == "file":
                        yield file.end + 1, subject._replace(from_file=file_number(file.value))

    def _goes_on(self, place: int) -> bool:
        """Whether a square is told at a token as the place to go to."""
        return any(go.value == "to" and self.atoms.at(go.end, "square") for go in self.atoms.at(place, "go"))

    def pieces(self, place: int) -> Iterator[Atom]:
        """Names of pieces that start at a token."""
        for atom in self.atoms.at(place, "piece"):
            if atom.value != "any":
                yield atom

    def past_fillers(self, place: int) -> int:
        """The place after hesitations and little words that may stand inside a move's words."""
        for _ in range(3):
            if place not in self._fillers:
                break
            place = self._fillers[place]
        return place


def file_number(name: str) -> int:
    """0 for "a" to 7 for "h"."""
    return ord(name) - ord("a")

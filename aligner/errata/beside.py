"""Parts of a move misheard beside the words that are known to speak of it: "queen takes" was heard, "khan" was not.

What stands beside a mention may be about anything, so a word counts only where the grammar of moves has a place for
it, where it sounds close, and where that part of the move is named nowhere else.
"""

from __future__ import annotations

import re
from collections.abc import Sequence, Set

from aligner.captions.naming import Meaning
from aligner.errata.spelling import CLOSE, CLOSEST, PAUSE, Part, heard_as
from aligner.speech.atoms import Atoms
from aligner.speech.lexicon import Lexicon
from aligner.speech.tokens import Token

_FROM_REACH = 5
"""Tokens before a mention in which the square it comes from may be named."""
_MOST_BETWEEN = 3
"""Little words between a mention and a part of the move that belongs to it: "backs up to"."""
_LINKS = frozenset({"on", "with", "det", "filler"})
_FILE_NAMED = re.compile(r"[NBRQK]([a-h])x?[a-h][1-8]")


def beside(
    tokens: Sequence[Token], atoms: Atoms, words: Lexicon, start: int, end: int, bounds: tuple[int, int],
    meant: Meaning, taken: Set[str],
) -> list[Part]:  # fmt: skip
    """Parts of the move misheard right before or after its mention, or across its end.

    Args:
        tokens: of the talk.
        atoms: of the talk.
        words: of the language.
        start: first token of the mention.
        end: token after it.
        bounds: half-open range of tokens that no other mention covers.
        meant: the move.
        taken: slots of the parts that the mention itself names, plainly or misheard.
    """
    named = set(taken)
    found: list[Part] = []
    for part in (*_before(tokens, atoms, words, start, bounds[0], meant, named),
                 *_origin(tokens, atoms, start, bounds[0], meant)):  # fmt: skip
        found.append(part)
        named.add(part.slot)
    if end < bounds[1]:
        found += _after(tokens, atoms, start, end, bounds[1], meant, named)
    return found


def _before(
    tokens: Sequence[Token], atoms: Atoms, words: Lexicon, start: int, first: int, meant: Meaning, named: Set[str]
) -> list[Part]:
    """The piece, the file or the verb that stands right before the mention."""
    at = start - 1
    if at < first or tokens[at].stop or tokens[start].gap >= PAUSE:
        return []
    close = [part for part in heard_as(atoms, at, meant, CLOSE) if part.end == start]
    if named & {"target"} and "takes" not in named and atoms.at(start, "square"):
        takes = [part for part in close if part.slot == "takes"]
        if takes:
            return takes[:1]
    if named & {"piece", "origin", "castles"}:
        return []
    before = [part for part in close if part.slot == "piece"]
    common = tokens[at].text in words.single or tokens[at].text in words.context.words
    origins = heard_as(atoms, at, meant, CLOSEST if common else CLOSE)
    before += [part for part in origins if part.slot == "origin" and part.end == start]
    match = _FILE_NAMED.match(meant.san)
    if match and at > first and any(atom.value == meant.piece for atom in atoms.at(at - 1, "piece")):
        files = [atom for atom in atoms.at(at, "file_heard") if atom.value == match[1] and atom.end == start]
        before += [Part(at, start, match[1], "origin") for _ in files]
    return before[:1]


def _origin(tokens: Sequence[Token], atoms: Atoms, start: int, first: int, meant: Meaning) -> list[Part]:
    """The square that the piece comes from: "knight from te five to c3"."""
    for at in range(max(start - _FROM_REACH, first), start - 1):
        if tokens[at].stop or not any(link.value == "from" for link in atoms.at(at, "link")):
            continue
        for kind in ("square", "square_heard"):
            for atom in atoms.at(at + 1, kind):
                if atom.value == meant.source and atom.terms and 0 < _sound(atom.terms) <= CLOSE:
                    return [Part(at + 1, atom.end, meant.source, "source")]
    return []


def _sound(terms: Sequence[tuple[str, float]]) -> float:
    return sum(amount for name, amount in terms if name == "sound")


def _after(
    tokens: Sequence[Token], atoms: Atoms, start: int, end: int, last: int, meant: Meaning, named: Set[str]
) -> list[Part]:
    """The square, what is captured, or the check, behind the mention or across its end."""
    if tokens[end - 1].stop or tokens[end].gap >= PAUSE:
        return []
    if "target" not in named and not meant.castles:
        across = [part for part in heard_as(atoms, end - 1, meant, CLOSE) if part.slot == "target"]
        if across and across[0].end == end + 1 <= last:
            return across[:1]
    place = end
    for _ in range(_MOST_BETWEEN + 1):
        if place >= last or tokens[place].gap >= PAUSE:
            break
        for part in heard_as(atoms, place, meant, CLOSE):
            if part.end > last or part.slot in named:
                continue
            apart = place - end
            if part.slot == "target" and not meant.castles and (named & {"piece", "takes"} or apart):
                return [part]
            if part.slot == "captured" and "takes" in named and "target" not in named:
                return [part]
            if part.slot == "check" and meant.check:
                return [part]
        steps = [atom.end for atom in atoms.at(place, "link") if atom.value in _LINKS]
        steps += [atom.end for atom in atoms.at(place, "go")]
        if not steps or tokens[place].stop or tokens[place].comma:
            break
        place = max(steps)
    return []

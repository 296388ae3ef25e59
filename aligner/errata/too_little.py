"""Slips that are none, as the words say too little: "he just takes", "on e3", "pawn takes, I ..."."""

from __future__ import annotations

import chess

from aligner.record.model import Finding
from aligner.speech.lexicon import lexicon
from aligner.speech.listen import Speech

_NAMES = ("piece", "square", "square_heard", "castle", "file", "file_spelt", "radio", "rank")
"""Parts of a move that tell which one it is."""


def names_no_move(finding: Finding, speech: Speech) -> bool:
    """Whether a misnamed move's words name none: a capture of nobody knows what, a square where a piece goes.

    What says so little fits many moves, and where it fits none nearby it was hardly said of a move.
    """
    if finding.kind == "garble":
        return False
    atoms = speech.atoms()
    start, end = (speech.first_token(word) for word in finding.words)
    parts = [atom for token in range(start, end) for kind in _NAMES for atom in atoms.at(token, kind)]
    if not any(atom.value != "any" for atom in parts):
        return True
    taking = (atoms.at(token, kind) for token in range(start, end) for kind in ("take", "take_heard"))
    if finding.kind == "capture" and not any(taking):
        return True  # "with the f-pawn", of one that only goes on
    square = any(atom.end >= end for atom in atoms.at(start, "square"))
    far = finding.kind in ("square", "mirrored")
    if square and (_mover(finding) not in (chess.PAWN, None) or (far and start and atoms.at(start - 1, "piece"))):
        return True
    return _object(finding, speech, start) or _two_parts(speech, start, end) or _from_elsewhere(finding, speech)


def _object(finding: Finding, speech: Speech, start: int) -> bool:
    """Whether the piece that begins the words is spoken of before them: "after taking the rook", "from king three"."""
    words, atoms, tokens = lexicon().context, speech.atoms(), speech.tokens
    if finding.kind != "piece" or start == 0 or tokens[start - 1].stop or tokens[start - 1].comma:
        return False
    taken = tokens[start].text in words.articles and bool(atoms.at(start - 1, "take"))
    return taken or tokens[start - 1].text in words.prepositions


def _from_elsewhere(finding: Finding, speech: Speech) -> bool:
    """Whether a piece misnamed is also said to come from where none moved: "finally the knight from b8. H5"."""
    atoms = speech.atoms()
    start, end = (speech.first_token(word) for word in finding.words)
    left = (link.end for token in range(start, end) for link in atoms.at(token, "link") if link.value == "from")
    named = {atom.value for token in left for atom in atoms.at(token, "square")}
    return finding.kind == "piece" and bool(named) and (finding.meant.uci or "")[:2] not in named


def _two_parts(speech: Speech, start: int, end: int) -> bool:
    """Whether somebody begins to move amid the words: "he changed queens, I took"."""
    words, atoms = lexicon().context, speech.atoms()
    named = False
    for token in range(start, end):
        if named and speech.tokens[token].text in words.movers:
            return True
        named = named or any(atom.value != "any" for atom in atoms.at(token, "piece"))
    return False


def ends_before(finding: Finding, speech: Speech) -> bool:
    """Whether a garble's last word belongs to what follows: the I of "pawn takes, I take", heard as the e-file."""
    if finding.kind != "garble":
        return False
    words, atoms = lexicon().context, speech.atoms()
    start, end = (speech.first_token(word) for word in finding.words)
    last = speech.tokens[end - 1].text
    common = (words.words, words.movers, words.prepositions, words.articles)
    if not any(last in each for each in common) or not atoms.at(end - 1, "file_heard"):
        return False
    squares = [
        atom for token in range(start, end) for kind in ("square", "square_heard") for atom in atoms.at(token, kind)
    ]
    return end - start > 1 and not any(atom.end >= end for atom in squares)


def _mover(finding: Finding) -> int | None:
    if not finding.fen or not finding.meant.uci:
        return None
    return chess.Board(finding.fen).piece_type_at(chess.parse_square(finding.meant.uci[:2]))

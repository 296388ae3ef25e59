"""How the words of a mention are written in the notes: moves in the FIDE Laws' notation, sentences left sentences."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from aligner.chapters.sentences import bare
from aligner.chapters.timeline import move_name
from aligner.notes.editing import editing
from aligner.record.model import Game, Mention, Node

_SQUARE = re.compile(r"^[a-h][-. ]?[1-8]$")
_SYMBOLS = re.compile(r"^[kqrbn]?[a-h]?[1-8]?x?[a-h][1-8](?:=?[qrbn])?[+#]?$|^[o0]-[o0](?:-[o0])?$|^[a-h]$|^[1-8]$")
_LETTERS = {"king": "K", "queen": "Q", "rook": "R", "bishop": "B", "knight": "N", "horse": "N", "pawn": ""}
_TAKES = frozenset(("takes", "take", "took", "captures", "x"))
_ENDS = ".!?…"
_LONGEST_GARBLE = 2
"""Words up to which a move's name that holds no piece and no square is taken for a misheard one."""


@dataclass(frozen=True, slots=True)
class Spelt:
    """A mention as written.

    Attributes:
        before: its words that stay as they are, before the move.
        moves: the move or moves, "12.Nf3 Nf6"; empty where the words say it all.
        bracketed: whether the moves stand in brackets after the words.
        sign: punctuation that the captions have after the mention.
    """

    before: tuple[str, ...]
    moves: str
    bracketed: bool
    sign: str


def spell(
    game: Game, nodes: Sequence[Node], mention: Mention, texts: Sequence[str], previous: str, goes_on: bool
) -> Spelt:
    """A mention of moves as written.

    Args:
        game: it belongs to.
        nodes: that it speaks of, in order.
        mention: as decided.
        texts: its words as in the captions.
        previous: the bare word before it, "" at the beginning of a sentence.
        goes_on: whether the move before its first one stands right before it in the text, so that a black move needs
            no number.
    """
    words = editing()
    kept, core = _after_stop(texts)
    if kept:
        previous = ""
    sign = texts[-1][len(texts[-1].rstrip(".,;:!?…")) :] if texts else ""
    if not nodes:
        return Spelt((*kept, *_plan(core)), "", False, "")
    kept, core = _after_words(kept, core)
    plain = [bare(text) for text in core]
    lead = []
    while len(plain) > 1 and plain[0] in words.leads and _is_notation(plain[1:]):
        lead.append(core[0])
        core, plain = core[1:], plain[1:]
    if lead and plain[0] == "to":
        core, plain = core[1:], plain[1:]
    noun = (bare(lead[-1]) if lead else previous) in words.determiners
    if noun and len(plain) == 1 and nodes[-1].san == plain[0]:
        return Spelt((*kept, *lead, nodes[-1].san), "", False, sign)
    spoken = bool(set(plain) & words.verbs) or noun or not _is_notation(plain)
    if plain and plain[0] in _TAKES and (previous in words.subjects or lead):
        spoken = True
    if mention.kind == "slip" and not noun and not set(plain) & words.verbs:
        spoken = False
    if spoken:
        stay = [*kept, *lead, *(_square_small(text) for text in core)]
        stay[-1] = stay[-1].rstrip(".,;:!?…")
        return Spelt(tuple(stay), numbered(game, nodes), True, sign)
    return Spelt((*kept, *lead), numbered(game, nodes, goes_on and not lead), False, sign)


def numbered(game: Game, nodes: Sequence[Node], goes_on: bool = False) -> str:
    """Moves with their numbers as in running text: "12.Nf3 Nf6 13.e4", "12...Nf6"."""
    written: list[str] = []
    last: Node | None = None
    for node in nodes:
        name = move_name(game, node)
        follows = (last is not None and node.parent == last.id) or (last is None and goes_on)
        written.append(node.san if follows and "..." in name else name)
        last = node
    return " ".join(written)


def _is_notation(plain: Sequence[str]) -> bool:
    """Whether words are nothing but the name of a move."""
    words = editing()
    if any(word in words.pieces or _SYMBOLS.match(word) or word in _TAKES for word in plain):
        return True
    return len(plain) <= _LONGEST_GARBLE and not set(plain) & words.verbs


def _after_stop(texts: Sequence[str]) -> tuple[list[str], list[str]]:
    """Words up to a full stop inside the mention, "the centre. Pawn to e5", and the rest."""
    for place in range(len(texts) - 2, -1, -1):
        if texts[place][-1:] in _ENDS:
            return list(texts[: place + 1]), list(texts[place + 1 :])
    return [], list(texts)


def _after_words(kept: list[str], core: list[str]) -> tuple[list[str], list[str]]:
    """Words that are no part of a move's name, "the centre with pawn to e5", go before it; none where it has verbs."""
    words = editing()
    plain = [bare(text) for text in core]
    if set(plain) & words.verbs or not _is_notation(plain):
        return kept, core
    named = words.pieces | words.notation | words.modifiers | words.determiners | {"white", "black"}
    last = next((at for at in range(len(plain) - 1, -1, -1) if not _names(plain[at], named)), -1)
    at = last + 1 if last + 1 < len(plain) and _is_notation(plain[last + 1 :]) else 0
    while 0 < at < len(plain) - 1 and plain[at] in ("to", "and", "with", "in"):
        at += 1
    return [*kept, *core[:at]], core[at:]


def _names(word: str, named: frozenset[str]) -> bool:
    return word in named or bool(_SYMBOLS.match(word)) or word in _TAKES


def _plan(core: Sequence[str]) -> list[str]:
    """A planned move in symbols where its words are a piece and a square, "rook to e1" as "Re1"; else as they are."""
    sign = core[-1][len(core[-1].rstrip(".,;:!?…")) :] if core else ""
    plain = [bare(text) for text in core]
    if len(plain) > 1 and plain[0] in _LETTERS and _SQUARE.match(plain[-1]):
        middle = plain[1:-1]
        square = re.sub(r"[-. ]", "", plain[-1])
        if not middle or middle == ["to"]:
            return [_LETTERS[plain[0]] + square + sign]
        if middle in (["takes"], ["takes", "on"], ["captures"]) and plain[0] != "pawn":
            return [f"{_LETTERS[plain[0]]}x{square}{sign}"]
    if len(plain) == 3 and re.match(r"^[a-h]$", plain[0]) and plain[1] in _TAKES and _SQUARE.match(plain[2]):
        return [f"{plain[0]}x{plain[2]}{sign}"]
    return [_square_small(text) for text in core]


def _square_small(text: str) -> str:
    """Squares in small letters, "E4" as "e4"."""
    return text[:1].lower() + text[1:] if re.match(r"^[A-H][1-8]\W*$", text) else text

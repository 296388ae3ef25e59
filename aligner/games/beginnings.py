"""Places of a talk where another game may begin: words that say so, and first moves told once more."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import chess

from aligner.openings.names import named_openings
from aligner.pgn.score import Score
from aligner.reconstruction.gaps import is_plain
from aligner.search.lines import LineNode, Lines
from aligner.search.matching import compare, exact_fits
from aligner.speech.listen import Speech, Stretch
from aligner.speech.neighbours import PAUSE

_SENTENCE = 12
"""Tokens before the words that announce a game, or before its first move, that may belong to it."""
_SOON = 8
"""Plain descriptions of moves after an announcement among which the first moves are told."""
_NAMED = 3
"""Plain descriptions after an announcement before which the game's opening is named, where it is."""
_LOOK = 14
"""Plain descriptions from the first move on in which more moves are looked for."""
_MISSED = 1
"""Of them, how many in a row may speak of something else."""
_POSITIONS = 6
"""Positions kept where descriptions fit several moves."""
_AGAIN = 4
"""Plies told from the start position once more that propose a game which nothing announces."""
_APART = 12
"""Plain descriptions of moves that two games are apart at least."""


@dataclass(frozen=True, slots=True)
class Beginning:
    """A place where another game may begin.

    Attributes:
        word: the first that belongs to it.
        announced: whether words say that another game comes.
        told: plies that are told in order from the usual start position soon after, or that a named opening stands for.
    """

    word: int
    announced: bool
    told: int


def beginnings(speech: Speech) -> tuple[Beginning, ...]:
    """The places where another game may begin, in order; none for most talks."""
    plain = _plain(speech)
    starts = [stretch.start for stretch in plain]
    opening = _Opening(plain)
    found: dict[int, Beginning] = {}
    before = -1
    announced: set[int] = set()
    for wording in speech.wordings().of("another_game"):
        place = bisect_left(starts, wording.start)
        # of several announcements with no move between them the first counts
        if place >= _APART and place != before:
            before = place
            soon = range(place, min(place + _SOON, len(plain)))
            first = max(soon, key=lambda at: opening.told(at)[0], default=place)
            announced.add(first)
            told = max(opening.told(first)[0] if first in soon else 0, _named(speech, wording.end, starts[place:]))
            found[wording.start] = Beginning(_first_word(speech, wording.start), True, told)
    past = 0
    for place in range(_APART, len(plain)):
        if place < past:
            continue
        told, past = opening.told(place)
        if told >= _AGAIN and place not in announced and opening.usual(place):
            found[starts[place]] = Beginning(_first_word(speech, starts[place]), False, told)
    return _in_order(found.values())


def score_beginnings(speech: Speech, scores: Sequence[Score]) -> tuple[Beginning, ...]:
    """The places where the first moves of a score are told, in order, which no words need to announce."""
    plain = _plain(speech)
    found: list[Beginning] = []
    for score in scores:
        lines = Lines(chess.Board(score.start_fen), score.moves)
        first_moves = list(zip(lines.score, lines.score_moves, strict=False))[:_LOOK]
        plies = [[ply for ply, told in enumerate(first_moves) if _tells(stretch, *told)] for stretch in plain]
        past = 0
        for place in range(_APART, len(plain)):
            if place < past or not plies[place] or plies[place][0] > 2:
                continue
            reached, told = -1, 0
            for at in range(place, min(place + _LOOK, len(plain))):
                further = [ply for ply in plies[at] if ply > reached]
                if further:
                    reached, told, past = further[0], told + 1, at + 1
            if told >= _AGAIN:
                found.append(Beginning(_first_word(speech, plain[place].start), False, told))
    return _in_order(found)


def _tells(stretch: Stretch, before: LineNode, move: chess.Move) -> bool:
    """Whether a description is exactly of a move."""
    fits = [compare(before, move, spoken.phrase.moves[0]) for spoken in stretch.spoken if is_plain(spoken)]
    return any(fit is not None and not fit.slips for fit in fits)


def _in_order(found: Iterable[Beginning]) -> tuple[Beginning, ...]:
    """By their words, each word once."""
    ordered = sorted(found, key=lambda one: (one.word, one.announced, one.told))
    return tuple({one.word: one for one in ordered if one.word}.values())


def _named(speech: Speech, token: int, starts: Sequence[int]) -> int:
    """Plies of the opening that is named after an announcement, among the first moves told; 0 where none is."""
    until = starts[_NAMED] if len(starts) > _NAMED else len(speech.tokens)
    named = [one for one in speech.entries if one.kind == "opening" and token <= one.start < until]
    return max((len(one.value.split()) for one in named), default=0)


def _plain(speech: Speech) -> list[Stretch]:
    """The stretches that name moves plainly, none inside another."""
    found: list[Stretch] = []
    past = 0
    for stretch in speech.stretches:
        ends = [spoken.phrase.end for spoken in stretch.spoken if is_plain(spoken)]
        if ends and stretch.start >= past:
            found.append(stretch)
            past = max(ends)
    return found


def _first_word(speech: Speech, token: int) -> int:
    """The first word of the sentence that a token stands in; its own word where no sentence is told apart."""
    tokens = speech.tokens
    for first in range(token, max(token - _SENTENCE, 0), -1):
        if tokens[first - 1].stop or tokens[first].gap >= PAUSE:
            return tokens[first].word
    return tokens[token].word


class _Opening:
    """How far descriptions tell a game from the usual start position."""

    def __init__(self, plain: Sequence[Stretch]) -> None:
        self._plain = plain
        self._lines = Lines(chess.Board(), ())
        self._known: dict[int, tuple[tuple[LineNode, ...], int]] = {}
        self._usual = _usual_beginnings(self._lines)

    def told(self, place: int) -> tuple[int, int]:
        """Plies told in order from a description on, 0 where it is no first move; and the place after the last."""
        nodes, past = self._tell(place)
        return nodes[0].ply, past

    def usual(self, place: int) -> bool:
        """Whether what is told from a description on begins as games do that have a name."""
        return any(usual is node or node.follows(usual) for node in self._tell(place)[0] for usual in self._usual)

    def _tell(self, place: int) -> tuple[tuple[LineNode, ...], int]:
        if place not in self._known:
            self._known[place] = self._told(place)
        return self._known[place]

    def _told(self, place: int) -> tuple[tuple[LineNode, ...], int]:
        nodes = [self._lines.root]
        past, missed = place, 0
        for at in range(place, min(place + _LOOK, len(self._plain))):
            after = list(dict.fromkeys(node for before in nodes for node in self._after(before, self._plain[at])))
            if after:
                nodes, past, missed = after[:_POSITIONS], at + 1, 0
            elif at == place:
                break
            else:
                missed += 1
                if missed > _MISSED:
                    break
        return tuple(nodes), past

    def _after(self, node: LineNode, stretch: Stretch) -> Iterator[LineNode]:
        for spoken in stretch.spoken:
            if is_plain(spoken):
                nodes = [node]
                for said in spoken.phrase.moves:
                    nodes = [self._lines.after(one, fit.move) for one in nodes for fit in exact_fits(one, said)]
                yield from nodes


def _usual_beginnings(lines: Lines) -> list[LineNode]:
    """The positions after the first move of either side in the openings that have names."""
    found: list[LineNode] = []
    for sans in dict.fromkeys(opening.moves[:2] for opening in named_openings()):
        node = lines.root
        for san in sans:
            node = lines.after(node, node.board.parse_san(san))
        found.append(node)
    return [node for node in dict.fromkeys(found) if node.ply == 2]

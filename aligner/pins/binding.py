"""Settled decisions as constraints: the talk's phrases with the settled ones in their place, and where each leads."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import chess

from aligner.pins.pin import BACK, INFERRED, MOVE, NO_MOVE, Pin
from aligner.pins.placing import Span, place
from aligner.pins.typed import line_nodes
from aligner.search.lines import LineNode, Lines
from aligner.search.matching import Fit, compare
from aligner.speech.description import Description, Phrase
from aligner.speech.listen import Speech, Spoken, Stretch


@dataclass(frozen=True, slots=True)
class Binding:
    """A settled decision, bound to a phrase of the talk.

    Attributes:
        pin: the decision.
        words: half-open range of words it is about.
        spoken: the phrase that stands for it in the search; None where the words speak of no move.
        nodes: the moves it speaks of, in order; empty where it speaks of none.
        fit: how the last move fits what was really said.
    """

    pin: Pin
    words: Span
    spoken: Spoken | None
    nodes: tuple[LineNode, ...]
    fit: Fit | None

    @property
    def node(self) -> LineNode:
        """The position that the settled move leads to."""
        return self.nodes[-1]


@dataclass(frozen=True, slots=True)
class Bound:
    """A talk under constraints.

    Attributes:
        speech: the talk with the settled phrases in the place of what was heard there.
        bindings: by the number of the phrase that stands for each.
        placed: for each pin that could be placed, the words it is about.
        unfit: for each pin that could not, why not, in one sentence.
    """

    speech: Speech
    bindings: Mapping[int, Binding]
    placed: tuple[tuple[Pin, Span], ...]
    unfit: tuple[tuple[Pin, str], ...]


class Binder:
    """Binds pins to one talk; the same pin is given the same phrase every time, so what fits where stays known."""

    def __init__(self, speech: Speech, lines: Lines, given: bool = True) -> None:
        self.speech = speech
        self.lines = lines
        self._other_game = (
            "it is no move of the score that was given" if given else "a later decision has the game go another way"
        )
        self._numbers: dict[tuple[object, ...], int] = {}
        self._next = 1 + max((s.number for stretch in speech.stretches for s in stretch.spoken), default=0)
        self._first_token: dict[int, int] = {}
        self._past_token: dict[int, int] = {}
        for index, token in enumerate(speech.tokens):
            self._first_token.setdefault(token.word, index)
            self._past_token[token.word] = index + 1

    def bind(self, pins: Sequence[Pin]) -> Bound:
        """Place the pins and put them into the talk; those that do not fit are told and change nothing."""
        if not pins:
            return Bound(self.speech, {}, (), ())
        bindings: list[Binding] = []
        placed: list[tuple[Pin, Span]] = []
        unfit: list[tuple[Pin, str]] = []
        for pin, words in zip(pins, place([pin.anchor for pin in pins], self.speech.words), strict=True):
            if words is None:
                unfit.append((pin, "its words are no longer found near that time"))
                continue
            nodes: tuple[LineNode, ...] = ()
            if pin.decision in (MOVE, INFERRED):
                line = line_nodes(self.lines, pin.line)
                if not line:
                    unfit.append((pin, "its moves cannot be played from the start position"))
                    continue
                if pin.in_game and self.lines.score_moves and line[-1].score_ply < 0:
                    unfit.append((pin, self._other_game))
                    continue
                nodes = tuple(line[-pin.spoken :])
            placed.append((pin, words))
            if pin.decision == INFERRED and nodes[-1].score_ply > 0:
                continue  # the game has been found with it, and nothing is spoken of it
            if pin.decision in (MOVE, NO_MOVE, BACK, INFERRED):
                binding = self._binding(pin, words, nodes)
                if binding is None:
                    unfit.append((pin, "there is nothing to hear at its words"))
                else:
                    bindings.append(binding)
        speech = self._with(bindings)
        by_number = {binding.spoken.number: binding for binding in bindings if binding.spoken is not None}
        return Bound(speech, by_number, tuple(placed), tuple(unfit))

    def same(self, line: Sequence[str], node: LineNode) -> bool:
        """Whether a line in SAN leads to a node."""
        nodes = line_nodes(self.lines, line)
        return bool(nodes) and nodes is not None and nodes[-1] is node

    def _binding(self, pin: Pin, words: Span, nodes: tuple[LineNode, ...]) -> Binding | None:
        start = next((self._first_token[word] for word in range(*words) if word in self._first_token), None)
        if start is None:
            return None
        if pin.decision == NO_MOVE:
            return Binding(pin, words, None, (), None)
        if pin.decision in (BACK, INFERRED):
            phrase = Phrase(start, start, (Description("settled"),))
            return Binding(pin, words, self._spoken(phrase, (pin.decision, start, pin.line)), nodes, None)
        end = max(self._past_token[word] for word in range(*words) if word in self._past_token)
        heard, fit = self._heard(start, end, nodes)
        phrase = Phrase(start, end, tuple(described(node) for node in nodes), heard.phrase.terms if heard else ())
        spoken = self._spoken(phrase, (MOVE, start, end, *[node.number for node in nodes]))
        if heard is not None:
            spoken = replace(spoken, who=heard.who, at_move=heard.at_move, aim=heard.aim, named=heard.named)
        return Binding(pin, words, spoken, nodes, fit)

    def _spoken(self, phrase: Phrase, key: tuple[object, ...]) -> Spoken:
        if key not in self._numbers:
            self._numbers[key] = self._next
            self._next += 1
        return Spoken(phrase, (), self._numbers[key], False)

    def _heard(self, start: int, end: int, nodes: tuple[LineNode, ...]) -> tuple[Spoken | None, Fit | None]:
        """What was heard at the settled words that describes the settled move best, and how it fits."""
        best: tuple[tuple[int, int], Spoken, Fit] | None = None
        node = nodes[-1]
        assert node.parent is not None and node.move is not None
        for stretch in self.speech.stretches:
            for spoken in stretch.spoken:
                phrase = spoken.phrase
                if phrase.start < start or phrase.end > end or phrase.fixed or len(phrase.moves) != len(nodes):
                    continue
                fit = compare(node.parent, node.move, phrase.moves[-1])
                if fit is None:
                    continue
                order = (len(fit.slips), phrase.start - phrase.end)
                if best is None or order < best[0]:
                    best = (order, spoken, fit)
        return (best[1], best[2]) if best is not None else (None, Fit(node.move, ()))

    def _with(self, bindings: Sequence[Binding]) -> Speech:
        """The talk with the settled phrases, and without those that overlap them."""
        settled: set[int] = set()
        added: dict[int, list[Spoken]] = {}
        silent: dict[int, list[Spoken]] = {}
        for binding in bindings:
            if binding.pin.decision in (MOVE, NO_MOVE):
                for word in range(*binding.words):
                    settled.update(range(self._first_token.get(word, 0), self._past_token.get(word, 0)))
            if binding.spoken is not None:
                there = silent if binding.pin.decision in (BACK, INFERRED) else added
                there.setdefault(binding.spoken.phrase.start, []).append(binding.spoken)
        rows: list[tuple[int, int, tuple[Spoken, ...]]] = []
        for stretch in self.speech.stretches:
            kept = stretch.spoken
            if settled:
                kept = tuple(s for s in kept if settled.isdisjoint(range(s.phrase.start, s.phrase.end)))
            if kept:
                rows.append((stretch.start, 1, kept))
        rows += [(start, 1, tuple(group)) for start, group in added.items()]
        rows += [(start, 0, (spoken,)) for start, group in silent.items() for spoken in group]
        rows.sort(key=lambda row: row[:2])
        stretches = tuple(Stretch(start, group, number) for number, (start, _, group) in enumerate(rows))
        return replace(self.speech, stretches=stretches)


def described(node: LineNode) -> Description:
    """A full description of the move that leads to a node: no other move fits it."""
    assert node.parent is not None and node.move is not None
    board, move = node.parent.board, node.move
    check, mate = node.board.is_check(), node.board.is_checkmate()
    if board.is_castling(move):
        wing = "short" if chess.square_file(move.to_square) > 4 else "long"
        return Description("castle", castle=wing, check=check, mate=mate, side=board.turn)
    piece = board.piece_at(move.from_square)
    return Description(
        "symbols",
        piece=piece.symbol().upper() if piece else "",
        from_file=chess.square_file(move.from_square),
        from_rank=chess.square_rank(move.from_square),
        target=move.to_square,
        target_for_black=move.to_square,
        capture=board.is_capture(move),
        promotion=chess.piece_symbol(move.promotion).upper() if move.promotion else "",
        check=check,
        mate=mate,
        side=board.turn,
    )

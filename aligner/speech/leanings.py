"""What the words around a phrase make of it: no move, one told again, one of the game, one of a sideline.

Cues are known phrases that were given a meaning; here all words speak, each a little: those before the phrase, near and
farther, pairs of them, how the sentence begins, the words after it. Their weights are those of logistic regressions,
fitted on marked-up talks by tests/measure/fit_leanings.py and read from `leanings.txt` of the language.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib import resources
from math import exp, log1p
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import chess

from aligner.speech.lexicon import lexicon
from aligner.speech.tokens import Token

if TYPE_CHECKING:
    from aligner.speech.listen import Speech, Spoken, Stretch

WEIGHED = ("none", "again", "game", "back")
"""What each word is weighed for, in the order of a row of `leanings.txt`."""
_NEAR, _BEFORE, _FAR = 3, 8, 25
"""Tokens before a phrase: near, before, and as far as is looked."""
_PAIRS, _AFTER, _PLACED = 6, 8, 2
"""Tokens before it that are taken in pairs; after it; and right before and right after it, each by its place."""
_RIGHT_BEFORE = 2, 3
"""Tokens right before it that are taken together."""
_SENTENCE, _BEGINNING, _LENGTHS = 40, 4, 8
"""Tokens as far as which a sentence's beginning is looked for; of its beginning; its lengths that are told apart, in
threes."""
_SEVERAL = 3
"""Moves in one phrase from which on their number is no matter."""
_SQUARE, _PIECE = "#", "@"
"""Stand for all squares and for all pieces: which of them was named tells nothing of where in the tree the talk is."""
_MOST_NATS = 30.0
"""From here on what is unlikely costs its odds, to the last figure; its exponential would soon be too large."""
_SQUARES = frozenset(chess.SQUARE_NAMES)


class Leaning(NamedTuple):
    """What the words around a phrase make of it, as logarithms of odds.

    Attributes:
        none: that it speaks of no move.
        again: that a move is spoken of again, if it speaks of one.
        game: that the game goes on with a move that is told for the first time, where the talk is in the game.
        back: the same where the talk is in a sideline.
    """

    none: float
    again: float
    game: float
    back: float


@dataclass(frozen=True, slots=True)
class LeaningModel:
    """Weights of what stands around phrases.

    Attributes:
        constant: of the four of `Leaning`.
        weights: of the same, by feature.
    """

    constant: Leaning
    weights: Mapping[str, Leaning]

    def of(self, features: Iterable[str]) -> Leaning:
        """What these features make of a phrase, all different."""
        none, again, game, back = self.constant
        known = self.weights
        for feature in features:
            if feature in known:
                weights = known[feature]
                none += weights[0]
                again += weights[1]
                game += weights[2]
                back += weights[3]
        return Leaning(none, again, game, back)


def nats(odds: float) -> float:
    """The negated logarithm of the probability that a logarithm of odds stands for."""
    return log1p(exp(-odds)) if odds > -_MOST_NATS else -odds


def with_leanings(speech: Speech, model: LeaningModel | None = None) -> Speech:
    """The talk with the leaning of each phrase; those that have one keep it.

    Args:
        speech: what was heard.
        model: None for the one of the language.
    """
    if any(spoken.leaning is not None for stretch in speech.stretches for spoken in stretch.spoken):
        return speech
    return replace(speech, stretches=leant(speech.stretches, speech.tokens, model))


def leant(
    stretches: Sequence[Stretch], tokens: Sequence[Token], model: LeaningModel | None = None
) -> tuple[Stretch, ...]:
    """Stretches of a talk with the leaning of each phrase.

    Args:
        stretches: any of the talk.
        tokens: of the whole talk.
        model: None for the one of the language.
    """
    around = Around(tokens)
    weighed = model or leaning_model()
    found = []
    for stretch in stretches:
        told = zip(stretch.spoken, around.features(stretch), strict=True)
        found.append(replace(stretch, spoken=tuple(replace(one, leaning=weighed.of(each)) for one, each in told)))
    return tuple(found)


class Around:
    """Features of what stands around the phrases of a talk.

    Args:
        tokens: of the talk.
        language: whose names of pieces count alike.
    """

    def __init__(self, tokens: Sequence[Token], language: str = "en") -> None:
        pieces = lexicon(language).context.pieces
        self._tokens = tokens
        self._texts = [
            _SQUARE if token.text in _SQUARES else _PIECE if token.text in pieces else token.text for token in tokens
        ]

    def features(self, stretch: Stretch) -> Iterator[frozenset[str]]:
        """Of each phrase that starts at a stretch, its signs among them."""
        before = frozenset(self.before(stretch.start))
        for one in stretch.spoken:
            yield before.union(one.signs, self.after(one.phrase.start, one.phrase.end), self.wording(one))

    def before(self, start: int) -> Iterator[str]:
        """Features of the words before a phrase."""
        texts = self._texts
        for back in range(1, min(_FAR, start) + 1):
            text = texts[start - back]
            yield f"{'near' if back <= _NEAR else 'before' if back <= _BEFORE else 'far'} {text}"
            yield f"any {text}"
            if back <= _PLACED:
                yield f"{-back} {text}"
        yield from self._pairs(start)
        begins = self._sentence(start)
        words = texts[begins : min(start, begins + _BEGINNING)]
        for text in words:
            yield f"begins {text}"
        yield f"begins with {' '.join(words[:2])}"
        yield f"after {min(_LENGTHS, (start - begins) // 3)} threes"

    def after(self, start: int, end: int) -> Iterator[str]:
        """Features of a phrase's own words, and of those after it."""
        texts = self._texts
        own = texts[start:end]
        for text in own:
            yield f"in {text}"
        for one, other in zip(own, own[1:], strict=False):
            yield f"in {one} {other}"
        following = texts[end : end + _AFTER]
        for text in following:
            yield f"then {text}"
        for place, text in enumerate(following[:_PLACED], 1):
            yield f"+{place} {text}"
        if len(following) > 1:
            yield f"then {following[0]} {following[1]}"
        if following:
            yield f"ends {own[-1]} {_stop(self._tokens[end - 1])} {following[0]}"

    def wording(self, one: Spoken) -> Iterator[str]:
        """Features of how a move is worded, by itself and with the words right beside it."""
        start, end = one.phrase.start, one.phrase.end
        form = one.phrase.moves[0].form
        yield f"moves {min(len(one.phrase.moves), _SEVERAL)}"
        yield f"form {form} {'inside' if one.inside else 'outside'}"
        texts, first = self._texts, self._texts[start]
        yield f"first {first}"
        yield f"last {texts[end - 1]}"
        yield f"form {form} begins {first}"
        for back in range(1, min(_NEAR, start) + 1):
            yield f"form {form} near {texts[start - back]}"
        if start:
            yield f"form {form} after {texts[start - 1]}"
            yield f"form {form} after {texts[start - 1]} {first}"
        if start > 1:
            yield f"form {form} after {texts[start - 2]} {texts[start - 1]} -"
        if end < len(texts):
            yield f"form {form} then {texts[end]}"
        yield f"form {form} {_stop(self._tokens[end - 1])}"

    def _pairs(self, start: int) -> Iterator[str]:
        """Words next to each other, with the stops and commas between them."""
        row = []
        for at in range(max(0, start - _PAIRS), start):
            row.append(self._texts[at])
            if self._tokens[at].stop:
                row.append(".")
            elif self._tokens[at].comma:
                row.append(",")
        for one, other in zip(row, row[1:], strict=False):
            yield f"pair {one} {other}"
        for many in _RIGHT_BEFORE:
            if start >= many:
                yield f"right before {' '.join(self._texts[start - many : start])}"

    def _sentence(self, start: int) -> int:
        """The first token of the sentence that a token stands in, as far as is looked."""
        first = start
        while first > 0 and start - first < _SENTENCE and not self._tokens[first - 1].stop:
            first -= 1
        return first


def _stop(token: Token) -> str:
    """What a token ends: a sentence, a part of one, or neither."""
    return "stop" if token.stop else "comma" if token.comma else "on"


@lru_cache(maxsize=4)
def leaning_model(language: str = "en") -> LeaningModel:
    """The weights of a language, read once."""
    return _parsed((resources.files("aligner.speech") / "data" / language / "leanings.txt").read_text(encoding="utf-8"))


def read_leaning_model(path: Path) -> LeaningModel:
    """Weights from a file that the fitting script wrote."""
    return _parsed(path.read_text(encoding="utf-8"))


def _parsed(text: str) -> LeaningModel:
    rows = dict(line.split("\t", 1) for line in text.splitlines() if not line.startswith("//"))
    return LeaningModel(_weights(rows.pop("")), _Rows(rows))


def _weights(row: str) -> Leaning:
    none, again, game, back = row.split("\t")
    return Leaning(float(none), float(again), float(game), float(back))


class _Rows(Mapping[str, Leaning]):
    """Weights by feature, each read when a talk first asks for it: one talk has few of them."""

    def __init__(self, rows: Mapping[str, str]) -> None:
        self._rows = rows
        self._read: dict[str, Leaning] = {}

    def __contains__(self, feature: object) -> bool:
        return feature in self._rows

    def __getitem__(self, feature: str) -> Leaning:
        weights = self._read.get(feature)
        if weights is None:
            weights = self._read[feature] = _weights(self._rows[feature])
        return weights

    def __iter__(self) -> Iterator[str]:
        return iter(self._rows)

    def __len__(self) -> int:
        return len(self._rows)


def leaning_text(model: LeaningModel, heading: str, least: float) -> str:
    """A file of weights; the same weights give the same text.

    Args:
        model: the weights.
        heading: one line for people.
        least: features all of whose weights are smaller are left out.
    """
    rows = [f"// {heading}", _row("", model.constant)]
    rows += [
        _row(feature, weights) for feature, weights in sorted(model.weights.items()) if max(map(abs, weights)) >= least
    ]
    return "\n".join(rows) + "\n"


def _row(feature: str, weights: Leaning) -> str:
    return "\t".join([feature, *(f"{weight:.2f}".replace("-0.00", "0.00") for weight in weights)])

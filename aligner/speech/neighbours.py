"""Readings that count only beside others: "before" is b4, and "knight" a move, where moves are told in a row."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterator, Sequence

from aligner.speech.description import Phrase
from aligner.speech.tokens import Token

PAUSE = 300
"""Milliseconds of silence that part two sentences, where captions have no full stops."""
_AIMED = 3
"""Tokens between a move and what it is said to attack, at most."""
VAGUE = frozenset(
    {"piece_on", "piece_moves", "moves", "check", "pushes", "opening", "piece_checks", "likewise"}
    | {"hits", "piece_hits", "offers", "falls", "gives", "evades"}
)
"""Wordings that do not show that moves are being told."""


def beside_others(
    found: Sequence[Phrase],
    tokens: Sequence[Token],
    past_joints: Callable[[int], int],
    movers: Container[str] = frozenset(),
) -> Iterator[Phrase]:
    """All phrases but those that stand alone where nothing told before or after them says that moves are told.

    Args:
        found: phrases in the order of their starts.
        tokens: of the talk.
        past_joints: the token after the little words ("and", "then") that stand at a token.
        movers: words that say who moves; behind one a verb may begin a move ("you sake" for "you take").
    """
    plain = [phrase for phrase in found if not phrase.alone]
    if len(plain) == len(found):
        yield from found
        return
    solid = [phrase for phrase in plain if phrase.moves[0].form not in VAGUE]
    told_after = {phrase.start for phrase in solid}
    ends = {phrase.end for phrase in solid}
    told_before = ends.union(map(past_joints, ends))
    inside = {token for start, end in {(p.start, p.end) for p in solid} for token in range(start + 1, end)}
    longest = {phrase.start: phrase.end for phrase in solid}  # of one start the longest comes last
    alone = [
        phrase
        for phrase in found
        if phrase.alone
        and phrase.start not in inside
        # "bishop" is no move of its own in "bishop e6", be it a slip or not
        and (phrase.alone != "piece" or phrase.end >= longest.get(phrase.start, 0) or tokens[phrase.end - 1].comma)
    ]
    follows, leads = set[int](), set[int]()  # numbers of those with a witness before, and after them
    for number, phrase in enumerate(alone):
        begins = phrase.alone == "sound" and (
            parted(tokens, phrase.start)
            or (phrase.moves[0].form == "takes" and tokens[phrase.start - 1].text in movers)
        )
        if begins or phrase.start in told_before:
            follows.add(number)
            told_before |= {phrase.end, past_joints(phrase.end)}
    for number, phrase in reversed(list(enumerate(alone))):
        ends = {phrase.end, past_joints(phrase.end)}
        ends |= {end + 1 for end in ends if end < len(tokens) and tokens[end].text in movers}
        if parted(tokens, phrase.end) or not ends.isdisjoint(told_after):
            leads.add(number)
            told_after.add(phrase.start)
    kept = {id(alone[number]) for number in follows & leads}
    yield from (phrase for phrase in found if not phrase.alone or id(phrase) in kept)


def without_aims(found: Sequence[Phrase], tokens: Sequence[Token], movers: Container[str]) -> Iterator[Phrase]:
    """All phrases but those that tell what the move right before them does: "knight f6 hits the pawn" is one move.

    Args:
        found: phrases.
        tokens: of the talk.
        movers: words that say who moves; behind one the attack is a move of its own ("knight f6, he kicks the bishop").
    """
    ends = {phrase.end for phrase in found if phrase.moves[0].form not in VAGUE and not phrase.alone}
    for phrase in found:
        at = phrase.start
        if phrase.moves[0].form.startswith("hits"):
            first = max(at - _AIMED, 0)
            while at > first and at not in ends and not tokens[at - 1].stop and tokens[at - 1].text not in movers:
                at -= 1
            if at in ends and (at == 0 or not tokens[at - 1].stop):
                ends.add(phrase.end)  # "and attacks the queen" is the same move's doing
                continue
        yield phrase


def parted(tokens: Sequence[Token], place: int) -> bool:
    """Whether a sentence, or a part of one, begins at a token."""
    if place <= 0 or place >= len(tokens):
        return True
    return tokens[place - 1].stop or tokens[place - 1].comma or tokens[place].gap >= PAUSE

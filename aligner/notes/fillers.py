"""What carries no meaning taken out of a sentence: sounds, fillers, words said twice, openings of openings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from aligner.chapters.sentences import bare, is_sound
from aligner.notes.editing import editing


@dataclass(frozen=True, slots=True)
class Token:
    """A word or a move on its way to the page.

    Attributes:
        text: without the punctuation after it.
        sign: the punctuation after it.
        is_move: whether it is a move in symbols.
        bracketed: whether it stands in brackets.
    """

    text: str
    sign: str = ""
    is_move: bool = False
    bracketed: bool = False


def without_fillers(tokens: Sequence[Token], punctuated: bool) -> list[Token]:
    """A sentence without them; empty where it holds nothing else.

    Args:
        tokens: of the sentence.
        punctuated: whether the captions have commas, so that a phrase between commas can be told from one that counts.
    """
    return _without_openers(_without_stammer(_without_phrases(_without_sounds(tokens), punctuated)))


def _without_sounds(tokens: Sequence[Token]) -> list[Token]:
    kept: list[Token] = []
    for token in tokens:
        if token.is_move or not is_sound(bare(token.text)):
            kept.append(token)
        elif kept:
            kept[-1] = _signed(kept[-1], token.sign)
    return kept


def _signed(before: Token, sign: str) -> Token:
    """What stands before something taken out, with the sign that closed it: a full stop stays, two commas go."""
    if sign.strip(","):
        return replace(before, sign=sign)
    return replace(before, sign="") if sign and before.sign == "," else before


def _without_phrases(tokens: list[Token], punctuated: bool) -> list[Token]:
    kept: list[Token] = []
    at = 0
    while at < len(tokens):
        size = _filler_at(tokens, at, kept, punctuated)
        if size == 0:
            kept.append(tokens[at])
            at += 1
            continue
        if kept:
            kept[-1] = _signed(kept[-1], tokens[at + size - 1].sign)
        at += size
    return kept


def _filler_at(tokens: Sequence[Token], at: int, kept: Sequence[Token], punctuated: bool) -> int:
    """How many tokens from here on are a phrase without meaning."""
    for phrase in editing().phrases:
        size = len(phrase.words)
        here = tokens[at : at + size]
        if len(here) < size or any(token.is_move for token in here):
            continue
        if tuple(bare(token.text) for token in here) != phrase.words or any(token.sign for token in here[:-1]):
            continue
        before = bare(kept[-1].text) if kept else ""
        after = bare(tokens[at + size].text) if at + size < len(tokens) else ""
        parted = (not kept or bool(kept[-1].sign)) and bool(here[-1].sign)
        if punctuated and not parted:
            continue
        if parted or (before not in phrase.not_after and after not in phrase.not_before):
            return size
    return 0


def _without_stammer(tokens: list[Token]) -> list[Token]:
    stammered = editing().stammered
    kept: list[Token] = []
    for token in tokens:
        kept.append(token)
        for size in (4, 3, 2, 1):
            one, two = kept[-2 * size : -size], kept[-size:]
            if len(one) < size or any(token.is_move or token.sign.strip(",") for token in one):
                continue
            spoken = [bare(word.text) for word in one]
            if spoken != [bare(word.text) for word in two] or any(word.is_move for word in two):
                continue
            if size == 1 and spoken[0] not in stammered:
                continue
            del kept[-2 * size : -size]
            break
    return kept


def _without_openers(tokens: list[Token]) -> list[Token]:
    words = editing()
    if all(not token.is_move and bare(token.text) in words.empty_openers for token in tokens):
        return []
    at = 0
    while at + 1 < len(tokens) and not tokens[at].is_move and not tokens[at].sign.strip(","):
        here, after = bare(tokens[at].text), bare(tokens[at + 1].text)
        alone = here in words.empty_openers
        chained = here in words.openers and after in words.openers and not tokens[at + 1].is_move
        if not alone and not chained:
            break
        at += 1
    if at and tokens[at].text[:1].islower() and tokens[0].text[:1].isupper():
        first = replace(tokens[at], text=tokens[at].text[:1].upper() + tokens[at].text[1:])
        return [first, *tokens[at + 1 :]]
    return tokens[at:]

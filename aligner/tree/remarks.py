"""What was said about a move: readable text for its comment, and the speaker's judgements as glyph numbers."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence

from aligner.speech.lexicon import Entry
from aligner.speech.listen import Speech

LONGEST_REMARK = 600
"""Characters of a comment; a longer remark is cut at a sentence or a word."""
_JUDGEMENT_REACH = 40
"""Words after a move within which a judgement is about it."""
_LEADS_ON = frozenset(
    "and but so then now he she they i we you white black here or if when after because the a his her in on with to "
    "okay well first instead goes went plays played".split()
)
"""Words that lead to the next move; where captions have no full stops, a remark does not end with them."""


def remark(speech: Speech, first: int, last: int) -> str:
    """The words `first` up to `last` as a comment: whole sentences where punctuation shows them; may be empty."""
    texts = [word.text for word in speech.words[first:last]]
    stops = [index for index, text in enumerate(texts) if text.rstrip("\"'”’)")[-1:] in (".", "!", "?", "…")]
    if stops:
        texts = texts[: stops[-1] + 1]
    else:
        while texts and texts[-1].lower().strip(",;:") in _LEADS_ON:
            texts.pop()
    while texts and not any(letter.isalnum() for letter in texts[0]):
        texts.pop(0)
    if len(texts) < 3:
        return ""
    text = " ".join(texts).rstrip(",;: ")
    if len(text) > LONGEST_REMARK:
        cut = text[:LONGEST_REMARK]
        end = max(cut.rfind(mark) for mark in (". ", "! ", "? "))
        text = cut[: end + 1] if end > LONGEST_REMARK // 2 else cut[: cut.rfind(" ")] + " …"
    return text[:1].upper() + text[1:]


def judgements(
    speech: Speech, entries: Sequence[Entry], first: int, last: int, glyphs: dict[str, int]
) -> tuple[int, ...]:
    """Glyph numbers of the judgements spoken in words `first` up to `last`: one of the move, one of the position.

    `entries` stand in order. Numbers mean what section 10 of the PGN standard says: 1 to 9 judge the move, higher ones
    the position.
    """
    move: int | None = None
    position: int | None = None
    begin = bisect_left(entries, first, key=lambda entry: speech.tokens[entry.start].word)
    for entry in (entries[place] for place in range(begin, len(entries))):
        if speech.tokens[entry.start].word >= min(last, first + _JUDGEMENT_REACH):
            break
        before = [token.text for token in speech.tokens[max(entry.start - 3, 0) : entry.start]]
        if any(text in ("not", "no", "isn't", "wasn't", "never", "hardly", "if", "would") for text in before):
            continue
        glyph = glyphs[entry.value]
        if glyph < 10:
            move = glyph if move is None else move
        else:
            position = glyph if position is None else position
    return tuple(glyph for glyph in (move, position) if glyph is not None)

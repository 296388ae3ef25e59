"""Words into tokens: a blank spaCy pipeline with tokenizer rules of our own.

Captioners write "Nf3", "N f3", "F-3", "Knightf3", "e8=Q", "O-O"; recognisers write neither capitals nor full stops.
A token is lower case, keeps moves in symbols whole, and remembers its word; punctuation becomes a flag.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from aligner.captions.words import Word
from aligner.speech.loading import load_spacy

if TYPE_CHECKING:
    from spacy.tokenizer import Tokenizer
    from spacy.vocab import Vocab

SYMBOLS = re.compile(
    r"(?:[KQRBN][A-Ha-h]?[1-8]?[-–x:]?[A-Ha-h][1-8]|[a-h][1-8]?[x:][a-h][1-8]?|[A-Ha-h][1-8][-–][A-Ha-h][1-8]|[a-h][1-8]"
    r"|[Oo0](?:[-–][Oo0]){1,2})(?:=?\(?[QRBN]\)?)?(?:e\.p\.)?[+#]{0,2}[!?]{0,2}"
)
"""Moves in symbols, algebraic notation of the FIDE Laws of Chess, appendix C, and the usual breakage."""

_FIGURINES = str.maketrans("♔♕♖♗♘♚♛♜♝♞", "KQRBNKQRBN", "♙♟\ufe0e\ufe0f")
"""Printed pieces (Unicode, U+2654 to U+265F) into the letters that they stand for; a pawn has none, and how a piece is
to be shown (variation selectors) says nothing."""
_SQUARE_MARKED = re.compile(r"(?<=^[a-h][1-8])[!?]+$")
"""A cry or a question after a square: no part of it, as it may be of a move in symbols."""
_FULL_STOP = re.compile(r"[.!?…]+$")
_COMMA = re.compile(r"[,;:–—]$")
_PLAIN = re.compile(r"[A-Za-z]+(?:'[A-Za-z]+)*")
"""Words of letters alone, which are the most: no rule of the tokenizer parts them, so they need not go through it."""


@dataclass(frozen=True, slots=True)
class Token:
    """One token of the talk.

    Attributes:
        text: lower case, with straight apostrophes.
        raw: as written, for moves in symbols, where a capital letter tells the bishop from the b-file.
        word: index of the word it stands in.
        stop: a sentence ends after it, as far as punctuation tells.
        comma: a comma or the like stands after it.
        gap: silence before it in milliseconds.
    """

    text: str
    raw: str
    word: int
    stop: bool = False
    comma: bool = False
    gap: int = 0


@lru_cache(maxsize=1)
def tokenizer() -> Tokenizer:
    """The tokenizer of spaCy's blank pipeline, with rules for chess."""
    load_spacy()
    from spacy.tokenizer import Tokenizer
    from spacy.util import compile_infix_regex
    from spacy.vocab import Vocab

    prefix = re.compile(r"""^(?:["“”'‘’(\[<{*…>]|\d{1,3}\.{1,3}(?=[A-Za-z]))""")
    suffix = re.compile(r"""(?:[.,;:!?…"”)\]}>*]|(?<=[\w+#])['’]|(?<=[a-h][1-8])['’]s)$""")
    infix = compile_infix_regex(
        [
            r"(?i:(?<=king)|(?<=queen)|(?<=rook)|(?<=bishop)|(?<=knight)|(?<=pawn))(?=[a-hA-H][1-8]\b)",
            r"(?<=[A-Za-z0-9])[-–—](?=[A-Za-z0-9])",
            r"[,;/—…]|(?:(?<=[a-z])|(?<=[a-h][1-8]))\.(?=[A-Za-z])|\.{2,}",
        ]
    )
    return Tokenizer(
        Vocab(),
        prefix_search=prefix.search,
        suffix_search=suffix.search,
        infix_finditer=infix.finditer,
        token_match=SYMBOLS.fullmatch,
    )


def vocabulary() -> Vocab:
    """The vocabulary that the tokenizer and the matchers share."""
    vocab: Vocab = tokenizer().vocab
    return vocab


def split(text: str) -> list[str]:
    """The tokens of a phrase, lower case, without punctuation (for the lexicon's phrases)."""
    if all(map(_PLAIN.fullmatch, text.split())):
        return text.lower().split()
    return [normal(piece.text) for piece in tokenizer()(text) if _spoken(piece.text)]


def normal(text: str) -> str:
    """Lower case, with the typesetter's apostrophes made straight."""
    return text.replace("’", "'").replace("‘", "'").lower()


def _spoken(text: str) -> bool:
    return any(letter.isalnum() for letter in text) or text == "="


def tokenise(words: Sequence[Word]) -> list[Token]:
    """The tokens of a talk, in order.

    A square broken by a hyphen ("F-3") comes back as one token; other hyphens part their halves.
    """
    tokens: list[Token] = []
    before = 0
    for index, word in enumerate(words):
        gap = max(word.start - before, 0) if tokens else 0
        before = word.end
        for text, raw, stop, comma in _parts(word.text):
            tokens.append(Token(text, raw, index, stop, comma, gap))
            gap = 0
    return tokens


@lru_cache(maxsize=32768)
def _parts(word: str) -> tuple[tuple[str, str, bool, bool], ...]:
    """What a word is tokenised to: of each token text, raw, stop and comma, as in `Token`."""
    if _PLAIN.fullmatch(word):
        return ((word.lower(), word, False, False),)
    word = word.translate(_FIGURINES)
    if broken := re.fullmatch(r"\W*([A-Ha-h])[-–]([1-8])(\W*)", word):
        spoken = [broken[1] + broken[2]]
    else:
        spoken = [_SQUARE_MARKED.sub("", piece.text) for piece in tokenizer()(word) if _spoken(piece.text)]
    stop, comma = bool(_FULL_STOP.search(word.rstrip("\"'”’)"))), bool(_COMMA.search(word))
    last = len(spoken) - 1
    return tuple((normal(raw), raw, stop and at == last, comma and at == last) for at, raw in enumerate(spoken))

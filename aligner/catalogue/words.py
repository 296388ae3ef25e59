"""A talk's words: packed small, folded for searching, and what a question's words ask for.

Both databases are given the same folded text, so that their own tokenisers have nothing left to disagree about:
letters and digits only, lower case, no accents, one space between words. Both stem by Porter's algorithm of 1980.
"""

from __future__ import annotations

import re
import sys
import unicodedata
import zlib
from array import array
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import sub

from aligner.catalogue.faults import DAMAGED, CatalogueError
from aligner.errors import InputError
from aligner.record.model import SpokenWord

_APART = re.compile(r"[^0-9a-z]+")
_LETTERS = re.compile(r"[^\W_]+")
_PARTS = re.compile(r'(-?)(?:"([^"]*)"|(\S+))')

_LONGEST = 40
_LONG = re.compile(r"[^ ]{41,}")

PART = 512
"""Words in one block."""

MOST_WORDS = 32
"""Words in one question; more would only be a way to make the catalogue slow."""


def fold(text: str) -> str:
    """Text as it is searched: lower case, without accents, words of letters and digits, one space between them.

    Apostrophes inside words part them, as in both databases' own tokenisers ("king's" gives "king s").
    """
    if text.isascii():
        return _short(_APART.sub(" ", text.lower()).strip())
    # casefold can bring accents and wide forms of its own, so it goes before and after the decomposition
    plain = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", text.casefold()).casefold())
    bare = "".join(sign for sign in plain if not unicodedata.combining(sign))
    return _short(" ".join(_LETTERS.findall(bare)))


@lru_cache(maxsize=1 << 15)
def fold_word(text: str) -> str:
    """One word, folded; talks say the same words again and again."""
    return fold(text)


def _short(text: str) -> str:
    """The text with words that are none (a run of signs without a space) cut to a length both databases take."""
    return _LONG.sub(lambda word: word[0][:_LONGEST], text) if _LONG.search(text) else text


@dataclass(frozen=True, slots=True)
class WordQuery:
    """What is asked for in words: all of `wanted`, none of `unwanted`.

    Attributes:
        wanted: phrases, each one word or several in a row, folded.
        unwanted: the same.
    """

    wanted: tuple[str, ...]
    unwanted: tuple[str, ...] = ()


def parse_words(text: str) -> WordQuery:
    """Words as a user writes them: all must be there, "several in quotes" in a row, -without this one.

    Nothing else means anything, so no text can become the query syntax of a database.

    Raises:
        InputError: there is nothing to look for, or too much.
    """
    wanted: list[str] = []
    unwanted: list[str] = []
    for sign, quoted, bare in _PARTS.findall(text.replace("“", '"').replace("”", '"')):
        phrase = fold(quoted or bare)
        if phrase:
            (unwanted if sign else wanted).append(phrase)
    if sum(len(phrase.split()) for phrase in wanted + unwanted) > MOST_WORDS:
        raise InputError(f"the question has more than {MOST_WORDS} words; ask with fewer.", "--words")
    if not wanted:
        raise InputError(
            'there is no word to look for; write words that must all be there, "several in a row" in quotes, '
            "and -word for one that must not.",
            "--words",
        )
    return WordQuery(tuple(dict.fromkeys(wanted)), tuple(dict.fromkeys(unwanted)))


@dataclass(frozen=True, slots=True)
class Timed:
    """A talk's words, a column each.

    Attributes:
        texts: without white space in them.
        starts: seconds.
        ends: seconds.
    """

    texts: Sequence[str]
    starts: Sequence[float]
    ends: Sequence[float]


def timed(texts: list[str], starts: Sequence[float], ends: Sequence[float]) -> Timed:
    """The columns; white space in a word becomes one space or none."""
    if " ".join(texts).split() != texts:
        texts = [" ".join(text.split()) for text in texts]
    return Timed(texts, starts, ends)


def timed_words(words: Sequence[SpokenWord]) -> Timed:
    """The columns of a record's words."""
    return timed([word.text for word in words], [word.start for word in words], [word.end for word in words])


def pack(words: Timed) -> tuple[bytes, ...]:
    """The words and their times, in hundredths of a second, as small blocks of bytes, `PART` words each."""
    starts = [int(100 * start + 0.5) for start in words.starts]
    ends = [int(100 * end + 0.5) for end in words.ends]
    return tuple(
        _pack(words.texts[first : first + PART], starts[first : first + PART], ends[first : first + PART])
        for first in range(0, len(starts), PART)
    )


def _pack(texts: Sequence[str], starts: Sequence[int], ends: Sequence[int]) -> bytes:
    # where words follow each other without a pause the second column is all zeros, and takes no room
    lengths = array("i", map(sub, ends, starts))
    pauses = array("i", map(sub, starts, [0, *ends]))
    if sys.byteorder == "big":
        pauses.byteswap()
        lengths.byteswap()
    # bytes of the same weight side by side pack better
    table = b"".join(block.tobytes()[place::4] for block in (lengths, pauses) for place in range(4))
    text = "\n".join(texts).encode("utf-8", "replace")
    return zlib.compress(len(texts).to_bytes(4, "little") + table + text, 3)


@dataclass(frozen=True, slots=True)
class Block:
    """Some of a talk's words and when they are said.

    Attributes:
        texts: the words.
        lengths: of the words, in hundredths of a second.
        pauses: before the words, the same; the first one counts from the start of the recording.
    """

    texts: tuple[str, ...]
    lengths: Sequence[int]
    pauses: Sequence[int]


def unpack(block: bytes) -> Block:
    """One block of `pack`.

    Raises:
        CatalogueError: the block is damaged.
    """
    try:
        data = zlib.decompress(block)
    except zlib.error:
        raise CatalogueError(DAMAGED) from None
    count = int.from_bytes(data[:4], "little")
    columns = []
    for number in range(2):
        raw = bytearray(4 * count)
        for place in range(4):
            at = 4 + (number * 4 + place) * count
            raw[place::4] = data[at : at + count]
        column = array("i")
        column.frombytes(bytes(raw))
        if sys.byteorder == "big":
            column.byteswap()
        columns.append(column)
    texts = data[4 + 8 * count :].decode("utf-8", "replace").split("\n") if count else []
    if len(texts) != count or len(data) < 4 + 8 * count:
        raise CatalogueError(DAMAGED)
    return Block(tuple(texts), columns[0], columns[1])


def parts_of(first: int, past: int) -> range:
    """The numbers of the blocks in which a half-open range of words stands."""
    return range(max(0, first) // PART, max(0, past - 1) // PART + 1)


@dataclass(frozen=True, slots=True)
class TalkWords:
    """A talk's words, as far as they have been read.

    Attributes:
        blocks: by their number.
    """

    blocks: Mapping[int, Block]

    def texts(self, first: int, past: int) -> str:
        """The words of a half-open range; those that are not there are left out."""
        found: list[str] = []
        for part in parts_of(first, past):
            if part in self.blocks and past > first:
                start = part * PART
                found += self.blocks[part].texts[max(0, first - start) : past - start]
        return " ".join(found)

    def around(self, first: int, past: int, margin: int) -> tuple[str, str, str]:
        """The words before, in and after a half-open range of words."""
        return self.texts(max(0, first - margin), first), self.texts(first, past), self.texts(past, past + margin)

    def span(self, first: int, past: int) -> tuple[float, float]:
        """Start and end, in seconds, of a half-open range of words, at least one."""
        return self._when(first)[0] / 100, self._when(past - 1)[1] / 100

    def _when(self, word: int) -> tuple[int, int]:
        block = self.blocks[word // PART]
        place = word % PART
        start = sum(block.lengths[:place]) + sum(block.pauses[: place + 1])
        return start, start + block.lengths[place]

"""A spelling alphabet of the speaker's own: "knight to door five, bandage six" of somebody who calls files by words.

International announcing has words for the files (they are in the lexicon); people who pass moves on by telephone or
call them through a hall make up others. Such a word is known by what the talk does with it: it begins with the file's
letter and has a rank behind it mostly, and several files have such a word.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Container, Mapping, Sequence

from aligner.speech.tokens import Token

_SHORTEST = 3
"""Letters of a word that spells a file."""
_LEAST, _SHARE = 2, 0.5
"""How often a word stands before a rank, and in how much of all its places."""
_FILES = 4
"""Files with such a word, without which there is no alphabet: "game five" and "board three" are no files."""


def own_alphabet(tokens: Sequence[Token], ranks: Container[int], known: Callable[[str], bool]) -> Mapping[str, str]:
    """Words that spell a file in this talk, with its letter; none where the speaker has no alphabet of his own.

    Args:
        tokens: of the talk.
        ranks: tokens at which a rank stands.
        known: whether a word has a meaning of its own.
    """
    times = Counter(token.text for token in tokens)
    before = Counter(
        token.text
        for index, token in enumerate(tokens)
        if index + 1 in ranks and token.text[0] in "abcdefgh" and not (token.stop or token.comma)
    )
    found: dict[str, str] = {}
    for word, times_before in before.most_common():
        spells = len(word) >= _SHORTEST and word.isalpha() and not known(word)
        if spells and times_before >= max(_LEAST, _SHARE * times[word]) and word[0] not in found.values():
            found[word] = word[0]
    return found if len(found) >= _FILES else {}

"""A sentence of the talk as written English: no filler words, moves in symbols, capitals and full stops."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from aligner.chapters.sentences import Sentence, bare
from aligner.notes.editing import editing, names_by_words
from aligner.notes.fillers import Token, without_fillers
from aligner.notes.spelling import Spelt, spell
from aligner.record.model import Game, Mention, Node, SpokenWord

_SIGNS = ".,;:!?…"
_LONGEST_QUESTION = 16
"""Words up to which a sentence without punctuation is taken for a question by its beginning."""
_SMALL_I = re.compile("^i(?=$|['\u2019,.;:!?])")
_NO_NAMES = frozenset(("white", "black", "the", "kid", "and", "game", "open"))


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a sentence.

    Attributes:
        text: of it, with its punctuation.
        is_move: whether it is a move in symbols.
        glued: whether no space stands before it.
    """

    text: str
    is_move: bool = False
    glued: bool = False


@dataclass(frozen=True, slots=True)
class Style:
    """What holds for a whole talk.

    Attributes:
        punctuated: whether the captions have punctuation and capitals of their own.
        names: names to write with capitals, by their words in small letters.
    """

    punctuated: bool
    names: Mapping[tuple[str, ...], str]


def style_of(game: Game, punctuated: bool) -> Style:
    """The style for a talk about a game, whose headers name the players and the event."""
    names = dict(editing().names)
    for player in (game.headers.get("White", ""), game.headers.get("Black", "")):
        parts = [part.strip(",.") for part in player.split()]
        for part in parts:
            if part[:1].isupper() and part.lower() not in _NO_NAMES and len(part) > 2:
                names[(part.lower(),)] = part
    event = game.headers.get("Event", "").split(",")[0]
    if len(event.split()) > 1 and event.istitle():
        names.update(names_by_words([event]))
    return Style(punctuated, names)


def write(
    sentence: Sentence,
    words: Sequence[SpokenWord],
    mentions: Sequence[Mention],
    game: Game,
    nodes: Mapping[int, Node],
    style: Style,
) -> tuple[Piece, ...]:
    """A sentence as written; empty where nothing but filler words is left of it.

    Args:
        sentence: of the talk.
        words: of the talk.
        mentions: that lie in the sentence, in order, apart from each other.
        game: they belong to.
        nodes: of the game by id.
        style: of the talk.
    """
    tokens = _tokens(sentence, words, mentions, game, nodes)
    tokens = without_fillers(tokens, style.punctuated)
    if not any(token.is_move or any(sign.isalnum() for sign in token.text) for token in tokens):
        return ()
    if not style.punctuated:
        tokens = _capitalised(tokens, style)
    tokens = _closed(tokens)
    return _pieces(tokens)


def _tokens(
    sentence: Sentence,
    words: Sequence[SpokenWord],
    mentions: Sequence[Mention],
    game: Game,
    nodes: Mapping[int, Node],
) -> list[Token]:
    tokens: list[Token] = []
    last_node: int | None = None
    at = sentence.first
    for mention in [*mentions, None]:
        until = sentence.past if mention is None else mention.words[0]
        for place in range(at, until):
            tokens.extend(_token(words[place].text, place in sentence.commas))
            last_node = None if bare(words[place].text) not in ("", "and") else last_node
        if mention is None:
            break
        first, past = mention.words
        spoken = [nodes[number] for number in mention.nodes]
        previous = bare(tokens[-1].text) if tokens and not tokens[-1].is_move else ""
        goes_on = bool(spoken) and last_node is not None and spoken[0].parent == last_node
        texts = [word.text for word in words[first:past]]
        spelt = spell(game, spoken, mention, texts, previous, goes_on)
        tokens.extend(_of_mention(spelt, past - 1 in sentence.commas))
        last_node = spoken[-1].id if spoken and not spelt.bracketed and not spelt.sign.strip(",") else None
        at = past
    return tokens


def _of_mention(spelt: Spelt, comma: bool) -> list[Token]:
    tokens = [token for text in spelt.before for token in _token(text, False)]
    sign = spelt.sign or ("," if comma else "")
    if spelt.moves:
        tokens.append(Token(spelt.moves, sign, True, spelt.bracketed))
    elif tokens and sign and not tokens[-1].sign:
        tokens[-1] = replace(tokens[-1], sign=sign)
    return tokens


def _token(text: str, comma: bool) -> list[Token]:
    text = re.sub(r"^([A-H])([1-8])(?=\W*$)", lambda square: square[1].lower() + square[2], text)
    stem = text.rstrip(_SIGNS)
    return [Token(stem, text[len(stem) :] or ("," if comma else ""))] if text else []


def _capitalised(tokens: Sequence[Token], style: Style) -> list[Token]:
    words = editing()
    found = [replace(token, text=_SMALL_I.sub("I", token.text)) if not token.is_move else token for token in tokens]
    plain = ["" if token.is_move else bare(token.text).replace("-", " ") for token in found]
    for at, text in enumerate(plain):
        after = plain[at + 1] if at + 1 < len(plain) else ""
        before = plain[at - 1] if at else ""
        if text in ("white", "black") and after not in words.side_nouns and before not in words.determiners:
            found[at] = replace(found[at], text=found[at].text.capitalize())
    at = 0
    while at < len(found):
        sizes = (size for size in (4, 3, 2, 1) if at + size <= len(plain) and all(plain[at : at + size]))
        size = next((size for size in sizes if _name_key(plain[at : at + size]) in style.names), 0)
        if size:
            name = style.names[_name_key(plain[at : at + size])].split()
            if len(name) == size:
                for offset, part in enumerate(name):
                    found[at + offset] = replace(found[at + offset], text=part)
            else:
                found[at : at + size] = [replace(found[at + size - 1], text=" ".join(name))]
                plain[at : at + size] = [" ".join(name).lower()]
                size = 1
        at += max(size, 1)
    return found


def _closed(tokens: list[Token]) -> list[Token]:
    """The sentence with a capital at its beginning and a full stop or a question mark at its end."""
    first, last = tokens[0], tokens[-1]
    if not last.sign.strip(",;:"):
        tokens[-1] = replace(last, sign="?" if _asks(tokens) else ".")
    if not first.is_move:
        tokens[0] = replace(tokens[0], text=_capital(first.text))
    for at, token in enumerate(tokens[:-1]):
        if token.sign[-1:] in (".", "!", "?") and token.sign and not tokens[at + 1].is_move:
            tokens[at + 1] = replace(tokens[at + 1], text=_capital(tokens[at + 1].text))
    return tokens


def _capital(text: str) -> str:
    """With a capital first letter, unless it is a square, which has none."""
    return text if re.match(r"^[a-h][1-8]\b|^[a-h]-", text) else text[:1].upper() + text[1:]


def _asks(tokens: Sequence[Token]) -> bool:
    words = editing()
    plain = ["" if token.is_move else bare(token.text) for token in tokens]
    while plain and plain[0] in words.question_leads:
        plain = plain[1:]
    if not 2 <= len(plain) <= _LONGEST_QUESTION:
        return False
    if plain[0] in words.question_first:
        return plain[1] in words.question_helpers or (plain[0] == "why" and plain[1] in ("", "not"))
    return plain[0] in words.question_inverted and plain[1] in words.question_subjects


def _pieces(tokens: Sequence[Token]) -> tuple[Piece, ...]:
    pieces: list[Piece] = []
    text: list[str] = []
    for token in tokens:
        if not token.is_move:
            text.append(token.text + token.sign)
            continue
        before = [*text, "("] if token.bracketed else text
        pieces.append(Piece(" ".join(before)))
        pieces.append(Piece(token.text, True, token.bracketed))
        text = []
        rest = (")" if token.bracketed else "") + token.sign
        if rest:
            pieces.append(Piece(rest, False, True))
    if text:
        pieces.append(Piece(" ".join(text)))
    return tuple(piece for piece in pieces if piece.text)


def _name_key(plain: Sequence[str]) -> tuple[str, ...]:
    return tuple(" ".join(plain).split())

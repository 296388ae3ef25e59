"""The game's next move misnamed in words that the alignment left out: "and then I castled kingside" of 0-0-0.

Where a misnamed move would cost the alignment more than to leave it unspoken, no mention has it. Between what was
told right before and right after it, words that plainly name a move which nobody can play there tell of it.
"""

from __future__ import annotations

from collections.abc import Container, Iterator

import chess

from aligner.captions.naming import meaning
from aligner.errata.cause import cause
from aligner.errata.claim import LEAST_MENTION, Claim, Hearing
from aligner.errata.playable import can_be_played, passed
from aligner.record.model import Meant, Node
from aligner.search.lines import standing
from aligner.search.matching import LETTERS, compare
from aligner.speech.description import Description, Phrase
from aligner.speech.lexicon import lexicon

SURE_MENTION = 0.9
"""Confidence that the mention of the move before needs."""
REACH = 12
"""Tokens after the move before in which the next one is told."""
LATER = 12
"""Words after which a mention of the move may be one more."""
MOST_MISSING = 3
"""Plies from the move before to the next that is surely told; more, and the record has lost the talk."""
_HYPOTHETICAL_REACH = 8
"""Tokens before a move within which a word shows that it is only thought of."""
_FORMS = ("piece_to", "piece_square", "piece_takes_square", "castle")
"""Wordings that say by themselves which move is told; a square alone may be spoken of for any reason."""
_KINDS = frozenset({"file", "rank", "square", "mirrored", "piece", "origin", "castling"})
_CONFIDENCE = 0.9


def left_out(hearing: Hearing) -> Iterator[Claim]:
    """Moves named wrongly in words of no mention, where the game's next move is told nowhere else."""
    discussion = hearing.discussion
    sure = [mention for mention in discussion.mentions if mention.confidence >= LEAST_MENTION]
    covered = {word for mention in sure for word in range(*mention.words)}
    told = {number: mention.words[0] for mention in reversed(sure) for number in mention.nodes}
    described = {cue.end for cue in hearing.speech.entries if (cue.kind, cue.value) == ("cue", "describe")}
    found: set[int] = set()
    for stretch in hearing.speech.stretches:
        word = hearing.word(stretch.start)
        before = discussion.last(word)
        if before is None or before.confidence < SURE_MENTION or word in covered:
            continue
        head = discussion.nodes[before.nodes[-1]]
        node = next((child for child in discussion.below[head.id] if child.main), None)
        if not head.main or node is None or node.id in found or not _goes_on(hearing, word, node):
            continue
        if told.get(node.id, word + LATER) < word + LATER:
            continue
        if stretch.start - hearing.speech.first_token(before.words[1]) > REACH:
            continue
        for phrase in (spoken.phrase for spoken in stretch.spoken):
            if covered.intersection(range(*hearing.speech.span(phrase))) or not _plain(hearing, phrase, described):
                continue
            for claim in _claim(hearing, phrase, head, node, before.confidence):
                found.add(node.id)
                yield claim
            break


def _plain(hearing: Hearing, phrase: Phrase, described: Container[int]) -> bool:
    """Whether the words name one move as played, and nothing takes it back or shows it to be only thought of.

    Args:
        hearing: the talk.
        phrase: the words.
        described: tokens right before which words describe what stands there.
    """
    if len(phrase.moves) > 1 or phrase.terms or phrase.alone or not phrase.moves[0].form.startswith(_FORMS):
        return False
    article = hearing.speech.tokens[phrase.start].text in lexicon().context.articles
    if (article and phrase.moves[0].from_file is not None) or phrase.start in described:
        return False  # "places a pawn in the centre" is one pawn, not the a-pawn; "attacking pawn f7"
    first, _ = hearing.wordings.sentence(phrase.start, _HYPOTHETICAL_REACH)
    thought = hearing.wordings.any_in("hypothetical", "move", first, phrase.start)
    denied = hearing.wordings.any_in("supposed", "not", max(first, phrase.start - 4), phrase.start)
    return not (thought or denied or hearing.wordings.taken_back(phrase.end))


def _goes_on(hearing: Hearing, word: int, node: Node) -> bool:
    """Whether the next move of the game that is surely told comes soon after the one left out."""
    discussion = hearing.discussion
    for mention in discussion.mentions[discussion.place(word) :]:
        told = discussion.nodes[mention.nodes[0]]
        if told.main and mention.confidence >= SURE_MENTION:
            return node.ply <= told.ply <= node.ply + MOST_MISSING
    return False


def _claim(hearing: Hearing, phrase: Phrase, head: Node, node: Node, sure: float) -> Iterator[Claim]:
    said, board = phrase.moves[0], hearing.discussion.boards[head.id]
    move = chess.Move.from_uci(node.uci or "")
    fit = compare(standing(board), move, said)
    if fit is None or len(fit.slips) != 1 or fit.slips[0] not in _KINDS or _possible(hearing, phrase.start, said):
        return
    meant, words = meaning(board, move), hearing.said(phrase.start, phrase.end)
    message = f'"{words}" is not possible here; the game has {hearing.discussion.numbered(node)}.'
    blame = cause(words, fit.slips[0], move.uci(), chess.piece_name(LETTERS[meant.piece]))
    place = Meant(node.uci, node.san, node.id)
    yield Claim(phrase.start, phrase.end, fit.slips[0], _CONFIDENCE * sure, message, board.fen(), blame, place)


def _possible(hearing: Hearing, token: int, said: Description) -> bool:
    """Whether either side can play what was said, in any position that is spoken of here."""
    for board in hearing.discussion.positions(hearing.discussion.near(hearing.word(token))):
        if any(each is not None and can_be_played(each, said) for each in (board, passed(board))):
            return True
    return False

"""Slips that were taken for no move, as the right one follows: "king to g2, what am I saying, king to f2"."""

from __future__ import annotations

from collections.abc import Iterator

import chess

from aligner.captions.naming import meaning
from aligner.errata.cause import cause
from aligner.errata.claim import Claim, Hearing
from aligner.errata.corrections import PUT_RIGHT_REACH
from aligner.errata.playable import can_be_played
from aligner.record.model import Meant, Mention
from aligner.search.lines import standing
from aligner.search.matching import LETTERS, compare
from aligner.speech.atoms import Atoms
from aligner.speech.description import Phrase
from aligner.speech.lexicon import lexicon
from aligner.speech.neighbours import PAUSE, parted

SURE_MENTION = 0.8
"""Confidence that the mention which puts a slip right needs."""
AGAIN_WITHIN = 4
"""Tokens after words that take back in which the right square is named again."""
_FORMS = ("piece_to", "piece_square", "piece_takes_square", "square", "go_square", "castle")
"""Wordings that say by themselves which move is told."""
_BARE, _ONE_STEP = ("square", "go_square"), ("file", "rank")
_KINDS = frozenset({"file", "rank", "square", "mirrored", "piece", "castling"})
_CONFIDENCE = 0.9


def put_right(hearing: Hearing) -> Iterator[Claim]:
    """Moves named wrongly that nothing else explains, taken back with some ado before the right one is named."""
    discussion, atoms = hearing.discussion, hearing.speech.atoms()
    covered = {word for mention in discussion.mentions for word in range(*mention.words)}
    for stretch in hearing.speech.stretches:
        mention = discussion.next(hearing.word(stretch.start))
        if mention is None or mention.kind == "slip" or mention.confidence < SURE_MENTION or len(mention.nodes) > 1:
            continue
        if covered.intersection(range(hearing.word(stretch.start), hearing.word(stretch.spoken[0].phrase.end - 1) + 1)):
            continue
        start = hearing.speech.first_token(mention.words[0])
        for phrase in (spoken.phrase for spoken in stretch.spoken):
            plain = len(phrase.moves) == 1 and not phrase.terms and not phrase.alone
            if not plain or not phrase.moves[0].form.startswith(_FORMS) or start - phrase.end > PUT_RIGHT_REACH:
                continue
            if _taken_back(hearing, atoms, phrase, start, mention):
                yield from _claim(hearing, phrase, mention)
                break


def _taken_back(hearing: Hearing, atoms: Atoms, phrase: Phrase, start: int, mention: Mention) -> bool:
    """Whether words between the slip and the right move take it back, and others besides tell why."""
    tokens = hearing.speech.tokens
    paused = any(tokens[at].gap >= PAUSE for at in range(phrase.end, start + 1))
    more = paused or tokens[phrase.end - 1].stop or _named_again(atoms, phrase, start)
    at, strong, weak = phrase.end, False, False
    while at < start:
        back = hearing.wordings.at(at, "taken_back")
        if back is None or back.value == "weak":
            more = more or not any(atoms.at(at, kind) for kind in ("piece", "square", "link"))
            at += 1
            continue
        strong, weak = strong or back.value == "back", weak or back.value == "no"
        at = back.end
    strong = strong or (start > phrase.end and _taken_back_then(hearing, atoms, mention))
    return more and (strong or (weak and not _possible(hearing, phrase, mention)))


def _named_again(atoms: Atoms, phrase: Phrase, start: int) -> bool:
    """Whether the wrong square is said once more before the right move: "queen c8. Queen c8? No, queen b8"."""
    return any(
        not atom.terms and atom.value == chess.square_name(phrase.moves[0].target or 0)
        for at in range(phrase.end, start)
        for atom in atoms.at(at, "square")
    )


def _taken_back_then(hearing: Hearing, atoms: Atoms, mention: Mention) -> bool:
    """Whether the slip is taken back only behind the right move, which is then named again: "king g1, I mean g1"."""
    back = hearing.wordings.at(hearing.speech.first_token(mention.words[1]), "taken_back")
    target = (hearing.discussion.nodes[mention.nodes[0]].uci or "")[2:4]
    if back is None or back.value != "back":
        return False
    return any(
        atom.value == target for at in range(back.end, back.end + AGAIN_WITHIN) for atom in atoms.at(at, "square")
    )


def _possible(hearing: Hearing, phrase: Phrase, mention: Mention) -> bool:
    """Whether the words name a legal move: then "no" may refuse it, and nothing was misnamed."""
    node = hearing.discussion.nodes[mention.nodes[0]]
    board = hearing.discussion.boards[node.parent if node.parent is not None else node.id]
    return can_be_played(board, phrase.moves[0])


def _claim(hearing: Hearing, phrase: Phrase, mention: Mention) -> Iterator[Claim]:
    node = hearing.discussion.nodes[mention.nodes[0]]
    if node.parent is None or node.uci is None:
        return
    board = hearing.discussion.boards[node.parent]
    fit = compare(standing(board), chess.Move.from_uci(node.uci), phrase.moves[0])
    if fit is None or len(fit.slips) != 1 or fit.slips[0] not in _KINDS:
        return
    said = hearing.said(phrase.start, phrase.end)
    meant = meaning(board, chess.Move.from_uci(node.uci))
    if phrase.moves[0].form in _BARE and (meant.piece != "P" or fit.slips[0] not in _ONE_STEP):
        return  # a square that is spoken of for any reason
    tokens, start = hearing.speech.tokens, phrase.start
    placed = not parted(tokens, start) and tokens[start - 1].text in lexicon().context.prepositions
    if phrase.moves[0].form in _BARE and placed:
        return  # "on a7 it has no future"
    number = f"{board.fullmove_number}{'.' if board.turn else '...'}{meant.san}"
    message = f'"{said}" is put right by the speaker: {number} is meant.'
    kind = fit.slips[0]
    blame = cause(said, kind, node.uci, chess.piece_name(LETTERS[meant.piece]))
    sure = _CONFIDENCE * mention.confidence
    yield Claim(phrase.start, phrase.end, kind, sure, message, board.fen(), blame, Meant(node.uci, node.san, node.id))

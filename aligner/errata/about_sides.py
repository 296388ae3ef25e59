"""False statements about who moves: "Black plays c3" of a move of White's."""

from __future__ import annotations

from collections.abc import Iterator

import chess

from aligner.errata.about_moves import SURE_MENTION
from aligner.errata.cause import named_in
from aligner.errata.claim import Claim, Hearing, sure_of
from aligner.errata.discussion import FIRM
from aligner.errata.playable import passed
from aligner.record.model import Meant, Mention
from aligner.speech.atoms import Atoms
from aligner.speech.lexicon import lexicon
from aligner.speech.neighbours import parted

_BETWEEN = 2
"""Tokens between the side and the words of the move, "Black now calmly plays"."""
_BETWEEN_PLAYER = 3
"""The same for "I" and "he", "he just quickly plays"."""
_OFTEN, _MOSTLY = 4, 0.9
"""Moves, and the share of them on one side besides the move at hand, from which "I" or "he" stands for that side."""
_HYPOTHETICAL_REACH = 8
"""Tokens before "I play" within which a word shows that the move is only thought of."""
_CONFIDENCE = 0.9
_ONE_MOVE = frozenset({"go_square", "push_square"})
"""Wordings of a verb and a square."""


def movers(hearing: Hearing) -> Iterator[Claim]:
    """A side named as the one that moves, where the move is the other's and the side named has no such move.

    Or where the moves told before and after hold it in its place, so that no such move was told.
    """
    tokens, discussion = hearing.speech.tokens, hearing.discussion
    prepositions, others, atoms = lexicon().context.prepositions, lexicon().context.movers, hearing.speech.atoms()
    mentions = {mention.words[0]: mention for mention in discussion.mentions if _plain(mention)}
    begun = {
        stretch.start
        for stretch in hearing.speech.stretches
        # a verb and a square are one move: the mention may have the square alone of "plays d4"
        if not any(spoken.phrase.moves[0].form in _ONE_MOVE for spoken in stretch.spoken)
    }
    for entry in hearing.speech.entries:
        if entry.kind != "side" or tokens[entry.end - 1].text.endswith("'s") or hearing.wordings.supposed(entry.start):
            continue
        if entry.start and tokens[entry.start - 1].text in prepositions:
            continue  # captions without full stops: "that is fine for Black, knight takes d7"
        if entry.end < len(tokens) and (atoms.at(entry.end, "piece") or tokens[entry.end].text in others):
            continue  # "two black knights", "she has black. I play e4"
        begins = entry.start == 0 or tokens[entry.start - 1].stop
        if not begins and hearing.wordings.before(entry.start, "plays_as"):
            continue  # "she is black. e4"
        for token in range(entry.end, min(entry.end + _BETWEEN + 1, len(tokens))):
            if tokens[token - 1].stop or tokens[token - 1].comma or hearing.wordings.at(token, "goes_on"):
                break
            mention = mentions.get(hearing.word(token))
            if mention is None or hearing.word(token - 1) == hearing.word(token):
                if token in begun:
                    break  # another move, which the side may well have made: "Black castles, bishop e3"
                continue
            node = discussion.nodes[mention.nodes[0]]
            before = discussion.boards[node.parent or 0]
            move = chess.Move.from_uci(node.uci or "")
            named = entry.value == "white"
            held = node.main and mention.confidence >= FIRM and discussion.firm(node)
            if named != before.turn and (held or not _could(before, move, named)):
                past = token
                while past < len(tokens) and hearing.word(past) < mention.words[1]:
                    past += 1
                message = (
                    f"{node.san} is {'White' if before.turn else 'Black'}'s move, not {entry.value.capitalize()}'s."
                )
                meant = Meant(node.uci, node.san, node.id)
                sure = _CONFIDENCE * mention.confidence
                yield Claim(entry.start, past, "side", sure, message, before.fen(), meant=meant)
            break


def players(hearing: Hearing) -> Iterator[Claim]:
    """ "I play knight f6" of the other's move, in a talk that says "I" of one side and "he" of the other.

    Only moves of the game: in a sideline one speaks for either side.
    """
    tokens, discussion, atoms = hearing.speech.tokens, hearing.discussion, hearing.speech.atoms()
    played = {cue.start for cue in hearing.speech.entries if cue.kind == "cue" and cue.value == "played"}
    plain = (mention for mention in discussion.mentions if mention.kind == "move" and len(mention.nodes) == 1)
    told = [(m, *row) for m in plain if sure_of(m) >= SURE_MENTION and (row := _who(hearing, m))]
    sides: dict[str, list[int]] = {}
    for mention, _, who in told:
        node = discussion.nodes[mention.nodes[0]]
        if node.main and node.parent is not None:
            sides.setdefault(who, [0, 0])[discussion.boards[node.parent].turn] += 1
    for mention, token, who in told:
        black, white = sides.get(who, (0, 0))
        if max(black, white) < _OFTEN or max(black, white) < _MOSTLY * (black + white - 1):
            continue
        node = discussion.nodes[mention.nodes[0]]
        before, named = discussion.boards[node.parent or 0], white > black
        verb = token + 1 in played or _verb(hearing, atoms, mention, token + 1)
        start = hearing.speech.first_token(mention.words[0])
        if any(atoms.at(between, "square") for between in range(token + 1, start)):
            continue  # "I hit e5, bishop back to a7"
        if not node.main or not verb or named == before.turn or _hypothetical(hearing, mention, token):
            continue
        if _told_behind(hearing, mention, token) or any(atom.value == "trade" for atom in atoms.at(token + 1, "take")):
            continue  # of an exchange either side may be told as the one who wants it
        if _could(before, chess.Move.from_uci(node.uci or ""), named):
            continue
        past = max(hearing.speech.first_token(mention.words[1]), token + 1)
        side, other = ("White", "Black") if before.turn else ("Black", "White")
        message = f'{node.san} is {side}\'s move, and "{tokens[token].text}" is {other} in this talk.'
        meant = Meant(node.uci, node.san, node.id)
        yield Claim(token, past, "side", _CONFIDENCE * sure_of(mention), message, before.fen(), meant=meant)


def _verb(hearing: Hearing, atoms: Atoms, mention: Mention, token: int) -> bool:
    """Whether the mention begins at a token, with a verb, and says where it goes: "I push e5", but not "I took"."""
    begins = hearing.speech.first_token(mention.words[0]) == token < len(hearing.speech.tokens)
    begins = begins and bool(named_in(mention.text).square)
    return begins and not any(atoms.at(token, kind) for kind in ("piece", "square", "file", "link", "side"))


def _told_behind(hearing: Hearing, mention: Mention, token: int) -> bool:
    """Whether who moves is said of the move before, or of none: "f4 he played, g6", "up she goes, rook c8"."""
    tokens, before = hearing.speech.tokens, hearing.discussion.before(mention)
    if parted(tokens, token):
        return False
    where, goes = hearing.wordings.before(token, "on_the_way"), hearing.wordings.at(token + 1, "on_the_way")
    if where is not None and where.value == "adverb" and goes is not None and goes.value == "verb":
        return True
    if before is None or before.words[1] != tokens[token].word:
        return False
    start = hearing.speech.first_token(mention.words[0])
    if _who(hearing, before) is not None or tokens[token].gap > tokens[start].gap:
        return False  # "he plays e5, I play f4"
    return hearing.discussion.nodes[mention.nodes[0]].parent == before.nodes[-1]


def _hypothetical(hearing: Hearing, mention: Mention, token: int) -> bool:
    """Whether a word since the move before, in the same sentence, shows that the move is only thought of."""
    first, _ = hearing.wordings.sentence(token, _HYPOTHETICAL_REACH)
    before = hearing.discussion.before(mention)
    told = hearing.speech.first_token(before.words[1]) if before is not None else 0
    return hearing.wordings.any_in("hypothetical", "move", max(first, told), token + 2)


def _who(hearing: Hearing, mention: Mention) -> tuple[int, str] | None:
    """The token right before a mention's move, or in its words, that says who moves: "I play", "he takes"."""
    tokens, movers = hearing.speech.tokens, lexicon().context.movers
    start = hearing.speech.first_token(mention.words[0])
    before = hearing.discussion.before(mention)
    told = before.words[1] if before is not None else 0
    for token in range(start, max(start - _BETWEEN_PLAYER, 0) - 1, -1):
        if tokens[token].word < told or (token < start and parted(tokens, token + 1)):
            break
        text = tokens[token].text
        if text in movers:
            return (token, text) if movers[text] == text and text not in ("white", "black") else None
    return None


def _plain(mention: Mention) -> bool:
    return mention.kind == "move" and len(mention.nodes) == 1 and mention.confidence >= SURE_MENTION


def _could(before: chess.Board, move: chess.Move, side: bool) -> bool:
    """Whether a side could play such a move, right before it or right after it."""
    piece = before.piece_type_at(move.from_square)
    after = before.copy(stack=False)
    after.push(move)
    waiting = passed(before)
    boards = [after] if waiting is None else [after, waiting]
    takes = before.is_capture(move)  # a capture is told as one
    return any(
        board.turn == side and board.piece_type_at(other.from_square) == piece and board.is_capture(other) == takes
        for board in boards
        for other in board.generate_legal_moves(chess.BB_ALL, chess.BB_SQUARES[move.to_square])
    )

"""False statements about numbers: which move of the game it is, and how many it had."""

from __future__ import annotations

from collections.abc import Iterator

import chess

from aligner.errata.claim import Claim, Hearing
from aligner.record.model import Mention, Node
from aligner.record.tree import main_line
from aligner.speech.neighbours import PAUSE
from aligner.speech.numbers import spoken_number
from aligner.speech.sounds import how_alike

SUPPOSED_NEAR = 5
"""Tokens before a number within which a word shows that it is not said of the move at hand."""
SUPPOSED_BESIDE = 2
"""The same before words that say it is the move at hand: what stands farther off belongs to another part."""
SURE_MENTION = 0.8
"""Confidence a mention needs before a number beside it is held against its move."""
FARTHEST = 9
"""A number farther from all that are right is about something else: a clock, another game."""
BESIDE = 2
"""Words between a move and its number, as in "queen takes b3 there, on move twenty"."""
LEAST_ORDINAL = 8
"""Smaller ordinals count other moves too: "his fifth move with the queen"."""
ANNOUNCED_WITHIN = 8
"""Words between "it is the twelfth move" and a move that may be the one meant."""
NEAR_NUMBERS = 4
"""A length farther from the game's is about something else; common practice: one miscounts by a few moves."""
FAR_NUMBERS = 8
"""The same where the game's last move has been spoken of, so that the number is hardly about anything else."""
LAST_SHARE = 0.85
"""Share of the talk after which a number of moves is the game's, though nothing else says so."""
SHORTEST_GAME = 10
"""Moves; smaller numbers of moves are spoken of in other ways."""
FINISHED_REACH = 14
"""Tokens around a length within which it is told that the game is over."""
_CONFIDENCE, _BY_ONE = 0.9, 0.8
"""By one a number may also be wrong because it is said of the move before, unless that one's is right as well."""


def numbers(hearing: Hearing) -> Iterator[Claim]:
    """ "That was move fifteen" at move 14, and "queen takes b3 on move twenty" of the 19th."""
    told_until = 0
    for start, end, said in sorted({*_cardinals(hearing), *_ordinals(hearing)}):
        if start < told_until or _elsewhere(hearing, start, end) or hearing.wordings.taken_back(end):
            continue
        told_until = end
        first, anchor = _beside(hearing, start)
        if anchor is not None:
            right, sure = _numbers_of(hearing, anchor), anchor.confidence
            node = hearing.discussion.nodes[anchor.nodes[-1]]
        elif _stated(hearing, start, end):
            right, sure = _numbers_stated(hearing, start, end), 1.0
            node = hearing.discussion.cursor(hearing.word(start))
        else:
            continue
        apart = min((abs(said - number) for number in right), default=0)
        if not 0 < apart <= FARTHEST:
            continue
        sure *= _BY_ONE if apart == 1 and len(right) == 1 else _CONFIDENCE
        board = hearing.discussion.boards[node.id]
        here = hearing.discussion.number(node) or board.fullmove_number
        name = hearing.discussion.numbered(node)
        message = f"This is move {here}, not move {said}: {name} was spoken of last."
        yield Claim(first, end, "number", sure, message, board.fen(), _heard(said, here))


def _cardinals(hearing: Hearing) -> Iterator[tuple[int, int, int]]:
    """ "Move fifteen": first token, token after, number."""
    texts = [token.text for token in hearing.speech.tokens]
    for wording in hearing.wordings.of("numbered_move"):
        said = spoken_number(texts[wording.end : wording.end + 3])
        if said:
            yield wording.start, wording.end + _length(hearing, wording.end), said


def _ordinals(hearing: Hearing) -> Iterator[tuple[int, int, int]]:
    """ "The fifteenth move"."""
    for wording in hearing.wordings.of("ordinal"):
        start, said = wording.start, int(wording.value)
        tens = spoken_number([hearing.speech.tokens[start - 1].text]) if start and said < 10 else 0
        if tens >= 20 and tens % 10 == 0:
            start, said = start - 1, said + tens
        move = hearing.wordings.at(wording.end, "numbered_move")
        if move is not None and said >= LEAST_ORDINAL:
            yield start, move.end, said


def _elsewhere(hearing: Hearing, start: int, end: int) -> bool:
    """Whether the number is of a move far from here, supposed or no number of one move at all."""
    words = hearing.wordings
    here = words.before(start, "now_at_move")
    at, near = (here.start, SUPPOSED_BESIDE) if here is not None else (start, SUPPOSED_NEAR)
    first, _ = words.sentence(at, near)
    if words.any_in("supposed", "if", first, start) or words.any_in("supposed", "not", first, start):
        return True
    far = words.before(start, "far_from_here") is not None and here is None
    return far or words.at(end, "roughly") is not None


def _beside(hearing: Hearing, start: int) -> tuple[int, Mention | None]:
    """The mention that a number belongs to, and where that begins: "queen takes b3 on move twenty"."""
    at = hearing.wordings.before(start, "as_of_move")
    first = at.start if at is not None else start
    if at is None or first == 0 or hearing.speech.tokens[first - 1].stop:
        return start, None
    mention = hearing.discussion.last(hearing.word(first - 1))
    if mention is None or mention.kind == "slip" or mention.confidence < SURE_MENTION:
        return start, None
    return first, mention if hearing.word(first) - mention.words[1] <= BESIDE else None


def _numbers_of(hearing: Hearing, mention: Mention) -> set[int]:
    """The numbers of a mention's moves, and of all moves like them in the game."""
    discussion = hearing.discussion
    alike = {_kind_of(hearing, discussion.nodes[number]) for number in mention.nodes}
    return {
        discussion.number(node)
        for node in discussion.game.nodes
        if node.parent is not None and (node.id in mention.nodes or _kind_of(hearing, node) in alike)
    }


def _kind_of(hearing: Hearing, node: Node) -> tuple[int | None, int]:
    """The piece that moves and the square it goes to."""
    move = chess.Move.from_uci(node.uci or "0000")
    board = hearing.discussion.boards[node.parent if node.parent is not None else node.id]
    return board.piece_type_at(move.from_square), move.to_square


def _stated(hearing: Hearing, start: int, end: int) -> bool:
    """Whether the number is said of the position at hand, by the words around it or as a sentence of its own."""
    words, tokens = hearing.wordings, hearing.speech.tokens
    plain = words.any_in("numbered_move", "number", start, end)
    if plain or words.before(start, "now_at_move") is not None or words.at(end, "by_now") is not None:
        return True
    at = words.before(start, "as_of_move")
    start = at.start if at is not None else start
    first = words.before(start, "opening")
    start = first.start if first is not None else start  # "And at move thirty eight, ..."
    alone = start == 0 or tokens[start - 1].stop or tokens[start - 1].comma or tokens[start].gap >= PAUSE
    ends = end >= len(tokens) or tokens[end - 1].stop or tokens[end - 1].comma or tokens[end].gap >= PAUSE
    return alone and ends


def _numbers_stated(hearing: Hearing, start: int, end: int) -> set[int]:
    """The numbers that may be meant: of the side that is said to move, of the move just told, or of any nearby."""
    discussion, word = hearing.discussion, hearing.word(start)
    last, following = discussion.last(word), discussion.next(word)
    turn = hearing.wordings.at(end, "turn")
    if turn is not None:
        here = [discussion.cursor(word).id, discussion.head(word).id]
        here += [discussion.nodes[n].parent or 0 for n in (following.nodes if following is not None else ())]
        boards = [discussion.boards[number] for number in here]
        right = {board.fullmove_number for board in boards if board.turn == (turn.value == "white")}
        return right or _numbers_near(hearing, word)
    soon = following is not None and following.words[0] - hearing.word(end - 1) <= ANNOUNCED_WITHIN
    if last is None or soon or hearing.wordings.before(start, "now_at_move") is None or _cardinal(hearing, start):
        return _numbers_near(hearing, word)
    node = discussion.nodes[last.nodes[-1]]
    return {discussion.number(node), discussion.boards[node.id].fullmove_number}


def _cardinal(hearing: Hearing, start: int) -> bool:
    return hearing.wordings.at(start, "numbered_move") is not None


def _numbers_near(hearing: Hearing, word: int) -> set[int]:
    """The numbers of the moves under discussion, those played and those to be played."""
    discussion = hearing.discussion
    place = discussion.place(word)
    around = discussion.mentions[max(place - 1, 0) : place + 1]
    near = [discussion.nodes[n] for mention in around for n in mention.nodes] + [discussion.head(word)]
    played = {discussion.number(node) for node in near}
    return played | {discussion.boards[node.id].fullmove_number for node in near}


def lengths(hearing: Hearing) -> Iterator[Claim]:
    """ "Forty two moves" of a game that had 44."""
    discussion, tokens = hearing.discussion, hearing.speech.tokens
    line = main_line(discussion.game)
    if not line:
        return
    first = discussion.boards[discussion.game.nodes[0].id].fullmove_number
    plies = len(line)
    whole = discussion.number(line[-1]) - first + 1
    ends = [m.words[0] for m in discussion.mentions if set(m.nodes) & {node.id for node in line[-2:]}]
    for wording in hearing.wordings.of("length"):
        start = wording.start - 1
        while start > 0 and wording.start - start < 2 and spoken_number([tokens[start - 1].text]) >= 20:
            start -= 1
        said = spoken_number([token.text for token in tokens[max(start, 0) : wording.start]]) if start >= 0 else 0
        if said < SHORTEST_GAME or not spoken_number([tokens[wording.start - 1].text]):
            continue
        word = hearing.word(start)
        true = {whole, plies // 2, plies, discussion.number(line[-1])}
        over = bool(ends) and word > ends[0]
        if not over:
            at = _numbers_near(hearing, word)
            true |= at | {number - 1 for number in at}
        far = abs(said - whole) > (FAR_NUMBERS if over else NEAR_NUMBERS)
        if said in true or far or hearing.wordings.taken_back(wording.end):
            continue
        low, high = hearing.wordings.sentence(start, FINISHED_REACH)
        told = hearing.wordings.any_in("finished", "over", max(low - FINISHED_REACH, 0), high)
        if hearing.wordings.supposed(start) or not (told or (over and word > LAST_SHARE * len(hearing.speech.words))):
            continue
        fen = discussion.boards[line[-1].id].fen()
        message = f"The game has {whole} moves, not {said}: the last is {discussion.numbered(line[-1])}."
        yield Claim(start, wording.end, "number", _CONFIDENCE, message, fen, _heard(said, whole))


def _length(hearing: Hearing, start: int) -> int:
    """Tokens that the number at `start` takes."""
    tokens = [token.text for token in hearing.speech.tokens[start : start + 2]]
    return 2 if len(tokens) == 2 and spoken_number(tokens) != spoken_number(tokens[:1]) else 1


def _heard(said: int, true: int) -> str:
    """Whether a number may have been misheard: "thirteen" and "thirty", "fifteen" and "fifty" sound alike."""
    teens = {said, true}
    if any({n, 10 * (n - 10)} == teens for n in range(13, 20)):
        return "unsure"
    return "unsure" if said // 10 == true // 10 and how_alike(str(said % 10), str(true % 10)) < 1.0 else "speaker"

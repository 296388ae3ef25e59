"""False statements about the position: what stands where, material, whose move, castling, legal moves, mate in N."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator

import chess

from aligner.engine import Engine
from aligner.errata.claim import Claim, Hearing
from aligner.errata.mates import DEEPEST_BY_TRIAL, ENGINE_SECONDS, mates_within
from aligner.search.matching import LETTERS
from aligner.search.material import holds
from aligner.speech.listen import Stretch
from aligner.speech.numbers import spoken_number
from aligner.speech.sounds import confusion
from aligner.speech.symbols import square

SOUNDS_ALIKE = 0.75
"""Phoneme distance below which a square may have been misheard."""
SPOKEN_BEFORE = 60
"""Tokens within which a piece that is said to go to a square may be said to stand there, whatever the record has."""
LONGEST_MATE = 9
_MATERIAL = {
    "ahead": (0.8, "Nobody is ahead by that much in this position."),
    "level": (0.75, "The material is not level."),
}
"""How surely a statement of the kind is false that no position bears out, and the sentence that says so."""
MOST_POSITIONS = 6
"""Positions tried for mate; more cost more than they tell."""


def colours(hearing: Hearing) -> Iterator[Claim]:
    """ "The dark squared bishop on b3": b3 is a light square in every position there is."""
    tokens = hearing.speech.tokens
    for wording in hearing.wordings.of("shade"):
        at = wording.end
        if at + 2 >= len(tokens) or tokens[at].text not in ("bishop", "bishops"):
            continue
        stands = hearing.wordings.at(at + 1, "stands")
        if stands is None or stands.end >= len(tokens):
            continue
        spot, end = _square_at(hearing, stands.end)
        if spot is None or hearing.wordings.taken_back(end):
            continue
        light = bool(chess.BB_SQUARES[spot] & chess.BB_LIGHT_SQUARES)
        if light == (wording.value == "light"):
            continue
        name = chess.square_name(spot)
        shade = "light" if light else "dark"
        message = f"{name} is a {shade} square, so a bishop there is {shade}-squared."
        yield Claim(wording.start, end, "colour", 0.95, message, _fen(hearing, wording.start))


def _square_at(hearing: Hearing, at: int) -> tuple[int | None, int]:
    """A plain square at a token, in one token or two, and where it ends."""
    tokens = hearing.speech.tokens
    text = tokens[at].text
    if len(text) == 2 and text[0] in "abcdefgh" and text[1] in "12345678":
        return square(text), at + 1
    if text in ("a", "b", "c", "d", "e", "f", "g", "h") and at + 1 < len(tokens):
        rank = spoken_number([tokens[at + 1].text])
        if 1 <= rank <= 8:
            return square(f"{text}{rank}"), at + 2
    return None, at


def standing(hearing: Hearing) -> Iterator[Claim]:
    """ "The knight on f6" where none stands in any position under discussion, though it nearly does."""
    speech, discussion = hearing.speech, hearing.discussion
    for stretch in speech.stretches:
        for spoken in stretch.spoken:
            phrase = spoken.phrase
            if phrase.stands is None or phrase.terms or spoken.inside:
                continue
            if not (hearing.wordings.at(phrase.start, "definite") or hearing.wordings.before(phrase.start, "definite")):
                continue
            piece, spot, side = phrase.stands
            first, last = speech.span(phrase)
            taken = any(m.words[0] < last and first < m.words[1] for m in discussion.game.mentions)
            if taken or hearing.wordings.supposed(phrase.start) or hearing.wordings.taken_back(phrase.end):
                continue
            if _goes_there(hearing, phrase.start, phrase.end, piece, spot):
                continue
            boards = discussion.positions(discussion.wide(first, last))
            if any(_stands(board, piece, spot, side) for board in boards):
                continue
            claim = _nearly(hearing, phrase.start, phrase.end, piece, spot, side)
            if claim is not None:
                yield claim
            break


def _stands(board: chess.Board, piece: str, spot: int, side: bool | None) -> bool:
    there = board.piece_at(spot)
    return there is not None and there.piece_type == LETTERS[piece] and side in (None, there.color)


def _goes_there(hearing: Hearing, start: int, end: int, piece: str, spot: int) -> bool:
    """Whether the talk lets such a piece go to that square nearby, in a plan that the record has no line for."""
    stretches = hearing.speech.stretches
    for place in range(bisect_left(stretches, start - SPOKEN_BEFORE, key=_start), len(stretches)):
        stretch = stretches[place]
        if stretch.start > start + SPOKEN_BEFORE:
            break
        for spoken in stretch.spoken:
            phrase = spoken.phrase
            if phrase.stands is not None or spoken.inside or (phrase.start < end and start < phrase.end):
                continue  # "knight on f4" itself may be heard as a move
            if any(move.target == spot and move.piece in (piece, "") for move in phrase.moves):
                return True
    return False


def _start(stretch: Stretch) -> int:
    return stretch.start


def _nearly(hearing: Hearing, start: int, end: int, piece: str, spot: int, side: bool | None) -> Claim | None:
    """The claim, where the position reached shows what was meant: such a piece a step away, or another one there."""
    discussion = hearing.discussion
    word = hearing.word(start)
    board = discussion.boards[discussion.cursor(word).id]
    name = chess.square_name(spot)
    nouns = {letter: chess.piece_name(kind) for letter, kind in LETTERS.items()}
    close: list[int] = []
    for kind_side in (True, False) if side is None else (side,):
        close += [at for at in board.pieces(LETTERS[piece], kind_side) if _a_step(at, spot)]
    if len(close) == 1:
        true = chess.square_name(close[0])
        sound = min(confusion("file", name[0], true[0]) + confusion("rank", name[1], true[1]), 9.0)
        cause = "unsure" if sound < SOUNDS_ALIKE else "speaker"
        message = f"No {nouns[piece]} stands on {name}; the {nouns[piece]} is on {true}."
        return Claim(start, end, "position", 0.75, message, board.fen(), cause)
    there = board.piece_at(spot)
    if there is not None and not close and side in (None, there.color):
        message = f"No {nouns[piece]} stands on {name}; a {chess.piece_name(there.piece_type)} does."
        return Claim(start, end, "piece", 0.7, message, board.fen())
    return None


def _a_step(one: int, other: int) -> bool:
    """Whether two squares are one file or one rank apart."""
    files = abs(chess.square_file(one) - chess.square_file(other))
    ranks = abs(chess.square_rank(one) - chess.square_rank(other))
    return files + ranks == 1


def material(hearing: Hearing) -> Iterator[Claim]:
    """ "Two pawns up" where nobody is."""
    for stated in hearing.speech.statements:
        if stated.kind not in _MATERIAL or (stated.kind == "ahead" and hearing.wordings.taken_back(stated.end)):
            continue
        word = hearing.word(stated.start)
        boards = hearing.discussion.positions(hearing.discussion.wide(word, word))
        if not any(holds(board, stated) for board in boards):
            sure, message = _MATERIAL[stated.kind]
            yield Claim(stated.start, stated.end, "material", sure, message, _fen(hearing, stated.start))


def turns(hearing: Hearing) -> Iterator[Claim]:
    """ "White to move" where the talk goes on with Black's move."""
    discussion = hearing.discussion
    for stated in hearing.speech.statements:
        if stated.kind != "turn" or hearing.wordings.taken_back(stated.end):
            continue
        word = hearing.word(stated.start)
        following = discussion.next(word)
        cursor = discussion.cursor(word)
        if following is None or discussion.nodes[following.nodes[0]].parent != cursor.id:
            continue
        board = discussion.boards[cursor.id]
        if not holds(board, stated):
            side = "White" if board.turn else "Black"
            yield Claim(stated.start, stated.end, "side", 0.85, f"It is {side}'s move here.", board.fen())


def castling(hearing: Hearing) -> Iterator[Claim]:
    """ "He can still castle" where neither side may any more."""

    def allowed(board: chess.Board) -> bool:
        return bool(board.castling_rights)

    for wording in hearing.wordings.of("may_castle"):
        if not hearing.wordings.supposed(wording.start):
            yield from _none(
                hearing,
                wording.start,
                wording.end,
                allowed,
                "castling",
                0.85,
                "Neither side may castle any more: king or rooks have moved.",
            )


def only_moves(hearing: Hearing) -> Iterator[Claim]:
    """ "The only legal move" where there are others; "the only move" mostly means the only good one: barely counted."""

    def forced(board: chess.Board) -> bool:
        return board.legal_moves.count() <= 1

    for wording in hearing.wordings.of("only_move"):
        sure = 0.85 if wording.value == "legal" else 0.2
        if not hearing.wordings.supposed(wording.start):
            word = hearing.word(wording.start)
            nodes = hearing.discussion.near(word)
            boards = hearing.discussion.positions(nodes)
            if not any(forced(board) for board in boards):
                fen = _fen(hearing, wording.start)
                yield Claim(wording.start, wording.end, "only", sure, "Other moves are legal here.", fen)


def _none(
    hearing: Hearing, start: int, end: int, true: Callable[[chess.Board], bool], kind: str, sure: float, message: str
) -> Iterator[Claim]:
    """A claim if it is false in every position that the words could be about."""
    word = hearing.word(start)
    if hearing.wordings.taken_back(end):
        return
    if not any(true(board) for board in hearing.discussion.positions(hearing.discussion.wide(word, word))):
        yield Claim(start, end, kind, sure, message, _fen(hearing, start))


def mates_in(hearing: Hearing, engine: Engine | None = None) -> Iterator[Claim]:
    """ "Mate in two" where there is none; longer ones need an engine."""
    discussion = hearing.discussion
    for wording in hearing.wordings.of("mate_in"):
        moves = spoken_number([token.text for token in hearing.speech.tokens[wording.end : wording.end + 1]])
        if not 1 <= moves <= LONGEST_MATE or (moves > DEEPEST_BY_TRIAL and engine is None):
            continue
        if hearing.wordings.supposed(wording.start) or hearing.wordings.taken_back(wording.end + 1):
            continue
        boards = discussion.positions(discussion.near(hearing.word(wording.start)))[-MOST_POSITIONS:]
        if any(_mates(board, moves, engine) is not False for board in boards):
            continue
        fen = _fen(hearing, wording.start)
        yield Claim(wording.start, wording.end + 1, "mate", 0.85, f"There is no mate in {moves} here.", fen)


def _mates(board: chess.Board, moves: int, engine: Engine | None) -> bool | None:
    """Whether either side would mate in so many moves; None where that cannot be told."""
    passed = board.copy(stack=False)
    passed.turn = not passed.turn
    sides = [board] if board.is_check() or not passed.is_valid() else [board, passed]
    if moves <= DEEPEST_BY_TRIAL:
        return any(mates_within(side, moves) for side in sides)
    assert engine is not None
    found = [engine.mates_within(side, moves, ENGINE_SECONDS) for side in sides]
    return True if True in found else None if None in found else False


def _fen(hearing: Hearing, token: int) -> str:
    return hearing.discussion.boards[hearing.discussion.cursor(hearing.word(token)).id].fen()

"""A decision from a time and a few words, for scripts: which words are meant, and which move."""

from __future__ import annotations

from aligner.captions.timecode import clock
from aligner.desk.naming import name_of
from aligner.desk.talk import Talk
from aligner.desk.view import Row
from aligner.errors import InputError
from aligner.pins.pin import BACK, INFERRED, MOVE, NO_MOVE, RIGHT, WRONG, Anchor, Pin, anchor, plain
from aligner.pins.sidecar import split_line
from aligner.pins.typed import parse, san_line

_NEAR = 3_000
"""Milliseconds from the given time in which words are looked for."""
_SPELLED = {"none": NO_MOVE, "no move": NO_MOVE, "back": BACK, "right": RIGHT, "wrong": WRONG}


def settle_at(
    talk: Talk, time: int, words: str, decision: str, in_game: bool | None, line: str, unspoken: bool = False
) -> str:
    """Decide about the words spoken at a time; returns a sentence that tells what was settled.

    Args:
        talk: aligned.
        time: milliseconds.
        words: the words meant; empty for those nearest to the time.
        decision: a move in SAN, or "none", "back", "right", "wrong"; may be empty where `line` says it all.
        in_game: whether the move is one of the game; None for the likelier.
        line: all moves from the start position to the meant one; empty to let the talk's place tell.
        unspoken: the move is one that nobody spoke, before these words.

    Raises:
        InputError: nothing is spoken then, the move is legal nowhere near, or there is no finding.
    """
    if unspoken:
        return _settle_unspoken(talk, time, words, decision, line)
    asked = _SPELLED.get(decision.strip().lower(), MOVE)
    rows = talk.aligned.view.findings if asked in (RIGHT, WRONG) else talk.aligned.view.rows
    span = _words_at(talk, rows, time, words)
    found = anchor(talk.alignment.speech.words, *span)
    what = asked
    pin = Pin(found, asked)
    if asked == MOVE:
        pin, what = _move(talk, found, span[0], decision, in_game, line)
    talk.decide(pin)
    return f'settled: {clock(found.at)} "{found.words}" is {what}'


def _settle_unspoken(talk: Talk, time: int, words: str, text: str, line: str) -> str:
    """Decide which move nobody spoke before the words at a time."""
    if not talk.aligned.view.inferred:
        raise InputError("every move of this talk was spoken, or is in its score; leave out --unspoken.")
    span = _words_at(talk, talk.aligned.view.inferred, time, words)
    found = anchor(talk.alignment.speech.words, *span)
    rows = [row for row in talk.aligned.view.inferred if row.words == span]
    if not rows:
        raise InputError(f"no move went unspoken right before these words near {clock(time)}; see `aligner doubts`.")
    rows.sort(key=lambda row: not row.doubtful)
    in_game = rows[0].answers[0].in_game
    if line:
        moves = split_line(line)
        if not moves or talk.node(span[0], moves) is None:
            raise InputError("the moves of --line cannot be played from the start position; check each of them.")
        talk.decide(Pin(found, INFERRED, moves, 1, in_game))
        return f'settled: {moves[-1]} went unspoken before {clock(found.at)} "{found.words}"'
    typed = plain(text).rstrip("+#")
    for answer in [answer for row in rows for answer in row.answers]:
        if plain(answer.line[-1]).rstrip("+#") == typed:
            talk.decide(Pin(found, INFERRED, answer.line, 1, answer.in_game))
            return f'settled: {answer.name} went unspoken before {clock(found.at)} "{found.words}"'
    for row in rows:
        before = talk.node(row.words[0], row.base)
        move = parse(before.board, text) if before is not None else None
        if before is not None and move is not None:
            san = before.board.san(move)
            talk.decide(Pin(found, INFERRED, (*row.base, san), 1, row.answers[0].in_game))
            return f'settled: {san} went unspoken before {clock(found.at)} "{found.words}"'
    raise InputError(f"{text!r:.30} is no legal move there; give the whole line with --line.")


def forget_at(talk: Talk, time: int, words: str) -> str:
    """Take back what was settled about the words at a time; returns a sentence.

    Raises:
        InputError: nothing was settled then.
    """
    near = [pin for pin in talk.pins if abs(pin.anchor.at - time) <= _NEAR]
    near = [pin for pin in near if not words or plain(words) in plain(pin.anchor.words)]
    if not near:
        raise InputError(f"nothing is settled near {clock(time)}; `aligner doubts` lists what may be settled.")
    nearest = min(near, key=lambda pin: abs(pin.anchor.at - time))
    talk.remove(lambda pin: pin.about == nearest.about)
    return f'no longer settled: {clock(nearest.anchor.at)} "{nearest.anchor.words}"'


def _move(talk: Talk, found: Anchor, word: int, text: str, in_game: bool | None, line: str) -> tuple[Pin, str]:
    if line:
        moves = split_line(line)
        node = talk.node(word, moves) if moves else None
        if node is None or not moves:
            raise InputError("the moves of --line cannot be played from the start position; check each of them.")
        own = talk.part(word).moves
        if in_game is None:
            in_game = tuple(move.uci() for move in node.line()) == tuple(own[: node.ply]) if own else False
        return Pin(found, MOVE, moves, 1, in_game), name_of([node])
    for answer in [a for row in talk.aligned.view.rows if row.words[0] == word for a in row.answers]:
        named = answer.decision == MOVE and plain(answer.line[-1]).rstrip("+#") == plain(text).rstrip("+#")
        if named and in_game in (None, answer.in_game):
            return Pin(found, MOVE, answer.line, answer.spoken, answer.in_game, answer.again), answer.name
    places = talk.places(word, text, in_game)
    if not places:
        where = {None: "", True: "in the game ", False: "in a line "}[in_game]
        raise InputError(f"{text!r:.30} is no legal move {where}near that place; give the whole line with --line.")
    place = places[0]
    return Pin(found, MOVE, san_line(place.node), 1, place.in_game), name_of([place.node])


def _words_at(talk: Talk, rows: tuple[Row, ...], time: int, words: str) -> tuple[int, int]:
    """The words meant: those named, near the time; else of what may be decided the nearest; else the very word."""
    spoken = talk.alignment.speech.words
    if words.split():
        said = plain(words).split()
        plains = [plain(word.text) for word in spoken]
        starts = [i for i in range(len(plains) - len(said) + 1) if plains[i : i + len(said)] == said]
        near = [first for first in starts if abs(spoken[first].start - time) <= 10 * _NEAR]
        if near:
            first = min(near, key=lambda i: abs(spoken[i].start - time))
            return first, first + len(said)
        raise InputError(f"{words!r:.60} is not spoken near {clock(time)}; check the time and the words.")
    inside = [row for row in rows if row.start * 1000 - 1 <= time <= row.end * 1000]
    near_rows = inside or [row for row in rows if abs(row.start * 1000 - time) <= _NEAR]
    if near_rows:
        return min(near_rows, key=lambda row: abs(row.start * 1000 - time)).words
    raise InputError(f"nothing to settle is spoken near {clock(time)}; name the words with --words.")

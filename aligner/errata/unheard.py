"""Moves that the captions garbled so far that the alignment took none of the words for one.

Between two mentions stand words that sound like a move. They are put right where the game, or the line under
discussion, has just that move in just that place, or where they name a move that can be played there.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import chess

from aligner.captions.naming import Meaning, meaning
from aligner.errata.spelling import CLOSE, Part, misheard
from aligner.record.model import Game, Mention, Node
from aligner.record.tree import Positions, by_id, children, positions
from aligner.search.matching import LETTERS
from aligner.speech.atoms import LETTERS_ALONE, Atoms
from aligner.speech.description import Phrase
from aligner.speech.listen import Speech
from aligner.speech.tokens import Token

LONGEST_GAP = 60
"""Tokens after a mention, and before the next, in which a move of the game's is looked for."""
MOST_UNSPOKEN = 3
"""Moves left out before a mention that may stand there all the same."""
CLEARER = 0.25
"""Amount of "sound" by which the best move must sound closer than the next best."""
_FORMS = ("piece_to", "piece_square", "piece_on_square", "piece_takes", "file_takes", "takes", "go_square", "square")
"""Beginnings of the wordings that name a move without help."""


@dataclass(frozen=True, slots=True)
class Gap:
    """Tokens between two mentions.

    Attributes:
        start: index of the first token.
        end: index after the last token.
        told: nodes of moves that may have been told there, likeliest first.
        boards: positions that may have been under discussion.
    """

    start: int
    end: int
    told: tuple[Node, ...]
    boards: tuple[chess.Board, ...]


def unheard(speech: Speech, atoms: Atoms, game: Game, sure: Sequence[Mention]) -> Iterator[list[Part]]:
    """What to write in place of garbled moves that no mention speaks of, a list for each.

    Args:
        speech: the talk.
        atoms: of the talk.
        game: as aligned.
        sure: the mentions that can be relied on, in order; the words of others are looked at again.
    """
    boards = positions(game)
    starts = [stretch.start for stretch in speech.stretches]
    known = _known(game, boards)
    for gap in _gaps(speech, game, boards, sure):
        for node in gap.told:
            meant = meaning(boards[node.parent or 0], chess.Move.from_uci(node.uci or ""))
            for start, end in _ends(gap):
                yield misheard(speech.tokens, atoms, start, end, meant, known=False, named=True)
        for stretch in speech.stretches[bisect_left(starts, gap.start) : bisect_left(starts, gap.end)]:
            found = _named(speech.tokens, [spoken.phrase for spoken in stretch.spoken], gap, known)
            if found is not None:
                phrase, meant = found
                parts = misheard(speech.tokens, atoms, phrase.start, phrase.end, meant)
                yield [part for part in parts if part.end <= gap.end]


def _ends(gap: Gap) -> Iterator[tuple[int, int]]:
    """The tokens after one mention, and those before the next, where they are not the same."""
    if gap.end - gap.start <= 2 * LONGEST_GAP:
        yield gap.start, gap.end
    else:
        yield gap.start, gap.start + LONGEST_GAP
        yield gap.end - LONGEST_GAP, gap.end


def _gaps(speech: Speech, game: Game, boards: Positions, sure: Sequence[Mention]) -> Iterator[Gap]:
    words = [token.word for token in speech.tokens]
    nodes, below = by_id(game), children(game)
    head = game.nodes[0]
    at = 0
    before: Mention | None = None
    for after in (*sure, None):
        end = bisect_left(words, after.words[0]) if after is not None else len(words)
        if end > at:
            told = _told(before, after, head, nodes, below)
            yield Gap(at, end, told, tuple(_boards(before, after, head, nodes, boards)))
        if after is None:
            return
        at = max(at, bisect_left(words, after.words[1]))
        for number in after.nodes:
            if nodes[number].main and nodes[number].ply > head.ply:
                head = nodes[number]
        before = after


def _told(
    before: Mention | None, after: Mention | None, head: Node, nodes: Mapping[int, Node],
    below: Mapping[int, Sequence[Node]],
) -> tuple[Node, ...]:  # fmt: skip
    """Moves that may have been told between two mentions: left out, told twice, or next."""
    found: list[Node] = []
    if after is not None:
        node = nodes[after.nodes[0]]
        passed = [node]
        while node.parent is not None and len(passed) <= MOST_UNSPOKEN:
            node = nodes[node.parent]
            if node.times:
                break
            passed.append(node)
        found += reversed(passed)
    last = nodes[before.nodes[-1]] if before is not None else None
    for place in (last, head):
        if place is not None:
            found += [place, *below[place.id][:1]]
    kept: dict[int, Node] = {node.id: node for node in found if node.parent is not None}
    return tuple(kept.values())


def _boards(
    before: Mention | None, after: Mention | None, head: Node, nodes: Mapping[int, Node], boards: Positions
) -> Iterator[chess.Board]:
    seen: set[int] = set()
    last = nodes[before.nodes[-1]] if before is not None else None
    following = nodes[after.nodes[0]] if after is not None else None
    numbers = [head.id, head.parent]
    numbers += [last.id, last.parent] if last is not None else []
    numbers += [following.parent] if following is not None else []
    for number in numbers:
        if number is not None and number not in seen:
            seen.add(number)
            yield boards[number]


def _known(game: Game, boards: Positions) -> Mapping[tuple[str, str], Meaning]:
    """The moves of the tree by piece and square."""
    found: dict[tuple[str, str], Meaning] = {}
    for node in game.nodes:
        if node.parent is not None and node.uci:
            meant = meaning(boards[node.parent], chess.Move.from_uci(node.uci))
            found.setdefault((meant.piece, meant.target), meant)
    return found


def _named(
    tokens: Sequence[Token], phrases: Sequence[Phrase], gap: Gap, known: Mapping[tuple[str, str], Meaning]
) -> tuple[Phrase, Meaning] | None:
    """The longest phrase from one token that sounds like a move in one word, and the move, where it is clear."""
    for end in sorted({phrase.end for phrase in phrases}, reverse=True):
        found: dict[tuple[str, str], tuple[float, Phrase, Meaning]] = {}
        for phrase in (phrase for phrase in phrases if phrase.end == end):
            said = phrase.moves[0]
            if len(phrase.moves) > 1 or not said.form.startswith(_FORMS):
                continue
            sounds = [amount for name, amount in phrase.terms if name == "sound"]
            apart = sum(sounds)
            if not sounds and end <= gap.end:
                return None  # the words name a move as they are
            if len(sounds) != 1 or apart > CLOSE or (end > gap.end and said.target is not None):
                continue
            if said.form == "square" and not (phrase.alone or tokens[phrase.start].text in LETTERS_ALONE):
                continue  # "be five" may be said of anything
            for meant in _meant(phrase, gap.boards, known):
                key = (meant.piece, meant.target) if said.target is not None else ("", "")
                if key not in found or apart < found[key][0]:
                    found[key] = (apart, phrase, meant)
        rows = sorted(found.values(), key=lambda row: row[0])
        if rows and (len(rows) == 1 or rows[1][0] - rows[0][0] >= CLEARER):
            return rows[0][1], rows[0][2]
    return None


def _meant(
    phrase: Phrase, boards: Sequence[chess.Board], known: Mapping[tuple[str, str], Meaning]
) -> Iterator[Meaning]:
    """The legal moves of the positions that the phrase describes, one a position, and the tree's move to its square."""
    said = phrase.moves[0]
    if said.target is not None and said.piece and (said.piece, chess.square_name(said.target)) in known:
        yield known[said.piece, chess.square_name(said.target)]
    for board in boards:
        target = said.target if board.turn else said.target_for_black
        onto = chess.BB_ALL if target is None else chess.BB_SQUARES[target]
        letter = said.piece or ("P" if said.form == "square" else "")
        movers = board.pieces_mask(LETTERS[letter], board.turn) if letter else chess.BB_ALL
        if said.from_file is not None:
            movers &= chess.BB_FILES[said.from_file]
        for move in board.generate_legal_moves(movers, onto):
            if not said.capture or board.is_capture(move):
                yield meaning(board, move)
                break

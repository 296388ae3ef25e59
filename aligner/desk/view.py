"""What the desk shows of an alignment, as plain values that are ready for JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import chess

from aligner.desk.naming import name_of
from aligner.pins.doubts import SETTLED_FROM, Answer, Doubt
from aligner.pins.pin import BACK, INFERRED, MOVE, NO_MOVE, Pin
from aligner.pins.typed import san_line
from aligner.record.model import Game, Mention
from aligner.record.tree import Positions, by_id, path
from aligner.search.beam import best_path
from aligner.search.lines import LineNode
from aligner.search.reading import Choice, Reading
from aligner.search.state import State
from aligner.speech.listen import Speech

Span = tuple[int, int]
_DOUBTFUL = 0.8
"""Below this confidence a mention is marked as doubtful."""


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """Another decision that an answer would change.

    Attributes:
        start: seconds.
        text: the words.
        name: what they would be taken for.
    """

    start: float
    text: str
    name: str


@dataclass(frozen=True, slots=True)
class AnswerRow:
    """One answer to choose.

    Attributes:
        name: the moves with their numbers, or "no move".
        decision: as a pin names it.
        line: moves in SAN from the start position.
        spoken: how many moves at its end are spoken of.
        in_game: whether it is a move of the game.
        again: whether it is only looked back at.
        fen: position on its board.
        last: the last move in UCI, "" where there is none.
        probability: of this answer.
        changes: what else would change.
    """

    name: str
    decision: str
    line: tuple[str, ...]
    spoken: int
    in_game: bool
    again: bool | None
    fen: str
    last: str
    probability: float
    changes: tuple[ChangeRow, ...] = ()


@dataclass(frozen=True, slots=True)
class Row:
    """Words that may be decided about.

    Attributes:
        kind: "words", "finding" or "inferred".
        words: half-open range of words.
        start: seconds.
        end: seconds.
        text: the words, or the finding's sentence.
        name: what they are taken for now.
        confidence: of that.
        settled: whether a person settled it.
        doubtful: whether it is worth a look.
        worth: how many decisions more would be right after an answer; 0 where that is unknown.
        answers: what to choose from.
        fen: position before the words.
        base: moves in SAN from the start position to that position.
        game_fen: the position in which the game was left.
        game_base: moves in SAN to it.
    """

    kind: str
    words: Span
    start: float
    end: float
    text: str
    name: str
    confidence: float
    settled: bool
    doubtful: bool
    worth: float
    answers: tuple[AnswerRow, ...]
    fen: str
    base: tuple[str, ...] = ()
    game_fen: str = ""
    game_base: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class View:
    """All that the desk shows of one alignment.

    Attributes:
        doubts: of words, and of moves that nobody spoke; the most telling first.
        rows: mentions, words taken for no move after doubt, and settled ones, in order of time.
        findings: in order of time.
        inferred: moves that nobody spoke, in order of the words before which they go.
    """

    doubts: tuple[Row, ...]
    rows: tuple[Row, ...]
    findings: tuple[Row, ...]
    inferred: tuple[Row, ...]


def view_of(
    speech: Speech,
    reading: Reading,
    end: State,
    game: Game,
    open_doubts: Sequence[Doubt],
    settled: Sequence[tuple[Pin, Span]],
) -> View:
    """What the desk shows of one game; boards and names are worked out here: nothing reaches into the search later."""
    choices = reading.choices
    spoken = [(before, decision.spoken) for before, decision in best_path(end) if decision.spoken is not None]
    left = {speech.span(one.phrase): before.head for before, one in spoken}
    by_words = {words: pin for pin, words in settled if pin.decision in (MOVE, NO_MOVE, BACK)}
    doubt_rows = [_with_game(_doubt_row(speech, reading, doubt), left) for doubt in open_doubts]
    known = {row.words: row for row in doubt_rows}
    rows: list[Row] = []
    for choice in choices:
        if choice.words in known and choice.words not in by_words:
            rows.append(known[choice.words])
        elif choice.decision.nodes or choice.words in by_words:
            row = _choice_row(speech, choice, reading.head, choice.words in by_words)
            rows.append(_with_game(row, left))
    shown = {row.words for row in rows}
    for words, pin in by_words.items():
        if words not in shown:
            rows.append(_plain_row(speech, words, pin.decision))
    rows.sort(key=lambda row: row.words)
    inferred = _inferred_rows(game, settled)
    asked = sorted([*doubt_rows, *(row for row in inferred if row.doubtful)], key=lambda row: -row.worth)
    return View(tuple(asked), tuple(rows), _finding_rows(game, settled), inferred)


def joined(views: Sequence[View]) -> View:
    """What the desk shows of a talk of several games."""
    doubts = sorted((row for view in views for row in view.doubts), key=lambda row: -row.worth)
    return View(
        tuple(doubts),
        tuple(row for view in views for row in view.rows),
        tuple(row for view in views for row in view.findings),
        tuple(row for view in views for row in view.inferred),
    )


def _with_game(row: Row, left: Mapping[Span, LineNode]) -> Row:
    """The row with the position in which the game was left before its words."""
    head = left.get(row.words)
    return row if head is None else replace(row, game_fen=head.board.fen(), game_base=san_line(head))


def _doubt_row(speech: Speech, reading: Reading, doubt: Doubt) -> Row:
    choices = reading.choices
    choice = choices[doubt.place]
    answers = tuple(_answer_row(speech, choices, answer, choice.cursor, reading.head) for answer in doubt.answers)
    row = _choice_row(speech, choice, reading.head, False)
    return replace(row, doubtful=True, worth=round(doubt.worth, 3), answers=answers)


def _answer_row(
    speech: Speech, choices: Sequence[Choice], answer: Answer, cursor: LineNode, head: LineNode
) -> AnswerRow:
    changes = tuple(
        ChangeRow(speech.words[words[0]].start / 1000, _text(speech, words), name_of(nodes, head))
        for words, nodes in ((choices[place].words, nodes) for place, nodes in answer.changes)
    )
    return answer_row(answer.nodes, answer.in_game, answer.again, cursor, head, answer.probability, changes)


def answer_row(
    nodes: Sequence[LineNode],
    in_game: bool,
    again: bool | None,
    cursor: LineNode,
    head: LineNode,
    probability: float = 0.0,
    changes: tuple[ChangeRow, ...] = (),
) -> AnswerRow:
    """An answer to choose; without nodes that the words speak of no move, with the board before them."""
    if not nodes:
        last = cursor.move.uci() if cursor.move else ""
        return AnswerRow(name_of(()), NO_MOVE, (), 1, False, None, cursor.board.fen(), last, probability, changes)
    node = nodes[-1]
    last = node.move.uci() if node.move else ""
    name, line, fen = name_of(nodes, head), san_line(node), node.board.fen()
    return AnswerRow(name, MOVE, line, len(nodes), in_game, again, fen, last, round(probability, 4), changes)


def _choice_row(speech: Speech, choice: Choice, head: LineNode, settled: bool) -> Row:
    first, past = choice.words
    nodes = choice.decision.nodes
    answers: list[AnswerRow] = []
    if nodes:
        again = choice.decision.kind == "again"
        answers.append(answer_row(nodes, _in_game(nodes, head), again, choice.cursor, head, choice.probability))
    for rival in choice.rivals:
        again, in_game = rival.kind == "again", _in_game(rival.nodes, head)
        answers.append(answer_row(rival.nodes, in_game, again, choice.cursor, head, rival.probability))
    if all(answer.decision != NO_MOVE for answer in answers):
        answers.append(answer_row((), False, None, choice.cursor, head))
    return Row(
        "words", choice.words, speech.words[first].start / 1000, speech.words[past - 1].end / 1000,
        _text(speech, choice.words), name_of(nodes, head), round(choice.probability, 4), settled,
        not settled and choice.probability < _DOUBTFUL, 0.0, tuple(answers), choice.cursor.board.fen(),
        san_line(choice.cursor),
    )  # fmt: skip


def _in_game(nodes: Sequence[LineNode], head: LineNode) -> bool:
    return bool(nodes) and (nodes[-1].score_ply >= 0 or head.follows(nodes[-1]))


def _plain_row(speech: Speech, words: Span, name: str) -> Row:
    first, past = words
    start, end = speech.words[first].start / 1000, speech.words[past - 1].end / 1000
    return Row("words", words, start, end, _text(speech, words), name, 1.0, True, False, 0.0, (), "")


def _finding_rows(game: Game, settled: Sequence[tuple[Pin, Span]]) -> tuple[Row, ...]:
    decided = {words for pin, words in settled if pin.decision in ("right", "wrong")}
    return tuple(
        Row(
            "finding", one.words, one.start, one.end, one.message, one.cause, one.confidence, one.words in decided,
            one.words not in decided and one.confidence < _DOUBTFUL, 0.0, (), one.fen,
        )
        for one in game.findings
    )  # fmt: skip


def _inferred_rows(game: Game, settled: Sequence[tuple[Pin, Span]]) -> tuple[Row, ...]:
    """Moves that nobody spoke, each with the first words that rest on it."""
    nodes = by_id(game)
    boards = Positions(game)
    decided = {pin.line for pin, _ in settled if pin.decision == INFERRED}
    first: dict[int, Mention] = {}
    for mention in game.mentions:
        for number in mention.nodes:
            for step in path(nodes, number):
                first.setdefault(step.id, mention)
    rows: list[Row] = []
    for node in game.nodes:
        if node.source != "inferred" or node.id not in first or node.parent is None:
            continue
        mention = first[node.id]
        line = tuple(step.san for step in path(nodes, node.id))
        board = boards[node.parent]
        answers = [_inferred_answer(board, node.uci or "", line, node.main, node.confidence)]
        answers += [
            _inferred_answer(board, rival.uci or "", (*line[:-1], rival.san), node.main, rival.confidence)
            for rival in node.alternatives
        ]
        settled_so = line in decided
        among = sum(answer.probability for answer in answers)
        open_still = bool(node.alternatives) and not settled_so and node.confidence < SETTLED_FROM * among
        rows.append(
            Row(
                "inferred", mention.words, mention.start, mention.end, f"before: {mention.text}", answers[0].name,
                node.confidence, settled_so, open_still, round(among - node.confidence, 3) if open_still else 0.0,
                tuple(answers), board.fen(), line[:-1],
            )
        )  # fmt: skip
    return tuple(sorted(rows, key=lambda row: row.words))


def _inferred_answer(
    board: chess.Board, uci: str, line: tuple[str, ...], in_game: bool, probability: float
) -> AnswerRow:
    name = f"{board.fullmove_number}{'.' if board.turn else '...'}{line[-1]}"
    after = board.copy(stack=False)
    after.push_uci(uci)
    return AnswerRow(name, INFERRED, line, 1, in_game, None, after.fen(), uci, probability)


def _text(speech: Speech, words: Span) -> str:
    return " ".join(word.text for word in speech.words[words[0] : words[1]])

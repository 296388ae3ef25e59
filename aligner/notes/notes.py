"""The notes of a talk: sections, the game's moves, edited paragraphs, sidelines, diagrams, errata."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import PurePath

import chess

from aligner.chapters.chapters import Chapter, choose
from aligner.chapters.moments import Moment, moments
from aligner.chapters.phases import endgame_name, is_endgame
from aligner.chapters.sentences import Sentence, apart, bare, is_punctuated, sentences
from aligner.chapters.timeline import arrivals, move_name
from aligner.notes.editing import editing
from aligner.notes.model import Block, Diagram, Erratum, Line, Moves, Notes, Paragraph, Section
from aligner.notes.prose import style_of, write
from aligner.notes.remarks import line_text, remark_blocks
from aligner.record.model import Finding, Game, Mention, Node, Record
from aligner.record.tree import Positions, by_id, main_line, positions

_PARAGRAPH_SENTENCES, _PARAGRAPH_WORDS = 5, 95
"""At either of which a paragraph ends."""
_PARAGRAPH_PAUSE = 2.0
"""Seconds of silence that end a paragraph."""
_DIAGRAM_WEIGHT, _SIDELINE_WEIGHT = 34, 52
"""Weight from which on a moment of the game, and one of a sideline, may get a diagram."""
_LINE_PLIES = 2
"""Half-moves up to which a sideline needs no line of its own beside its words."""


_SURE = 0.5
"""Confidence from which on a finding is printed: a false alarm costs more trust than a miss."""
_CAUSES = {"speaker": "Slip of the tongue", "caption": "Caption"}


def take_notes(record: Record) -> Notes:
    """The notes of a talk."""
    chapters = choose(record)
    number = max(1, round(len(chapters) * 0.6))
    blocks: list[tuple[float, Block]] = []
    errata: list[Erratum] = []
    for game in record.games:
        blocks.extend(_of_game(record, game, number, [chapter.start for chapter in chapters]))
        errata.extend(_erratum(game, finding) for finding in game.findings if finding.confidence >= _SURE)
    title, about = heading(record)
    return Notes(
        title=title,
        about=about,
        url=record.recording.url,
        sections=tuple(_sections(chapters, blocks)),
        errata=tuple(sorted(errata, key=lambda erratum: erratum.start)),
    )


def heading(record: Record) -> tuple[str, str]:
    """What is printed above a talk: its title, and players, event and result on a line, which may be empty."""
    first = record.games[0]
    title = record.recording.title or _players(first) or PurePath(record.recording.captions).stem
    return title, _about(first, with_players=bool(record.recording.title)) if len(record.games) == 1 else ""


def _players(game: Game) -> str:
    white, black = game.headers.get("White", "?"), game.headers.get("Black", "?")
    return f"{white} \u2013 {black}" if {white, black}.isdisjoint({"?", "", "White", "Black"}) else ""


def _about(game: Game, with_players: bool) -> str:
    event = game.headers.get("Event", "?")
    date = game.headers.get("Date", "?")
    result = game.headers.get("Result", "*").replace("1/2", "½")
    parts = [
        _players(game) if with_players else "",
        event if event != "?" else "",
        date.replace(".??", "") if not date.startswith("?") else "",
        result.replace("-", "\u2013") if result != "*" else "",
    ]
    return ", ".join(part for part in parts if part)


def _sections(chapters: Sequence[Chapter], blocks: Sequence[tuple[float, Block]]) -> Iterator[Section]:
    """Blocks under the chapter in which they begin."""
    for place, chapter in enumerate(chapters):
        until = chapters[place + 1].start if place + 1 < len(chapters) else float("inf")
        inside = tuple(block for at, block in blocks if chapter.start <= at < until)
        if inside:
            yield Section(chapter.title, chapter.start, inside)


def _of_game(record: Record, game: Game, number: int, breaks: Sequence[float]) -> list[tuple[float, Block]]:
    """The blocks of one game with their seconds, in order."""
    by_words = {mention.words: mention for mention in reversed(game.mentions)}
    told = [by_words[words] for words in apart(by_words)]
    if not record.words:
        return [*_board_at_start(game), *remark_blocks(game)]
    if len(record.games) > 1:
        words = [at for at, word in enumerate(record.words) if game.start <= word.start < game.end]
    else:
        words = list(range(len(record.words)))
    if not words:
        return []
    first, past = words[0], words[-1] + 1
    moves = apart(mention.words for one in record.games for mention in one.mentions)
    parts = [s for s in sentences(record.words, moves) if first <= s.first < past]
    maker = _Maker(record, game, told, number, breaks)
    return [*_board_at_start(game), *maker.blocks(parts)]


def _board_at_start(game: Game) -> list[tuple[float, Block]]:
    if game.start_fen.split()[0] == chess.STARTING_BOARD_FEN:
        return []
    board = chess.Board(game.start_fen)
    name = endgame_name(board) if is_endgame(board) else "The starting position"
    side = "White" if board.turn else "Black"
    return [(game.start, Diagram(game.start_fen, f"{name}, {side} to move", game.start))]


class _Maker:
    """Goes through the sentences of one game once, and remembers what has been printed."""

    def __init__(
        self, record: Record, game: Game, told: Sequence[Mention], diagrams: int, breaks: Sequence[float]
    ) -> None:
        self.record, self.game, self.told, self.breaks = record, game, told, breaks
        self.nodes = by_id(game)
        self.boards: Positions = positions(game)
        self.line = main_line(game)
        self.place = {node.id: place for place, node in enumerate(self.line)}
        self.reached = arrivals(game)
        self.style = style_of(game, is_punctuated(record.words))
        self.printed = {game.nodes[0].id}
        self.game_printed = 0
        self.diagrams = _chosen_diagrams(game, moments(game, record.words), diagrams)

    def blocks(self, parts: Sequence[Sentence]) -> Iterator[tuple[float, Block]]:
        group: list[tuple[Sentence, list[Mention]]] = []
        sideline, place = False, 0
        for part in parts:
            inside: list[Mention] = []
            while place < len(self.told) and self.told[place].words[0] < part.past:
                mention = self.told[place]
                if mention.words[1] > part.past:
                    break
                # what lies before the full stop in its words stays there: "the centre. Pawn to e5"
                inside.append(replace(mention, words=(max(mention.words[0], part.first), mention.words[1])))
                place += 1
            now = self._in_sideline(part, inside, sideline)
            if group and (now != sideline or self._is_full(group) or self._breaks_before(part)):
                yield from self._paragraph(group, sideline)
                group = []
            sideline = now
            group.append((part, inside))
        if group:
            yield from self._paragraph(group, sideline)
        yield from self._rest()

    def _in_sideline(self, part: Sentence, inside: Sequence[Mention], sideline: bool) -> bool:
        """Whether with this sentence the talk is in a sideline."""
        if sideline and not inside:
            text = " ".join(bare(word.text) for word in self.record.words[part.first : part.past])
            return not any(phrase in text for phrase in editing().returns)
        played = [m for m in inside if m.nodes and m.kind in ("move", "slip")]
        if played:
            return not self.nodes[played[-1].nodes[-1]].main
        again = [m for m in inside if m.nodes]
        return not self.nodes[again[-1].nodes[-1]].main if again and not sideline else sideline

    def _is_full(self, group: Sequence[tuple[Sentence, list[Mention]]]) -> bool:
        words = group[-1][0].past - group[0][0].first
        return len(group) >= _PARAGRAPH_SENTENCES or words >= _PARAGRAPH_WORDS

    def _breaks_before(self, part: Sentence) -> bool:
        """Whether a chapter begins here, or a long pause parts the paragraphs."""
        words = self.record.words
        if part.first == 0:
            return False
        last, now = words[part.first - 1], words[part.first]
        place = bisect_right(self.breaks, now.start)
        opens = place > 0 and self.breaks[place - 1] > last.start
        return opens or now.start - last.end >= _PARAGRAPH_PAUSE

    def _paragraph(
        self, group: Sequence[tuple[Sentence, list[Mention]]], sideline: bool
    ) -> Iterator[tuple[float, Block]]:
        words = self.record.words
        start = words[group[0][0].first].start
        end = words[group[-1][0].past - 1].end
        inside = [mention for _, mentions in group for mention in mentions]
        yield from self._game_moves(start, end)
        yield from self._sidelines(start, inside)
        # before the words, so that a diagram that floats stands beside them
        yield from ((start, diagram) for at, diagram in self.diagrams if start <= at < end)
        written = [write(part, words, mentions, self.game, self.nodes, self.style) for part, mentions in group]
        kept = tuple(pieces for pieces in written if pieces)
        if kept:
            yield start, Paragraph(kept, start, sideline)

    def _game_moves(self, start: float, end: float) -> Iterator[tuple[float, Block]]:
        """The moves that the game has reached by now and that are not printed yet, with those nobody spoke."""
        reached = [self.place[number] for number, at in self.reached.items() if at < end]
        last = max(reached, default=-1) + 1
        if last <= self.game_printed:
            return
        new = self.line[self.game_printed : last]
        before = self.boards[new[0].parent or 0]
        yield start, Moves(line_text(before, new), start)
        self.printed.update(node.id for node in new)
        self.game_printed = last

    def _sidelines(self, start: float, inside: Sequence[Mention]) -> Iterator[tuple[float, Block]]:
        """Lines of the moves that these mentions add to the sidelines."""
        lines: list[list[Node]] = []
        for mention in inside:
            for number in mention.nodes:
                new: list[Node] = []
                node = self.nodes[number]
                while not node.main and node.id not in self.printed and node.parent is not None:
                    new.append(node)
                    self.printed.add(node.id)
                    node = self.nodes[node.parent]
                for node in reversed(new):
                    if lines and lines[-1][-1].id == node.parent:
                        lines[-1].append(node)
                    else:
                        lines.append([node])
        for line in lines:
            if len(line) > _LINE_PLIES:
                yield start, Line(line_text(self.boards[line[0].parent or 0], line), start)

    def _rest(self) -> Iterator[tuple[float, Block]]:
        """The game's moves after the last that was spoken of, and the result."""
        rest = self.line[self.game_printed :]
        result = self.game.headers.get("Result", "*")
        written = [line_text(self.boards[rest[0].parent or 0], rest)] if rest else []
        written += [result.replace("1/2", "½").replace("-", "\u2013")] if result != "*" else []
        if written:
            yield self.record.words[-1].start, Moves(" ".join(written))


def _chosen_diagrams(game: Game, found: Iterable[Moment], number: int) -> list[tuple[float, Diagram]]:
    """Diagrams of the weightiest moments that are about a move, apart from each other, in order of time."""
    nodes: Mapping[int, Node] = by_id(game)
    boards = positions(game)
    chosen: list[Moment] = []
    for moment in sorted(found, key=lambda one: (-one.weight, one.at)):
        least = _DIAGRAM_WEIGHT if moment.node is None or nodes[moment.node].main else _SIDELINE_WEIGHT
        if moment.node is None or moment.weight < least or len(chosen) >= number:
            continue
        if all(abs(moment.at - other.at) >= 20.0 and moment.node != other.node for other in chosen):
            chosen.append(moment)
    found_diagrams = []
    for moment in sorted(chosen, key=lambda one: one.at):
        node = nodes[moment.node or 0]
        caption = f"Position after {move_name(game, node)}"
        found_diagrams.append((moment.at, Diagram(boards[node.id].fen(), caption, moment.at)))
    return found_diagrams


def _erratum(game: Game, finding: Finding) -> Erratum:
    meant = ""
    if finding.meant.node is not None:
        nodes = by_id(game)
        if finding.meant.node in nodes and nodes[finding.meant.node].parent is not None:
            meant = move_name(game, nodes[finding.meant.node])
    meant = meant or finding.meant.san or ""
    cause = _CAUSES.get(finding.cause, "Speaker or caption")
    return Erratum(finding.start, cause, finding.said.strip(" ,.;:"), meant, finding.message)

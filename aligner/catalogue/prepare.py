"""A record into the rows of the catalogue: all work that needs no database, so that other processes can do it."""

from __future__ import annotations

import hashlib
import re
from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from struct import unpack

import chess

from aligner.catalogue.openings import opening_of
from aligner.catalogue.passages import Passage, passages
from aligner.catalogue.positions import move_code, placement_and_state, position_key
from aligner.catalogue.tables import KINDS, LEVELS, MOST_NODES, level_of, long_ids, ranked_id, short_id
from aligner.catalogue.words import Timed, fold_word, pack, timed_words
from aligner.errors import RecordError
from aligner.record.model import Game, Node, Record

_KIND = {name: number for number, name in enumerate(KINDS)}
_SURE = 0.8
"""A confidence from which an answer counts as sure; ranks answers, hides none."""
_ERRATA = (_KIND["slip"], _KIND["statement"])
GAME, SIDELINE, IDEA, MISNAMED = 0, 1, 2, 4
_MOST_GAMES = 64
_DATE = re.compile(r"([0-9]{4})(?:[.\-/]([0-9]{2}))?(?:[.\-/]([0-9]{2}))?")

NodeRow = tuple[int, int, bytes, int, int | None, int, str, int, int, int]
SaidRow = tuple[int, int, int, int, int, int, int, int]
MomentRow = tuple[int, int, int, int, int, int, int, int, int]
PassageRow = tuple[int, int, int, int, int, bytes]


@dataclass(frozen=True, slots=True)
class GameRow:
    """A game's headers.

    Attributes:
        white: player.
        black: player.
        event: where it was played.
        date: "2024-05", as far as it is known.
        eco: code of the opening.
        opening: its name.
        first_number: number of the start position's next move.
    """

    white: str
    black: str
    event: str
    date: str
    eco: str
    opening: str
    first_number: int


@dataclass(frozen=True, slots=True)
class TalkRows:
    """All that a talk adds to the catalogue; ids are those of talk 0, to be raised by the talk's own.

    Attributes:
        talk: captions, fingerprint, title, url, seconds, words, mentions, nodes, digest.
        blocks: the packed words.
        games: in order.
        nodes: columns as in the table, in order of id.
        moments: the same.
        findings: number, start, kind, cause, message.
        passages: columns as in the table, in order of id.
        texts: what is searched of each passage, folded.
        told: the moves spoken of in each passage.
    """

    talk: tuple[str, str, str | None, str | None, float, int, int, int, str]
    blocks: tuple[bytes, ...]
    games: tuple[GameRow, ...]
    nodes: tuple[NodeRow, ...]
    moments: tuple[MomentRow, ...]
    findings: tuple[tuple[int, int, str, str, str], ...]
    passages: tuple[PassageRow, ...]
    texts: tuple[str, ...]
    told: tuple[tuple[int, ...], ...]


def prepare(record: Record, name: str, words: Timed | None = None) -> TalkRows:
    """The rows of a record.

    Args:
        record: checked, but for its moves, which are checked here.
        name: under which the talk is kept.
        words: of the talk; None for the record's own.

    Raises:
        RecordError: a move is not legal where it stands, or the talk is too large for the catalogue.
    """
    if len(record.games) > _MOST_GAMES:
        raise RecordError(f"the talk has {len(record.games)} games; the catalogue takes {_MOST_GAMES} a talk.", name)
    words = timed_words(record.words) if words is None else words
    pieces = passages(words)
    firsts = [piece.first for piece in pieces]
    spoken: list[set[int]] = [set() for _ in pieces]
    games: list[GameRow] = []
    nodes: list[NodeRow] = []
    said: list[tuple[SaidRow, int]] = []  # moments, each with the place of its passage
    findings: list[tuple[int, int, str, str, str]] = []
    for place, game in enumerate(record.games):
        tree = _Tree(game, place, len(nodes), name)
        games.append(tree.headers())
        for row, own in tree.rows():
            nodes.append(row)
            for moment in own:
                at = bisect_right(firsts, moment[6]) - 1 if moment[7] else -1
                said.append((moment, at))
                if at >= 0:
                    spoken[at].add(row[0])
        for finding in game.findings:
            findings.append((len(findings), _ms(finding.start), finding.kind, finding.cause, finding.message))
    if max(len(nodes), len(pieces)) > MOST_NODES:
        size = f"{len(nodes)} positions and {len(pieces)} passages"
        raise RecordError(f"the talk has {size}; the catalogue takes {MOST_NODES} a talk.", name)
    levels = [level_of(min(own)) if own else LEVELS - 1 for own in spoken]
    shorts = [short_id(ranked_id(level, 0, ordinal)) for ordinal, level in enumerate(levels)] + [-1]
    moments = sorted((*moment, shorts[at]) for moment, at in said)
    blocks = pack(words)
    rows, texts = _passages([game.start for game in record.games], words, pieces, spoken, levels)
    moves = {row[0]: row[4] for row in nodes}
    told = tuple(moves_told(unpack_nodes(row[5], 0), moves) for row in rows)
    what = record.recording
    mentions = sum(len(game.mentions) for game in record.games)
    digest = hashlib.sha256(b"".join(blocks)).hexdigest()
    counts = (len(words.texts), mentions, len(nodes))
    return TalkRows(
        (what.captions, what.fingerprint, what.title, what.url, what.seconds, *counts, digest),
        blocks,
        tuple(games),
        tuple(sorted(nodes)),
        tuple(moments),
        tuple(findings),
        rows,
        texts,
        told,
    )


def pack_nodes(ids: Iterable[int]) -> bytes:
    """Ids of nodes of one talk, two bytes each: level and ordinal."""
    return b"".join([short_id(node).to_bytes(2, "little") for node in sorted(ids)])


def unpack_nodes(packed: bytes, talk: int) -> list[int]:
    """The inverse of `pack_nodes` for a talk."""
    return long_ids(unpack(f"<{len(packed) // 2}H", packed), talk)


def moves_told(nodes: Iterable[int], moves: Mapping[int, int | None]) -> tuple[int, ...]:
    """The codes of the moves that lead to some nodes, each once; a start position has none."""
    return tuple(sorted({code for node in nodes if (code := moves[node]) is not None}))


def searched_text(texts: Sequence[str], first: int, heard: int) -> str:
    """What is searched of a passage: its words and the first of the next one, folded."""
    return " ".join(filter(None, map(fold_word, texts[first : first + heard])))


def _passages(
    starts: Sequence[float],
    words: Timed,
    pieces: Sequence[Passage],
    spoken: Sequence[set[int]],
    levels: Sequence[int],
) -> tuple[tuple[PassageRow, ...], tuple[str, ...]]:
    found: list[tuple[PassageRow, str]] = []
    for ordinal, (piece, nodes, level) in enumerate(zip(pieces, spoken, levels, strict=True)):
        game = max(0, bisect_right(starts, words.starts[piece.first]) - 1)
        packed = pack_nodes(nodes)
        heard = piece.heard - piece.first
        row = (ranked_id(level, 0, ordinal), game, piece.first, piece.past - piece.first, heard, packed)
        found.append((row, searched_text(words.texts, piece.first, heard)))
    found.sort(key=lambda pair: pair[0][0])
    return tuple(row for row, _ in found), tuple(text for _, text in found)


_move = lru_cache(maxsize=1 << 13)(chess.Move.from_uci)


class _Tree:
    """One game's tree, with every idea as a node of its own, and what is said at each node."""

    def __init__(self, game: Game, place: int, first_ordinal: int, name: str) -> None:
        self.game = game
        self.place = place
        self.first_ordinal = first_ordinal
        self.name = name
        self.keys: list[int] = []  # of the game's own line
        self.said: dict[int, list[tuple[int, int, int, int, int, int]]] = {}
        self.below: dict[int, list[Node]] = {}
        self.lines = {node.id: GAME if node.main else SIDELINE for node in game.nodes}
        for node in game.nodes:
            if node.parent is not None:
                self.below.setdefault(node.parent, []).append(node)
        self.ideas: dict[tuple[int, str | None], int] = {}
        self._listen()
        self._visit()

    def _listen(self) -> None:
        root = self.game.nodes[0].id
        at = root
        turns: list[tuple[float, int]] = []  # from when on a node is under discussion
        slips = set()
        for mention in self.game.mentions:
            if mention.nodes:
                for node in mention.nodes:
                    self._say(node, mention.kind, mention.start, mention.end, mention.confidence, mention.words)
                at = mention.nodes[-1]
                turns.append((mention.start, at))
                if mention.kind == "slip":
                    slips.add(mention.start)
            else:
                planned = self._idea(at, mention.alternatives)
                self._say(planned, "idea", mention.start, mention.end, mention.confidence, mention.words)
        for finding in self.game.findings:
            if finding.start not in slips:
                before = bisect_right(turns, finding.start, key=lambda turn: turn[0])
                node = turns[before - 1][1] if before else root
                kind = "statement"
                if finding.meant.node is not None and finding.meant.node in self.lines:
                    node, kind = finding.meant.node, "slip"
                self._say(node, kind, finding.start, finding.end, finding.confidence, finding.words)

    def _say(self, node: int, kind: str, start: float, end: float, sure: float, words: tuple[int, int]) -> None:
        first, past = words
        begins = _ms(start)
        length = max(0, _ms(end) - begins)
        self.said.setdefault(node, []).append(
            (begins, length, _KIND[kind], round(100 * sure), first, min(past - first, 9999))
        )

    def _idea(self, at: int, alternatives: Sequence[object]) -> int:
        """The node of the plan, a new one but where the same was planned before; without a move where none is told."""
        after, san = at, ""
        uci: str | None = None
        for rival in alternatives:
            move, kind, parent = getattr(rival, "uci", None), getattr(rival, "kind", ""), getattr(rival, "parent", None)
            if move is not None and kind in ("idea", "move"):
                after, uci, san = parent if parent in self.lines else at, move, getattr(rival, "san", "")
                break
        known = self.ideas.get((after, uci))
        if known is None:
            known = min(self.lines) - 1
            self.ideas[after, uci] = known
            self.lines[known] = IDEA
            self.below.setdefault(after, []).append(Node(known, after, uci, san, main=False))
        return known

    def _visit(self) -> None:
        """Numbers the nodes in preorder and works out their positions, on one board."""
        board = chess.Board(self.game.start_fen)
        self.first_number = board.fullmove_number
        self.visited: list[tuple[Node, bytes, int, int | None, int, int]] = []
        self.sizes: list[int] = []  # how many descendants follow each
        opened: list[int] = []
        stack: list[Node | None] = [self.game.nodes[0]]
        while stack:
            node = stack.pop()
            if node is None:
                place = opened.pop()
                self.sizes[place] = len(self.visited) - place - 1
                if self.visited[place][0].uci is not None:
                    board.pop()
                continue
            code, origin = None, 0
            if node.uci is not None:
                move = _move(node.uci)
                if not board.is_pseudo_legal(move):
                    self._illegal(node, board)
                code, origin = move_code(board, move), move.from_square
                board.push(move)
                if board.was_into_check():
                    self._illegal(node, board)
            placement, state = placement_and_state(board)
            if self.lines[node.id] == GAME:
                self.keys.append(position_key(placement, state))
            below = self.below.get(node.id)
            depth = len(opened)
            opened.append(len(self.visited))
            stack.append(None)
            self.visited.append((node, placement, state, code, origin, depth))
            self.sizes.append(0)
            if below:
                stack += reversed(below)
        if len(self.visited) != len(self.lines) or not self.said.keys() <= self.lines.keys():
            fault = "the record is damaged: a node has no parent, or a mention no node"
            raise RecordError(f"{fault}; write the record again with `aligner align`.", self.name)

    def _illegal(self, node: Node, board: chess.Board) -> None:
        raise RecordError(
            f"the record is damaged: the move {node.uci} of node {node.id} is not legal where it stands; "
            "write the record again with `aligner align`.",
            self.name,
        )

    def rows(self) -> list[tuple[NodeRow, list[SaidRow]]]:
        """Every node with its moments."""
        found = []
        visited = zip(self.visited, self.sizes, strict=True)
        for ordinal, ((node, placement, state, code, origin, depth), below) in enumerate(visited, self.first_ordinal):
            said = sorted(self.said.get(node.id, ()))
            line = self.lines[node.id]
            ranked = ranked_id(_level(line, said), 0, ordinal)
            if any(moment[2] in _ERRATA for moment in said):
                line += MISNAMED
            row = (ranked, self.place, placement, state, code, origin, node.san, depth, below, line)
            found.append((row, [(ranked, number, *moment) for number, moment in enumerate(said)]))
        return found

    def headers(self) -> GameRow:
        """The game's headers."""
        tags = self.game.headers
        white, black, event = (_known(tags.get(tag, "")) for tag in ("White", "Black", "Event"))
        date = _DATE.match(tags.get("Date", ""))
        eco, opening = opening_of(tags, self.keys)
        known = "-".join(part for part in date.groups() if part) if date else ""
        return GameRow(white, black, event, known, eco, opening, self.first_number)


def _level(line: int, said: Sequence[tuple[int, ...]]) -> int:
    if not said:
        return LEVELS - 1
    if line == IDEA:
        return 6
    sure = max(moment[3] for moment in said) >= 100 * _SURE
    return 3 * line + (0 if sure and len(said) > 1 else 1 if sure else 2)


def _known(text: str) -> str:
    clean = " ".join(text.split())
    return "" if clean.strip("?- ") == "" else clean


def _ms(seconds: float) -> int:
    return min(round(seconds * 1000), 2**31 - 1)


def raised(rows: TalkRows, talk: int) -> TalkRows:
    """The rows with the ids of a talk of its own."""
    offset = ranked_id(0, talk, 0)
    return replace(
        rows,
        nodes=tuple((row[0] + offset, *row[1:]) for row in rows.nodes),
        moments=tuple((row[0] + offset, *row[1:]) for row in rows.moments),
        passages=tuple((row[0] + offset, *row[1:]) for row in rows.passages),
    )

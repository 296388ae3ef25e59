"""An invented archive: talks about games that never were, drawn with a seed. Every name and every move is made up.

Games begin with a known opening and go on with legal moves drawn at random; captures are drawn more often, as in real
games. Sidelines branch off, some moves are only planned, some misnamed, some never spoken of. The words between the
mentions come from the most frequent English words (package wordfreq), as often as in real speech.
"""

from __future__ import annotations

import random
from functools import lru_cache
from itertools import accumulate

import chess

from aligner.record.model import Alternative, Finding, Game, Meant, Mention, Node, Record, Recording, SpokenWord

# common practice; their own here, so that a longer table of names does not change the archive
_OPENINGS = (
    "e4 e5 Nf3 Nc6 Bb5 a6", "e4 e5 Nf3 Nc6 Bc4 Bc5", "e4 e5 Nf3 Nf6", "e4 e5 f4", "e4 c5 Nf3 d6 d4 cxd4 Nxd4",
    "e4 c5 Nf3 Nc6", "e4 c5 c3", "e4 e6 d4 d5 Nc3 Bb4", "e4 c6 d4 d5", "e4 d5", "e4 Nf6", "d4 d5 c4 e6", "d4 d5 c4 c6",
    "d4 d5 Nf3 Nf6 Bf4", "d4 Nf6 c4 e6 Nc3 Bb4", "d4 Nf6 c4 g6", "d4 f5", "c4 e5", "Nf3 d5", "f4 d5",
)
_PIECES = ("", "pawn", "knight", "bishop", "rook", "queen", "king")
_FIRST = ("Ada", "Bela", "Cora", "Dov", "Edda", "Finn", "Greta", "Hugo", "Isa", "Jory", "Kaja", "Lev", "Mina", "Noor")
_LAST = ("Quill", "Marrow", "Tansy", "Vole", "Orlock", "Penn", "Sorrel", "Brack", "Idris", "Wend", "Yarrow", "Zell")
_EVENTS = ("Harbour League", "Mill Open", "Lantern Cup", "Quarry Team Match", "Winter Ladder")


@lru_cache(maxsize=1)
def _vocabulary() -> tuple[list[str], list[float]]:
    from wordfreq import top_n_list, word_frequency

    words = [word for word in top_n_list("en", 6000) if word.isalpha()]
    return words, list(accumulate(word_frequency(word, "en") for word in words))


def _play(board: chess.Board, draw: random.Random) -> chess.Move | None:
    """A random legal move, found without making them all."""
    moves = list(board.generate_pseudo_legal_moves())
    draw.shuffle(moves)
    if draw.random() < 0.5:
        moves.sort(key=lambda move: not board.occupied >> move.to_square & 1)
    return next((move for move in moves if board.is_legal(move)), None)


def spoken(board: chess.Board, move: chess.Move) -> str:
    """A move as one says it."""
    if board.is_castling(move):
        return "castles short" if chess.square_file(move.to_square) > 4 else "castles long"
    piece = _PIECES[board.piece_type_at(move.from_square) or 1]
    target = chess.square_name(move.to_square)
    if board.is_capture(move):
        who = f"{chess.FILE_NAMES[chess.square_file(move.from_square)]}" if piece == "pawn" else piece
        return f"{who} takes {target}"
    return target if piece == "pawn" else f"{piece} {target}"


def invented_record(seed: int, mentions: int = 300, words_between: float = 10.0) -> Record:
    """One talk.

    Args:
        seed: a number; the same gives the same talk.
        mentions: how many, nearly.
        words_between: words that are no move, for each mention, on average.
    """
    draw = random.Random(seed)
    nodes = [Node(0, None, None)]
    boards = [chess.Board()]
    opening = draw.choice(_OPENINGS).split()
    at = 0
    plies = draw.randint(50, 110)
    order: list[int] = []  # nodes as the talk comes to them
    for ply in range(plies):
        move = boards[at].parse_san(opening[ply]) if ply < len(opening) else _play(boards[at], draw)
        if move is None:
            break
        at = _grow(nodes, boards, at, move, True)
        order.append(at)
        if ply > 4 and draw.random() < 0.3:
            side = nodes[at].parent or 0
            for _ in range(draw.randint(1, 12)):
                move = _play(boards[side], draw)
                if move is None:
                    break
                known = next((n.id for n in nodes if n.parent == side and n.uci == move.uci()), None)
                side = _grow(nodes, boards, side, move, False) if known is None else known
                order.append(side)
    talk = _Talk(draw, words_between, nodes, boards)
    while len(talk.mentions) < mentions:
        for node in order:
            if draw.random() < 0.9:
                talk.say(node)
            if len(talk.mentions) >= mentions:
                break
    white, black = draw.sample([f"{first} {last}" for first in _FIRST for last in _LAST], 2)
    date = f"20{draw.randint(10, 25)}.{draw.randint(1, 12):02d}.{draw.randint(1, 28):02d}"
    headers = {"White": white, "Black": black, "Event": draw.choice(_EVENTS), "Date": date, "Result": "*"}
    end = talk.words[-1].end
    game = Game(chess.STARTING_FEN, headers, tuple(nodes), tuple(talk.mentions), tuple(talk.findings), 0.0, end)
    address = f"https://recordings.example/{seed}"
    recording = Recording(f"talk-{seed}.vtt", f"Talk {seed}", address, end, len(talk.words), f"{seed:064x}")
    return Record(recording, (game,), tuple(talk.words))


def _grow(nodes: list[Node], boards: list[chess.Board], at: int, move: chess.Move, main: bool) -> int:
    board = boards[at].copy(stack=False)
    san = boards[at].san(move)
    board.push(move)
    nodes.append(Node(len(nodes), at, move.uci(), san, nodes[at].ply + 1, main))
    boards.append(board)
    return len(nodes) - 1


class _Talk:
    """The talk while it is made up."""

    def __init__(self, draw: random.Random, between: float, nodes: list[Node], boards: list[chess.Board]) -> None:
        self.draw = draw
        self.between = between
        self.nodes = nodes
        self.boards = boards
        self.now = 0
        self.words: list[SpokenWord] = []
        self.mentions: list[Mention] = []
        self.findings: list[Finding] = []
        self.known: set[int] = set()
        self.vocabulary, self.weights = _vocabulary()

    def _speak(self, texts: list[str]) -> tuple[int, int]:
        first = len(self.words)
        for text in texts:
            long = self.draw.randint(120, 480)
            self.words.append(SpokenWord(text, self.now / 1000, (self.now + long) / 1000, None, 0))
            self.now += long + (self.draw.randint(300, 1500) if self.draw.random() < 0.06 else 0)
        return first, len(self.words)

    def say(self, node: int) -> None:
        """Words about something, then the move, perhaps by a wrong name or as a plan."""
        count = self.draw.randint(0, round(2 * self.between))
        self._speak(self.draw.choices(self.vocabulary, cum_weights=self.weights, k=count))
        parent = self.nodes[node].parent
        assert parent is not None
        board = self.boards[parent]
        chance = self.draw.random()
        sure = round(self.draw.betavariate(8, 1), 3)
        if chance < 0.03:
            move = _play(board, self.draw)
            assert move is not None
            span = self._speak(spoken(board, move).split())
            rival = Alternative(move.uci(), board.san(move), 0.8, parent, "idea")
            self._mention(span, "idea", (), sure, (rival,))
            return
        move = chess.Move.from_uci(self.nodes[node].uci or "")
        name = spoken(board, move)
        if chance < 0.06:
            span = self._speak(["queen", self.draw.choice(chess.SQUARE_NAMES)])
            self._mention(span, "slip", (node,), sure, ())
            meant = Meant(move.uci(), self.nodes[node].san, node)
            said = " ".join(word.text for word in self.words[span[0] : span[1]])
            kind = self.draw.choice(["square", "piece", "rank"])
            cause = self.draw.choice(["speaker", "caption"])
            mention = self.mentions[-1]
            note = f"{said} is not the move here: {self.nodes[node].san} is meant."
            self.findings.append(
                Finding(mention.start, mention.end, said, span, kind, cause, meant, sure, note, board.fen())
            )
        else:
            kind = "again" if node in self.known else "move"
            self._mention(self._speak(name.split()), kind, (node,), sure, ())
        self.known.add(node)

    def _mention(
        self, span: tuple[int, int], kind: str, nodes: tuple[int, ...], sure: float, rivals: tuple[Alternative, ...]
    ) -> None:
        first, past = span
        text = " ".join(word.text for word in self.words[first:past])
        start, end = self.words[first].start, self.words[past - 1].end
        self.mentions.append(Mention(start, end, text, span, kind, nodes, sure, rivals))

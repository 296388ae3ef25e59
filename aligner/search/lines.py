"""Lines of moves: one node for each path from the start position, shared by all hypotheses that went there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

import chess

from aligner.openings.book import OUT, opening_book

if TYPE_CHECKING:
    from aligner.search.captures import Capture
    from aligner.search.matching import PricedFit
    from aligner.speech.description import Terms

_NONE_YET: Mapping[int, list[PricedFit]] = {}
"""What fits at a node about which nothing was asked; one for all, because most nodes are never asked about."""

_LAST_MOVES = 40
"""Moves of its own that a side is asked about for the one that it moved last; a bound, so that no game is too long."""

MoveKey = tuple[int, int, int | None]
"""Origin, target and promotion of a move: found in a dictionary in a third of the time that a `chess.Move` takes."""


class Ply(NamedTuple):
    """A legal move, with what a description of it is compared with.

    Attributes:
        move: the move.
        piece: type of the moving piece.
        castles: whether it is castling.
        victim: type of the piece it captures, 0 for none.
    """

    move: chess.Move
    piece: int
    castles: bool
    victim: int


class LineNode:
    """A position reached by one path of moves.

    Attributes:
        number: in order of making; 0 is the root.
        parent: the node before, None for the root.
        move: the move that leads here, None for the root.
        ply: half-moves from the root.
        score_ply: the same if the path is the score's own, else -1.
        book: the number of the position in the opening book, `OUT` where a move to it, or its start, is none of theory.
            Where a score is given all are `OUT`: what the game is need not be guessed.
        fits: what fits here, by wording (see `Fits.wording`), as far as it was asked for.
        near: what fits here but for one detail, likewise.
        worth: what there is to say about the move that leads here (`aligner.search.plies`); None where nobody asked.
        best_captures: what black and white could gain by a capture here; None where nobody asked.
        lying: pawns' worth of a capture here that looks free (`aligner.search.glances`); None where nobody asked.
        aside: what `Fits` found out; None where nobody asked.
    """

    __slots__ = (
        "_board",
        "_captured",
        "_captures",
        "_checks",
        "_fork",
        "_place",
        "_plies_to",
        "_reach",
        "aside",
        "best_captures",
        "book",
        "fits",
        "lying",
        "move",
        "near",
        "number",
        "parent",
        "ply",
        "score_ply",
        "worth",
    )

    def __init__(self, number: int, parent: LineNode | None, move: chess.Move | None, score_ply: int) -> None:
        self.number = number
        self.parent = parent
        self.move = move
        self.ply: int = parent.ply + 1 if parent else 0
        self.score_ply = score_ply
        self.book: int = OUT
        if parent is not None and move is not None and parent.book != OUT:
            self.book = opening_book().after(parent.book, move)
        self._fork: LineNode | None = None if score_ply >= 0 or parent is None else parent.fork
        self.fits = _NONE_YET
        self.near = _NONE_YET
        self.aside: tuple[Terms, float] | None = None
        self.lying: float | None = None
        self.best_captures: tuple[Capture, Capture] | None = None
        self.worth: Terms | None = None
        self._board: chess.Board | None = None
        self._place: int | None = None
        self._checks: dict[MoveKey, bool] | None = None
        self._captured: bool | None = None
        self._plies_to: dict[int, list[Ply]] | None = None
        self._captures: list[Ply] | None = None
        self._reach: tuple[int, ...] | None = None

    def keep_fits(self, wording: int, fits: list[PricedFit]) -> None:
        """Know what fits here."""
        if self.fits is _NONE_YET:
            self.fits = {}
        assert isinstance(self.fits, dict)
        self.fits[wording] = fits

    def keep_near(self, wording: int, fits: list[PricedFit]) -> None:
        """Know what fits here but for one detail."""
        if self.near is _NONE_YET:
            self.near = {}
        assert isinstance(self.near, dict)
        self.near[wording] = fits

    @property
    def fork(self) -> LineNode:
        """The last node of the path that is the score's own (with a score), else the root."""
        return self._fork or self

    def led_here(self) -> tuple[LineNode, chess.Move]:
        """The node before and the move that leads here; not for the root, which nothing leads to."""
        assert self.parent is not None and self.move is not None
        return self.parent, self.move

    @property
    def board(self) -> chess.Board:
        """The position; belongs to the node and is never changed."""
        if self._board is None:
            assert self.parent is not None and self.move is not None
            board = self.parent.board.copy(stack=False)
            board.push(self.move)
            self._board = board
        return self._board

    def origin(self, square: chess.Square) -> chess.Square:
        """Where the piece that stands on a square stood at the root."""
        node: LineNode = self
        while node.parent is not None:
            move = node.move
            assert move is not None
            if move and move.to_square == square:
                square = move.from_square
            elif move and (move.from_square + move.to_square) // 2 == square and node.parent.board.is_castling(move):
                square = (square | 7) if move.to_square > move.from_square else (square & ~7)  # the rook's corner
            node = node.parent
        return square

    def stands_last(self, piece: chess.PieceType) -> chess.Square | None:
        """Where the piece of a kind came to stand that the side to move moved last, castling not counted.

        None where it moved none in the last `_LAST_MOVES` moves.
        """
        node: LineNode = self
        for _ in range(_LAST_MOVES):
            if node.parent is None or node.parent.parent is None:
                break
            node = node.parent  # a ply of the side to move leads here
            before, move = node.parent, node.move
            assert before is not None and move is not None
            if move and before.board.piece_type_at(move.from_square) == piece:
                return move.to_square
            node = before
        return None

    @property
    def place(self) -> int:
        """A number that nodes share whose positions are the same, whatever the order of moves that led to them.

        The same pieces, side to move, castling rights, and pawns that may be taken in passing: FIDE Laws of Chess, 9.2.
        """
        if self._place is None:
            board = self.board
            pieces = board.pawns, board.knights, board.bishops, board.rooks, board.queens, board.kings
            white, passed = board.occupied_co[chess.WHITE], board.ep_square
            if passed is not None:
                takers = chess.BB_PAWN_ATTACKS[not board.turn][passed] & board.pawns & board.occupied_co[board.turn]
                passed = passed if takers else None
            self._place = hash((*pieces, white, board.turn, board.castling_rights, passed))
        return self._place

    @property
    def reach(self) -> tuple[int, ...]:
        """Squares that the side to move may nearly reach, as bitboards: by any piece, then by pawns, ... kings."""
        if self._reach is None:
            self._reach = _reach(self.board)
        return self._reach

    @property
    def captured(self) -> bool:
        """Whether the move that leads here was a capture."""
        if self._captured is None:
            self._captured = (
                self.parent is not None and self.move is not None and self.parent.board.is_capture(self.move)
            )
        return self._captured

    def ply_of(self, move: chess.Move) -> Ply:
        """A legal move with what is compared."""
        board = self.board
        piece = board.piece_type_at(move.from_square) or chess.PAWN
        victim = board.piece_type_at(move.to_square) or 0
        if piece == chess.PAWN and not victim and (move.to_square - move.from_square) & 7:
            victim = chess.PAWN  # en passant
        castles = piece == chess.KING and board.is_castling(move)
        return Ply(move, piece, castles, 0 if castles else victim)

    def plies_to(self, square: int) -> Sequence[Ply]:
        """The legal moves to a square, castling too, by the square the king goes to."""
        known = self._plies_to
        if known is None:
            known = self._plies_to = {}
        found = known.get(square)
        if found is None:
            found = known[square] = [self.ply_of(move) for move in _moves_to(self.board, square)]
        return found

    @property
    def captures(self) -> Sequence[Ply]:
        """The legal captures."""
        if self._captures is None:
            self._captures = [self.ply_of(move) for move in self.board.generate_legal_captures()]
        return self._captures

    def checks(self, move: chess.Move) -> bool:
        """Whether a legal move gives check."""
        key = (move.from_square, move.to_square, move.promotion)
        known = self._checks
        if known is None:
            known = self._checks = {}
        checks = known.get(key)
        if checks is None:
            checks = known[key] = gives_check(self.board, move)
        return checks

    def line(self) -> list[chess.Move]:
        """The moves from the root to here."""
        moves: list[chess.Move] = []
        node: LineNode | None = self
        while node is not None and node.move is not None:
            moves.append(node.move)
            node = node.parent
        return moves[::-1]

    def ancestors(self) -> Iterator[LineNode]:
        """The nodes before this one, nearest first."""
        node = self.parent
        while node is not None:
            yield node
            node = node.parent

    def follows(self, other: LineNode) -> bool:
        """Whether `other` stands on the path to this node, or is it."""
        node: LineNode | None = self
        while node is not None and node.ply > other.ply:
            node = node.parent
        return node is other


class Lines:
    """All nodes of one search, with the score's own line laid out first.

    A node knows its parent and only the lines know its children: no node refers to itself by any way round, and so all
    are gone at once when the search is.
    """

    def __init__(self, start: chess.Board, score: Sequence[str]) -> None:
        self.root = LineNode(0, None, None, 0)
        self.root._board = start.copy(stack=False)
        self.root.book = OUT if score or start.fen() != chess.STARTING_FEN else 0
        self._children: list[dict[MoveKey, LineNode] | None] = [None]
        self._nodes: list[LineNode] = []
        self.score_moves = [chess.Move.from_uci(uci) for uci in score]
        self.score: list[LineNode] = [self.root]
        for move in self.score_moves:
            self.score.append(self.after(self.score[-1], move))

    def after(self, node: LineNode, move: chess.Move) -> LineNode:
        """The node one move further."""
        children = self._children[node.number]
        if children is None:
            children = self._children[node.number] = {}
        key = (move.from_square, move.to_square, move.promotion)
        child = children.get(key)
        if child is None:
            ply = node.score_ply
            own = 0 <= ply < len(self.score_moves) and self.score_moves[ply] == move
            child = children[key] = LineNode(len(self._children), node, move, ply + 1 if own else -1)
            self._children.append(None)
            self._nodes.append(child)
        return child

    def nodes(self) -> Iterator[LineNode]:
        """All nodes that are known."""
        yield self.root
        yield from self._nodes

    def forget_all_but(self, ends: Iterable[LineNode]) -> None:
        """Drop the nodes that lead to none of these, to bound the memory; one that is asked for again is a new one."""
        kept: set[int] = {0}
        for end in ends:
            node: LineNode | None = end
            while node is not None and node.number not in kept:
                kept.add(node.number)
                node = node.parent
        for each in self.nodes():
            self._children[each.number] = None
        self._nodes = [each for each in self._nodes if each.number in kept]
        for each in self._nodes:
            self._adopt(each)

    def _adopt(self, child: LineNode) -> None:
        parent, move = child.parent, child.move
        assert parent is not None and move is not None
        children = self._children[parent.number]
        if children is None:
            children = self._children[parent.number] = {}
        children[move.from_square, move.to_square, move.promotion] = child

    def has(self, node: LineNode, move: chess.Move) -> bool:
        """Whether any hypothesis ever looked at what comes after a move."""
        children = self._children[node.number]
        return children is not None and (move.from_square, move.to_square, move.promotion) in children


def standing(board: chess.Board) -> LineNode:
    """A node of no line, for a position that is only asked about."""
    node = LineNode(-1, None, None, -1)
    node._board = board
    return node


def _moves_to(board: chess.Board, square: int) -> Iterator[chess.Move]:
    bit = chess.BB_SQUARES[square]
    own = board.occupied_co[board.turn]
    if own & bit:
        return
    pieces = board.attackers_mask(board.turn, square) & ~board.pawns
    pawns = own & board.pawns
    if pieces or pawns & _PAWNS_TO[board.turn][square]:
        yield from board.generate_legal_moves(pieces | (pawns & _PAWNS_TO[board.turn][square]), bit)
    if board.castling_rights and bit & _CASTLED:
        # python-chess would have the rook's square to choose by
        yield from (move for move in board.generate_castling_moves() if move.to_square == square)


def pawns_to(white: bool, square: int) -> chess.Bitboard:
    """Squares from which a pawn of a side may come to a square."""
    return _PAWNS_TO[white][square]


def _origins_of_pawns(white: bool, square: int) -> chess.Bitboard:
    step = -8 if white else 8
    single, double = square + step, square + 2 * step
    found = chess.BB_PAWN_ATTACKS[not white][square]
    if 0 <= single < 64:
        found |= chess.BB_SQUARES[single]
    if 0 <= double < 64 and chess.square_rank(double) == (1 if white else 6):
        found |= chess.BB_SQUARES[double]
    return found


_PAWNS_TO = [[_origins_of_pawns(white, square) for square in chess.SQUARES] for white in (False, True)]
_CASTLED = chess.BB_C1 | chess.BB_G1 | chess.BB_C8 | chess.BB_G8


def gives_check(board: chess.Board, move: chess.Move) -> bool:
    """Whether a legal move gives check; most moves need not be played to tell."""
    origin, target = chess.BB_SQUARES[move.from_square], chess.BB_SQUARES[move.to_square]
    mover = board.piece_type_at(move.from_square)
    king = board.king(not board.turn)
    if king is None:
        return False
    if move.promotion or mover == chess.KING or (mover == chess.PAWN and move.to_square == board.ep_square):
        return board.gives_check(move)
    if mover == chess.KNIGHT and chess.BB_KNIGHT_ATTACKS[king] & target:
        return True
    if mover == chess.PAWN and chess.BB_PAWN_ATTACKS[not board.turn][king] & target:
        return True
    own = board.occupied_co[board.turn] & ~origin
    straight, slanting = own & (board.rooks | board.queens), own & (board.bishops | board.queens)
    if mover in (chess.ROOK, chess.QUEEN):
        straight |= target
    if mover in (chess.BISHOP, chess.QUEEN):
        slanting |= target
    occupied = (board.occupied & ~origin) | target
    ranks = chess.BB_RANK_ATTACKS[king][chess.BB_RANK_MASKS[king] & occupied]
    files = chess.BB_FILE_ATTACKS[king][chess.BB_FILE_MASKS[king] & occupied]
    slants = chess.BB_DIAG_ATTACKS[king][chess.BB_DIAG_MASKS[king] & occupied]
    return bool((ranks | files) & straight or slants & slanting)


def _reach(board: chess.Board) -> tuple[int, ...]:
    """Where pieces may go, checks and pins left aside; castling is not in it."""
    own = board.occupied_co[board.turn]
    free = ~own
    by_type = [0] * 7
    pieces = own & ~board.pawns
    while pieces:
        bit = pieces & -pieces
        square = bit.bit_length() - 1
        kind = board.piece_type_at(square) or 0
        by_type[kind] |= board.attacks_mask(square) & free
        pieces ^= bit
    pawns = own & board.pawns
    everything = chess.BB_ALL
    empty = ~board.occupied & everything
    enemy = board.occupied_co[not board.turn] | (
        chess.BB_SQUARES[board.ep_square] if board.ep_square is not None else 0
    )
    if board.turn:
        single = (pawns << 8) & empty
        double = (single << 8) & empty & chess.BB_RANK_4
        takes = ((pawns & ~chess.BB_FILE_A) << 7 | (pawns & ~chess.BB_FILE_H) << 9) & enemy
    else:
        single = (pawns >> 8) & empty
        double = (single >> 8) & empty & chess.BB_RANK_5
        takes = ((pawns & ~chess.BB_FILE_A) >> 9 | (pawns & ~chess.BB_FILE_H) >> 7) & enemy
    by_type[chess.PAWN] = (single | double | takes) & everything
    by_type[0] = by_type[1] | by_type[2] | by_type[3] | by_type[4] | by_type[5] | by_type[6]
    return tuple(by_type)

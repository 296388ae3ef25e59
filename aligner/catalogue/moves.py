"""A move that is asked for: in symbols ("Nf5", "exd5", "O-O") or in words ("knight to f5", "castles long")."""

from __future__ import annotations

import re
from dataclasses import dataclass

import chess

from aligner.catalogue.positions import CASTLE_LONG, CASTLE_SHORT
from aligner.errors import InputError

# FIDE Laws of Chess, appendix C (notation), with the PGN standard's "=" for promotion
_SAN = re.compile(r"([KQRBNP]?)([a-h])?([1-8])?(x)?([a-h][1-8])(?:=?\(?([QRBN])\)?)?[+#]{0,2}[!?]{0,2}")
_CASTLES = {"O-O": CASTLE_SHORT, "O-O-O": CASTLE_LONG}
_EXAMPLE = 'write a move in symbols, "Nf5", or as it is spoken, "knight to f5"'


@dataclass(frozen=True, slots=True)
class MoveAsked:
    """A move as far as it is told.

    Attributes:
        codes: pieces and targets it may be (`positions.move_code`).
        from_file: 0 to 7, or None.
        from_rank: 0 to 7, or None.
        capture: whether it must be one; where it is not told, a pawn's move to a square is none, as in algebraic
            notation, and a piece's may be one (FIDE Laws of Chess, appendix C.9).
        promotion: letter of the new piece, or "".
        check: whether it must give check.
    """

    codes: tuple[int, ...]
    from_file: int | None = None
    from_rank: int | None = None
    capture: bool = False
    promotion: str = ""
    check: bool = False

    @property
    def _pawn(self) -> bool:
        return all(code < 64 for code in self.codes)

    @property
    def _across(self) -> bool:
        """Whether a pawn leaves its file, as in "ed5"."""
        return self._pawn and self.from_file is not None and all(code % 8 != self.from_file for code in self.codes)

    @property
    def takes(self) -> bool:
        """Whether only captures are it."""
        return self.capture or self._across

    def fits(self, move: int | None, origin: int, san: str) -> bool:
        """Whether a node's move is it.

        Args:
            move: its code.
            origin: its square of departure.
            san: the move in SAN.
        """
        return (
            move in self.codes
            and (self.from_file is None or chess.square_file(origin) == self.from_file)
            and (self.from_rank is None or chess.square_rank(origin) == self.from_rank)
            and ("x" in san if self.takes else not self._pawn or "x" not in san)
            and (not self.promotion or f"={self.promotion}" in san)
            and (not self.check or san[-1:] in ("+", "#"))
        )


def parse_move(text: str) -> MoveAsked:
    """The move in a text.

    Raises:
        InputError: it tells no move.
    """
    said = " ".join(text.split())
    castle = _CASTLES.get(said.rstrip("+#!?").replace("0", "O").upper())
    if castle is not None:
        return MoveAsked((castle,))
    match = _SAN.fullmatch(said)
    if match:
        piece, file, rank, capture, target, promotion = match.groups()
        kind = chess.PIECE_SYMBOLS.index((piece or "P").lower())
        return MoveAsked(
            ((kind - 1) * 64 + chess.parse_square(target),),
            None if file is None else ord(file) - ord("a"),
            None if rank is None else int(rank) - 1,
            bool(capture),
            promotion or "",
        )
    return _spoken(said)


def _spoken(said: str) -> MoveAsked:
    # what is spoken is understood as in a talk; loading that takes a while
    from aligner.captions.words import Word
    from aligner.speech.listen import listen

    words = tuple(Word(word, 300 * n, 300 * n + 300, 0) for n, word in enumerate(said.split()[:12]))
    heard = listen(words) if words else None
    for stretch in heard.stretches if heard else ():
        for spoken in stretch.spoken:
            told = spoken.phrase.moves[0]
            codes: tuple[int, ...] = ()
            if told.castle:
                codes = {"short": (CASTLE_SHORT,), "long": (CASTLE_LONG,)}.get(told.castle, (CASTLE_SHORT, CASTLE_LONG))
            elif told.target is not None:
                # without a piece and without a capture a square means a pawn's move, as in algebraic notation
                letters = told.piece or ("PNBRQK" if told.capture else "P")
                targets = {told.target, told.target_for_black if told.target_for_black is not None else told.target}
                codes = tuple("PNBRQK".index(letter) * 64 + target for letter in letters for target in sorted(targets))
            if codes:
                return MoveAsked(
                    codes, told.from_file, told.from_rank, told.capture, told.promotion.strip("?"), told.check
                )
    raise InputError(f"{said!r} tells no move with its square; {_EXAMPLE}.", "--move")


def parse_sequence(text: str) -> chess.Board:
    """The position after moves from the usual start position, "1. e4 c5 2. Nf3" or "e4 c5 Nf3".

    Raises:
        InputError: there is no move, or one is not legal.
    """
    board = chess.Board()
    count = 0
    for token in re.sub(r"\d+\.+", " ", text.replace(",", " ")).split():
        try:
            board.push_san(token.rstrip("!?").replace("0-0", "O-O").replace("O-0", "O-O"))
        except ValueError:
            side = "White" if board.turn else "Black"
            raise InputError(
                f"{token!r} is no legal move of {side} at move {board.fullmove_number}; write moves in algebraic "
                'notation, for example "e4 c5 Nf3".',
                "--after",
            ) from None
        count += 1
        if count > 600:
            raise InputError("there are more than 600 moves; ask by --fen.", "--after")
    if not count:
        raise InputError('there is no move; write for example "e4 c5 Nf3".', "--after")
    return board

"""What words say of a move: a partial description, any part of which may be missing."""

from __future__ import annotations

from dataclasses import dataclass, field

Terms = tuple[tuple[str, float], ...]
"""Named amounts that prices are multiplied with."""


@dataclass(frozen=True, slots=True)
class Description:
    """A move as far as it was described.

    Attributes:
        form: how it was worded ("piece_to", "square", "takes", "castle", ...); prices depend on it.
        piece: letter of the moving piece, upper case; "" where unsaid.
        from_file: 0 to 7 (a to h), or None.
        from_rank: 0 to 7 (1 to 8), or None.
        target: square 0 to 63 if White moves, or None.
        target_for_black: the same if Black moves; differs in descriptive notation, whose ranks count from the mover.
        to_file: 0 to 7 where only the file was named, or None.
        capture: whether a capture was said.
        captured: letter of the captured piece; "" where unsaid.
        castle: "", "short", "long" or "any".
        promotion: letter of the new piece; "" where unsaid; "?" for a promotion without a piece.
        check: whether check was said.
        mate: whether mate was said.
        side: True for White, False for Black, None where unsaid.
        way: "back", "up", "aside" or "".
        manner: what else is said of how the move goes: "passing" (en passant), "mirrored" (as the other side just did),
            "past" (a pawn beside an enemy pawn), "out" (from the back rank), "doubles" (rooks on a file), "open" (to a
            file without own pawns), "corner", "centre" (nearer to it), "returns" (back, out of an attack or to where it
            came from), "blocks" and "evades" (a check), "guards" (a man that is attacked), "hits" and "pins" (a man of
            the other side), "offers" (an exchange of its kind), "fellow" (of the kind that its side moved last, another
            one), or "".
        steps: squares that the piece is said to move; 0 where unsaid.
        to_rank: 0 to 7, counted from the mover's side, where only the rank was named, or None.
        shade: "light" or "dark" for a bishop named by its squares, else "".
        wing: "king" or "queen" for a piece named by the wing it came from, else "".
        other: whether it is said to be the other one of its kind: not the one that its side moved last.
        stood: "front" or "rear" for a piece that stands before or behind all others of its kind, "corner" for one in a
            corner, else "".
        hits: letter of the man that it is said to attack or to pin; "" where unsaid.
    """

    form: str
    piece: str = ""
    from_file: int | None = None
    from_rank: int | None = None
    target: int | None = None
    target_for_black: int | None = None
    to_file: int | None = None
    capture: bool = False
    captured: str = ""
    castle: str = ""
    promotion: str = ""
    check: bool = False
    mate: bool = False
    side: bool | None = None
    way: str = ""
    shade: str = ""
    wing: str = ""
    other: bool = False
    stood: str = ""
    hits: str = ""
    manner: str = ""
    steps: int = 0
    to_rank: int | None = None


@dataclass(frozen=True, slots=True)
class Phrase:
    """Tokens that may speak of one move or of several, in one reading.

    Attributes:
        start: index of the first token.
        end: index after the last token.
        moves: what is said of each move, in order.
        terms: what this reading takes for granted (sounds, spellings), priced by the search.
        stands: square the words put a piece on, where they may be a statement and no move; (piece, square, side).
        alone: "sound" for words that only sound like a move, "piece" for a bare piece, where nothing in the phrase
            itself tells of a move; "" for all others.
        fixed: moves in UCI where the words are a name that stands for moves, else empty.
    """

    start: int
    end: int
    moves: tuple[Description, ...]
    terms: Terms = ()
    stands: tuple[str, int, bool | None] | None = None
    fixed: tuple[str, ...] = field(default=())
    alone: str = ""

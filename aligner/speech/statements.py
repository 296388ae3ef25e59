"""What is said of a position as a whole: "a pawn up", "White to move", "the queens are off", "a rook ending"."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from aligner.speech.lexicon import Entry
from aligner.speech.subjects import file_number
from aligner.speech.wordings import Wordings


@dataclass(frozen=True, slots=True)
class Statement:
    """Something that is true of a position or false.

    Attributes:
        start: index of the first token.
        end: index after the last token.
        kind: "ahead" (of somebody's material), "level" (of both sides'), "turn" (whose move it is), "gone" (pieces that
            are all off the board), "ending" (which pieces are left) or "open" (a file without pawns).
        value: for "ahead" a unit ("pawn", "minor", "exchange", "rook", "queen"), for "turn" the side, for "gone" and
            "ending" letters of pieces, for "open" the number of the file, 0 to 7; else "".
        count: for "ahead", of units.
        side: for "ahead" the side that has more, True for White; None where either may.
    """

    start: int
    end: int
    kind: str
    value: str = ""
    count: int = 1
    side: bool | None = None


class Claim(NamedTuple):
    """That somebody is ahead, or behind.

    Attributes:
        said: what is claimed.
        plain: whether nothing was given for it, so that it can be counted.
    """

    said: Statement
    plain: bool


def statements(claims: Iterable[Claim], wordings: Wordings) -> tuple[Statement, ...]:
    """What is stated in a talk, in order; what is supposed, denied or asked is left out.

    Args:
        claims: of it.
        wordings: of the statements' lexicon, found in it.
    """
    found = [claim.said for claim in claims if claim.plain]
    found += _open(wordings)
    for kind in ("level", "turn", "gone", "ending"):
        for wording in wordings.of(kind):
            if kind != "level" or not wordings.at(wording.end, "compensated"):
                value = "" if kind == "level" else wording.value
                found.append(Statement(wording.start, wording.end, kind, value))
    found.sort(key=lambda one: (one.start, one.end, one.kind))
    return tuple(one for one in found if not wordings.supposed(one.start))


def claims(entries: Sequence[Entry], words: Wordings) -> Iterator[Claim]:
    """ "Two pawns up", "White is the exchange down": all of a talk, supposed ones too.

    Args:
        entries: of the lexicon, found in it.
        words: of the statements' lexicon, likewise.
    """
    begun: dict[int, bool] = {}  # sides by where they begin, and where they end, True for White
    ended: dict[int, bool] = {}
    for entry in entries:
        if entry.kind == "side":
            begun.setdefault(entry.start, entry.value == "white")
            ended.setdefault(entry.end, entry.value == "white")
    for unit in words.of("unit"):
        count = words.before(unit.start, "count")
        if count is None:
            continue
        after = words.at(unit.end, "ahead")
        if after is not None and after.value == "behind" and words.before(count.start, "being") is None:
            continue
        before = words.before(count.start, "is_ahead")
        if after is None and before is None:
            continue
        start, end = (before.start if before else count.start), (after.end if after else unit.end)
        if before is None and words.at(end, "walk"):
            continue  # "a pawn up the board"
        being = words.before(start, "being")  # "White is", or "White" itself
        side = ended.get(start) if being is None else ended.get(being.start, begun.get(being.start))
        if side is not None and "ahead" not in (after.value if after else "", before.value if before else ""):
            side = not side
        said = Statement(start, end, "ahead", unit.value, int(count.value), side)
        yield Claim(said, words.at(end, "compensated") is None)


def _open(words: Wordings) -> Iterator[Statement]:
    """ "The open d-file", "the d-file is open"."""
    for file in words.of("file_named"):
        before, after = words.before(file.start, "open"), words.at(file.end, "is_open")
        if before is not None or after is not None:
            start, end = before.start if before else file.start, after.end if after else file.end
            yield Statement(start, end, "open", str(file_number(file.value)))

"""Moves in a captioner's symbols ("Nf3", "exd5", "O-O", "e8=Q") into descriptions."""

from __future__ import annotations

import re
from functools import lru_cache

from aligner.speech.description import Description

_MOVE = re.compile(
    r"(?P<piece>[kqrbn]?)(?P<file>[a-h]?)(?P<rank>[1-8]?)(?P<takes>[-–x:]?)(?P<target>[a-h][1-8])"
    r"(?:=?\(?(?P<promotion>[qrbn])\)?)?(?:e\.p\.)?(?P<check>[+#]*)[!?]*"
)
_WITHOUT_PIECE = re.compile(_MOVE.pattern.replace("[kqrbn]?", ""))
_FILES = re.compile(r"(?P<file>[a-h])[1-8]?[x:](?P<onto>[a-h])(?P<check>[+#]*)[!?]*")
_CASTLE = re.compile(r"[o0][-–][o0](?P<long>[-–][o0])?(?P<check>[+#]*)[!?]*")


@lru_cache(maxsize=4096)
def read_symbols(raw: str) -> tuple[Description, ...]:
    """The readings of one token in symbols, likeliest first; none where it is no move in symbols.

    In lower case "bxc3" is the bishop's as well as the b-pawn's, so both are given. A square alone is left to
    the grammar.
    """
    lower = raw.lower()
    if castle := _CASTLE.fullmatch(lower):
        return (
            Description(
                "symbols",
                piece="K",
                castle="long" if castle["long"] else "short",
                check="+" in lower,
                mate="#" in lower,
            ),
        )
    if files := _FILES.fullmatch(lower):
        first, onto = (ord(files[name]) - ord("a") for name in ("file", "onto"))
        taken = Description(
            "symbols", "P", first, to_file=onto, capture=True, check="+" in files["check"], mate="#" in files["check"]
        )
        return (taken,) if abs(first - onto) == 1 else ()
    readings = []
    found = _matches(lower)
    # "g1-f3" may be any piece's move; "e2-e4" the pawn's, too
    coordinates = [(match, True) for match in found if match["rank"] and match["file"] and not match["piece"]]
    for match, unnamed in [*((match, False) for match in found), *coordinates]:
        piece = match["piece"].upper()
        if piece and raw[0].islower() and piece != "B" and not lower.startswith(("n", "k", "q", "r")):
            continue
        if not piece and raw[0].isupper() and raw[0] == "B" and match["file"]:
            continue
        plain = not (piece or match["file"] or match["rank"] or match["takes"] or match["promotion"])
        if plain and not match["check"]:
            return ()
        readings.append(
            Description(
                "symbols",
                piece=piece or ("" if unnamed else "P"),
                from_file=ord(match["file"]) - ord("a") if match["file"] else None,
                from_rank=int(match["rank"]) - 1 if match["rank"] else None,
                target=square(match["target"]),
                target_for_black=square(match["target"]),
                capture=match["takes"] in (":", "x") and bool(match["takes"]),
                promotion=(match["promotion"] or "").upper(),
                check="+" in match["check"],
                mate="#" in match["check"],
            )
        )
    return tuple(readings)


def square(name: str) -> int:
    """0 for a1 to 63 for h8, as python-chess counts."""
    return (ord(name[0]) - ord("a")) + 8 * (int(name[1]) - 1)


def _matches(lower: str) -> list[re.Match[str]]:
    found = []
    if lower[:1] == "b" and (match := _MOVE.fullmatch(lower)):
        found.append(match)
        if without := _WITHOUT_PIECE.fullmatch(lower):
            found.append(without)
    elif match := _MOVE.fullmatch(lower):
        found.append(match)
    return found

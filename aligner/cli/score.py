"""Which score is it? `aligner score`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from aligner.cli.catalogue import Address
from aligner.cli.terminal import put, say
from aligner.errors import InputError, MismatchError
from aligner.files import check_outputs, write_files
from aligner.record.printing import clean

if TYPE_CHECKING:
    from aligner.captions.words import Captions
    from aligner.catalogue.scores import Found, Match
    from aligner.pgn.score import Score


def score(
    captions: Annotated[Path, typer.Argument(metavar="CAPTIONS", help="Of the talk.")],
    scores: Annotated[Path, typer.Option("--scores", metavar="DATABASE.pgn", help="A file of many games.")],
    out: Annotated[
        Path | None, typer.Option("-o", "--out", metavar="SCORE.pgn", help="Write the game found here.")
    ] = None,
    form: Annotated[str, typer.Option("--format", metavar="table|json", help="How to tell it.")] = "table",
    address: Address = None,
) -> None:
    """Find the game that a talk is about in a file of many games; runners-up and the evidence are told too."""
    if form not in ("table", "json"):
        raise InputError(f"there is no format {form!r}; choose one of table, json.", "--format")
    if out is not None:
        check_outputs([out], inputs=[captions, scores])

    from aligner.captions import read_captions
    from aligner.catalogue.scores import find_score, write_score

    talk = read_captions(captions)
    found = find_score(talk, scores, address, progress=lambda games: say(f"{games:,} games read"))
    if found.skipped:
        say(f"{found.skipped:,} games of the file could not be read and are left out.")
    matches = ([found.best] if found.best else []) + list(found.others)
    if form == "json":
        document = {
            "games": found.games,
            "best": _plain(found.best) if found.best else None,
            "others": [_plain(match) for match in found.others],
        }
        put(json.dumps(document, ensure_ascii=False, indent=1) + "\n")
    else:
        for place, match in enumerate(matches):
            mark = "is" if place == 0 and found.best else "or" if found.best else "near"
            put(clean(f"{mark} {_named(match)}: {match.evidence.sentence()}") + "\n")
    if found.best is None:
        raise _none_fits(found, talk)
    if out is not None:
        write_files({out: write_score(found.best.game.score)})


def the_score(talk: Captions, scores: Path) -> Score:
    """The score of the game that a talk is about, for `aligner align --scores`; which one it is goes to standard error.

    Raises:
        MismatchError: none fits.
        InputError: the file of games cannot be used.
    """
    from aligner.catalogue.scores import find_score

    found = find_score(talk, scores, progress=lambda games: say(f"{games:,} games read"))
    if found.best is None:
        raise _none_fits(found, talk)
    say(clean(f"the talk is about {_named(found.best)}"))
    return found.best.game.score


def _none_fits(found: Found, talk: Captions) -> MismatchError:
    what = f"none of the {found.games:,} games fits this talk; give the right file, or align it without a score."
    return MismatchError(what, talk.name)


def _named(match: Match) -> str:
    tags = match.game.score.headers
    players = f"{tags.get('White', '?')} - {tags.get('Black', '?')}, {tags.get('Result', '*')}"
    where = ", ".join(tags[tag] for tag in ("Event", "Date") if tags.get(tag, "").strip("?. "))
    return f"game {match.game.number:,}, {players}" + (f" ({where})" if where else "")


def _plain(match: Match) -> dict[str, Any]:
    evidence = match.evidence
    return {
        "number": match.game.number,
        "headers": match.game.score.headers,
        "moves": list(match.game.score.moves),
        "matched": evidence.matched,
        "plies": evidence.plies,
        "spoken": evidence.spoken,
        "share": round(evidence.share, 4),
    }

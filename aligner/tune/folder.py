"""The settled talks in a folder."""

from __future__ import annotations

from pathlib import Path

from aligner.errors import InputError
from aligner.pins.sidecar import SUFFIX, read_pins

CAPTIONS = (".vtt", ".srt", ".sbv", ".txt")
SCORES = (".pgn", ".game.pgn")


def settled_talks(folder: Path) -> list[tuple[Path, Path | None]]:
    """Captions beside which something is settled, each with its score: `talk.vtt` with `talk.pgn` or `talk.game.pgn`.

    Raises:
        InputError: there is no such folder.
    """
    if not folder.is_dir():
        raise InputError("there is no such folder; name one that holds settled talks.", str(folder))
    found: list[tuple[Path, Path | None]] = []
    for sidecar in sorted(folder.rglob(f"*{SUFFIX}")):
        stem = sidecar.name.removesuffix(SUFFIX)
        captions = next((path for end in CAPTIONS if (path := sidecar.with_name(stem + end)).is_file()), None)
        if captions is None or not read_pins(sidecar):
            continue
        score = next((path for end in SCORES if (path := sidecar.with_name(stem + end)).is_file()), None)
        found.append((captions, score))
    return found

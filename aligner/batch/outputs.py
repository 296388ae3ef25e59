"""The files a talk can be given: each a view of its record."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from importlib import import_module
from typing import cast

from aligner.errors import InputError
from aligner.record.model import Record


@dataclass(frozen=True, slots=True)
class Output:
    """A kind of output.

    Attributes:
        ending: of its files.
        maker: where the function from record to text is found, "module:function"; loaded only when asked for.
    """

    ending: str
    maker: str

    def text(self, record: Record) -> str:
        """The output of a record."""
        module, _, name = self.maker.partition(":")
        return cast(Callable[[Record], str], getattr(import_module(module), name))(record)


RECORD = "json"
"""The record itself, which is always written: all other outputs can be made from it again."""

OUTPUTS: Mapping[str, Output] = {
    RECORD: Output(".json", "aligner.record.document:record_to_json"),
    "pgn": Output(".pgn", "aligner.pgn.writer:write_pgn"),
    "chapters": Output(".chapters.vtt", "aligner.batch.outputs:chapters"),
}


def chapters(record: Record) -> str:
    """The chapters of a talk as WebVTT."""
    from aligner.chapters import chapter_track, choose

    return chapter_track(choose(record))


def chosen(names: Iterable[str]) -> dict[str, Output]:
    """The outputs of these names, the record first.

    Raises:
        InputError: there is no output of that name.
    """
    found = {RECORD: OUTPUTS[RECORD]}
    for name in names:
        if name not in OUTPUTS:
            raise InputError(f"there is no output {name[:40]!r}; choose from {', '.join(OUTPUTS)}.", "--write")
        found[name] = OUTPUTS[name]
    return found

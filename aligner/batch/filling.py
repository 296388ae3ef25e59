"""Entering the talks of a run into a catalogue, by the full path of their records, as `aligner catalogue add` does."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from aligner.catalogue.prepare import TalkRows
    from aligner.catalogue.store import Catalogue


class Filling:
    """An open catalogue and the names that are in it.

    Args:
        address: of the catalogue, a file or a server; made where it is missing.

    Raises:
        CatalogueError: it cannot be opened.
    """

    def __init__(self, address: str) -> None:
        from aligner.catalogue.store import open_catalogue

        self.catalogue: Catalogue = open_catalogue(address, make=True)
        self._names = {talk.name for talk in self.catalogue.talks()}

    def __contains__(self, record: Path) -> bool:
        return catalogue_name(record) in self._names

    def add(self, record: Path, rows: TalkRows | None) -> None:
        """Enter the talk of a record file; `rows` are what a worker prepared, None to read the file.

        Raises:
            CatalogueError: the catalogue refuses.
            RecordError: the file is no record.
        """
        from aligner.catalogue.intake import prepare_file

        name = catalogue_name(record)
        for _ in self.catalogue.add_rows([(name, rows if rows is not None else prepare_file(name))]):
            self._names.add(name)

    def close(self) -> None:
        """Give the catalogue back."""
        self.catalogue.close()


def catalogue_name(record: Path) -> str:
    """What a talk is called in the catalogue: the full path of its record."""
    return str(record.resolve())

"""What the record's fields may hold beyond their types, and what their class says of them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from aligner.record import model

Field = tuple[type, str]

PARTS: tuple[type, ...] = (
    model.Recording,
    model.SpokenWord,
    model.Alternative,
    model.Node,
    model.Mention,
    model.Meant,
    model.Finding,
    model.Game,
    model.Record,
)
"""The classes a record is made of."""

CHOICES: Mapping[Field, tuple[str, ...]] = MappingProxyType(
    {
        (model.Node, "source"): ("spoken", "score", "inferred"),
        (model.Mention, "kind"): ("move", "again", "slip", "idea"),
        (model.Alternative, "kind"): ("move", "again", "slip", "idea", "none"),
        (model.Finding, "cause"): ("speaker", "caption", "unsure"),
        (model.Finding, "kind"): (
            "square",
            "file",
            "rank",
            "piece",
            "origin",
            "side",
            "castling",
            "capture",
            "promotion",
            "mirrored",
            "check",
            "number",
            "garble",
            "position",
            "colour",
            "material",
            "only",
            "mate",
        ),
    }
)
"""The values of the fields that know only some."""

_PROBABILITY = (0.0, 1.0)
_FROM_ZERO = (0.0, None)
BOUNDS: Mapping[Field, tuple[float, float | None]] = MappingProxyType(
    {
        (model.Recording, "seconds"): _FROM_ZERO,
        (model.Recording, "words"): _FROM_ZERO,
        (model.SpokenWord, "start"): _FROM_ZERO,
        (model.SpokenWord, "end"): _FROM_ZERO,
        (model.SpokenWord, "cue"): _FROM_ZERO,
        (model.Alternative, "confidence"): _PROBABILITY,
        (model.Node, "id"): _FROM_ZERO,
        (model.Node, "ply"): _FROM_ZERO,
        (model.Node, "confidence"): _PROBABILITY,
        (model.Node, "times"): _FROM_ZERO,
        # PGN standard, 8.2.4: a Numeric Annotation Glyph is 0 to 255.
        (model.Node, "nags"): (0.0, 255.0),
        (model.Mention, "start"): _FROM_ZERO,
        (model.Mention, "end"): _FROM_ZERO,
        (model.Mention, "words"): _FROM_ZERO,
        (model.Mention, "confidence"): _PROBABILITY,
        (model.Finding, "start"): _FROM_ZERO,
        (model.Finding, "end"): _FROM_ZERO,
        (model.Finding, "words"): _FROM_ZERO,
        (model.Finding, "confidence"): _PROBABILITY,
        (model.Game, "start"): _FROM_ZERO,
        (model.Game, "end"): _FROM_ZERO,
    }
)
"""Least and greatest value of a number, or of each number in a list; None: no greatest."""

_ATTRIBUTES = re.compile(r"^Attributes:\n(.*)", re.MULTILINE | re.DOTALL)
_ENTRY = re.compile(r"^ {4}(\w+): (.*(?:\n {8}.*)*)", re.MULTILINE)


def summary(part: type) -> str:
    """The first sentence of a class's description."""
    return (part.__doc__ or "").strip().split("\n", 1)[0]


def descriptions(part: type) -> dict[str, str]:
    """What the `Attributes` section of a class says of each field, each on one line."""
    text = "\n".join(line.removeprefix("    ") for line in (part.__doc__ or "").splitlines())
    section = _ATTRIBUTES.search(text)
    if section is None:
        return {}
    return {name: " ".join(said.split()) for name, said in _ENTRY.findall(section.group(1))}

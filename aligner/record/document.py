"""The alignment record as a JSON document (RFC 8259, UTF-8): one line for each node, mention, finding and word."""

from __future__ import annotations

import dataclasses
import json
import re
from collections.abc import Iterable, Iterator
from typing import Any

from aligner.errors import RecordError
from aligner.record.checks import faults
from aligner.record.decoding import Misfit, decoder, shown
from aligner.record.model import VERSION, Game, Node, Record, SpokenWord

_AGAIN = "write the record again with `aligner align`"
_LONE_SURROGATE = re.compile("[\ud800-\udfff]")
_encode = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(", ", ": ")).encode


def record_to_json(record: Record) -> str:
    """The record as JSON text: the same record always gives the same text.

    Fields stand in the order of the classes. Left out, because their defaults say the same: `alternatives` of a
    node and `speaker` of a word where there are none, and in node 0 everything that has its default.

    Raises:
        RecordError: a number in it is not finite.
    """
    try:
        text = "".join(_document(record))
    except ValueError:
        raise RecordError("the record holds a number that is not finite and cannot be written.") from None
    # Half a surrogate pair has no UTF-8 form, but JSON can spell it.
    return _LONE_SURROGATE.sub(lambda match: f"\\u{ord(match.group()):04x}", text)


def _document(record: Record) -> Iterator[str]:
    yield f'{{\n  "version": {record.version},\n'
    yield f'  "recording": {_encode(_plain(record.recording))},\n'
    yield f'  "notes": {_rows(map(_encode, record.notes), "  ")},\n'
    yield '  "games": ['
    for place, game in enumerate(record.games):
        yield ",\n" if place else "\n"
        yield from _game(game)
    yield "\n  ],\n" if record.games else "],\n"
    yield f'  "words": {_rows((_encode(_word(word)) for word in record.words), "  ")}\n}}\n'


def _game(game: Game) -> Iterator[str]:
    yield f'    {{\n      "start_fen": {_encode(game.start_fen)},\n'
    yield f'      "headers": {_encode(game.headers)},\n'
    yield f'      "start": {_encode(game.start)},\n      "end": {_encode(game.end)},\n'
    yield f'      "nodes": {_rows((_encode(_node(node)) for node in game.nodes), "      ")},\n'
    yield f'      "mentions": {_rows((_encode(_plain(mention)) for mention in game.mentions), "      ")},\n'
    yield f'      "findings": {_rows((_encode(_plain(finding)) for finding in game.findings), "      ")}\n'
    yield "    }"


def _rows(rows: Iterable[str], margin: str) -> str:
    joined = f",\n{margin}  ".join(rows)
    return f"[\n{margin}  {joined}\n{margin}]" if joined else "[]"


def _plain(value: Any) -> dict[str, Any]:
    plain: dict[str, Any] = {name: getattr(value, name) for name in value.__slots__}
    if "alternatives" in plain:
        plain["alternatives"] = [_plain(alternative) for alternative in plain["alternatives"]]
    if "meant" in plain:
        plain["meant"] = _plain(plain["meant"])
    return plain


def _word(word: SpokenWord) -> dict[str, Any]:
    plain = _plain(word)
    if plain["speaker"] is None:
        del plain["speaker"]
    return plain


def _node(node: Node) -> dict[str, Any]:
    plain = _plain(node)
    if not node.alternatives:
        del plain["alternatives"]
    if node.uci is None:
        defaults = {field.name: field.default for field in dataclasses.fields(Node)}
        plain = {name: value for name, value in plain.items() if value != defaults[name]}
    return plain


def record_from_json(text: str, name: str) -> Record:
    """The record in a JSON text, checked: types, ids, the tree, every move where it stands, the order of times.

    Args:
        text: as `record_to_json` writes it.
        name: what to call the file in a message.

    Raises:
        RecordError: it is no record, is damaged, or was written by a newer version.
    """
    plain = _parse(text, name)
    _check_version(plain, name)
    try:
        record: Record = decoder(Record)(plain)
    except Misfit as misfit:
        place = f"at {misfit.place}, " if misfit.place else ""
        raise RecordError(f"the record is damaged: {place}{misfit.message}; {_AGAIN}.", name) from None
    fault = next(faults(record), None)
    if fault is not None:
        raise RecordError(f"the record is damaged: {fault}; {_AGAIN}.", name)
    return record


def _parse(text: str, name: str) -> dict[str, object]:
    if not text.strip():
        raise RecordError(f"the file is empty; {_AGAIN}.", name)
    try:
        plain = json.loads(text.removeprefix("\ufeff"))
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise RecordError(f"this is not JSON ({error.msg}, {where}); {_AGAIN}.", name) from None
    except RecursionError:
        raise RecordError(f"this is no alignment record, its brackets nest too deep; {_AGAIN}.", name) from None
    except ValueError:
        raise RecordError(f"this is no alignment record, a number in it is too long; {_AGAIN}.", name) from None
    if not isinstance(plain, dict) or not {"version", "games"} & plain.keys():
        raise RecordError("this is JSON, but no alignment record; name a file that `aligner align --json` wrote.", name)
    return plain


def _check_version(plain: dict[str, object], name: str) -> None:
    version = plain.get("version", VERSION)
    if type(version) is not int or version < 1:
        raise RecordError(f"the record's version is {shown(version)}, not a number from 1 on; {_AGAIN}.", name)
    if version > VERSION:
        raise RecordError(
            f"the record has version {version}, and this program knows versions up to {VERSION}; "
            "update the program, or write the record again with this one.",
            name,
        )

"""The JSON Schema (draft 2020-12) of the alignment record, made from the classes and what they say of their fields.

`python -m aligner.record.schema` writes it to `record.schema.json` beside this module.
"""

from __future__ import annotations

import dataclasses
import json
import types
import typing
from pathlib import Path
from typing import Any

from aligner.record.model import VERSION, Record
from aligner.record.shape import BOUNDS, CHOICES, PARTS, descriptions, summary

PATH = Path(__file__).with_name("record.schema.json")
Schema = dict[str, Any]


def record_schema() -> Schema:
    """The schema of a whole record."""
    record = _part(Record)
    record["properties"]["version"] |= {"minimum": 1, "maximum": VERSION}
    record["properties"]["games"] |= {"minItems": 1}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Alignment record",
        **record,
        "$defs": {part.__name__: _part(part) for part in PARTS if part is not Record},
    }


def schema_text() -> str:
    """The schema as the file holds it."""
    return json.dumps(record_schema(), indent=2, ensure_ascii=False) + "\n"


def _part(part: type) -> Schema:
    hints, said = typing.get_type_hints(part), descriptions(part)
    properties: Schema = {}
    required: list[str] = []
    for field in dataclasses.fields(part):
        schema = _type(hints[field.name])
        if (part, field.name) in BOUNDS:
            _bound(schema, *BOUNDS[part, field.name])
        if (part, field.name) in CHOICES:
            schema["enum"] = list(CHOICES[part, field.name])
        if field.name in said:
            schema["description"] = said[field.name]
        if field.default is not dataclasses.MISSING:
            schema["default"] = list(field.default) if isinstance(field.default, tuple) else field.default
        elif field.default_factory is dataclasses.MISSING:
            required.append(field.name)
        properties[field.name] = schema
    return {
        "description": summary(part),
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": False,
    }


def _type(hint: Any) -> Schema:
    if dataclasses.is_dataclass(hint):
        return {"$ref": f"#/$defs/{typing.cast(type, hint).__name__}"}
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin in (types.UnionType, typing.Union):
        inner = _type(next(argument for argument in arguments if argument is not types.NoneType))
        return {**inner, "type": [inner["type"], "null"]}
    if origin is tuple and arguments[-1] is Ellipsis:
        return {"type": "array", "items": _type(arguments[0])}
    if origin is tuple:
        return {"type": "array", "items": _type(arguments[0]), "minItems": 2, "maxItems": 2}
    if origin is dict:
        return {"type": "object", "additionalProperties": _type(arguments[1])}
    return {"type": {str: "string", int: "integer", float: "number", bool: "boolean"}[hint]}


def _bound(schema: Schema, least: float, greatest: float | None) -> None:
    while "items" in schema:
        schema = schema["items"]
    schema["minimum"] = int(least)
    if greatest is not None:
        schema["maximum"] = int(greatest)


if __name__ == "__main__":
    PATH.write_text(schema_text(), encoding="utf-8")

"""The interface described as OpenAPI 3.1 (OpenAPI Specification 3.1.0)."""

from __future__ import annotations

import dataclasses
from typing import Any, get_type_hints

from aligner import __version__
from aligner.catalogue.answers import Moment
from aligner.catalogue.question import MOST_ANSWERS, WHAT
from aligner.catalogue.store import Talk
from aligner.catalogue.summary import Summary

PARAMETERS: tuple[tuple[str, str, str], ...] = (
    ("move", "A move, in symbols or as it is spoken.", "Nf5"),
    ("fen", "A position: the same one by whatever order of moves.", "8/8/8/8/8/4k3/4p3/4K3 w - - 0 1"),
    ("after", "Moves from the start; everything on from there.", "e4 c5 Nf3"),
    ("partial", "Part of a position.", "white knight d5, no light-squared bishops"),
    (
        "words",
        'Words that must all be said; "several in a row" in quotes, -word for one that must not.',
        "minority attack",
    ),
    ("opening", "An opening's name or part of it, or its code.", "B90"),
    ("player", "A player's name or part of it; may be given twice.", "Penhallow"),
    ("event", "An event's name or part of it.", "League"),
    ("since", "First date.", "2024-05"),
    ("until", "Last date.", "2024"),
)
_JSON = {str: "string", int: "integer", float: "number"}


def openapi() -> dict[str, Any]:
    """The description of the interface."""
    parameters = [
        {
            "name": name,
            "in": "query",
            "description": text,
            "schema": {"type": "string", "maxLength": 500},
            "example": example,
        }
        for name, text, example in PARAMETERS
    ]
    for parameter in parameters:
        if parameter["name"] == "player":
            parameter["schema"] = {"type": "array", "items": {"type": "string"}, "maxItems": 2}
    several = {"type": "array", "items": {"type": "string", "enum": list(WHAT)}}
    limit = {"type": "integer", "minimum": 1, "maximum": MOST_ANSWERS, "default": 20}
    confidence = {"type": "number", "minimum": 0, "maximum": 1, "default": 0}
    parameters += [
        {"name": "kind", "in": "query", "description": "Kinds of moments.", "schema": several},
        {"name": "confidence", "in": "query", "description": "The least confidence.", "schema": confidence},
        {"name": "limit", "in": "query", "description": "How many answers.", "schema": limit},
    ]
    answers = {
        "type": "object",
        "required": ["nearest", "answers"],
        "properties": {
            "nearest": {"type": "string", "description": "Empty, or how near the answers come to the question."},
            "answers": {"type": "array", "items": {"$ref": "#/components/schemas/Moment"}},
        },
    }
    return {
        "openapi": "3.1.0",
        "info": {"title": "Catalogue of talks about chess", "version": __version__},
        "paths": {
            "/api/find": {
                "get": _operation("find", "Moments that fit all conditions, best first.", answers, parameters)
            },
            "/api/talks": {"get": _operation("talks", "All talks.", _list("Talk"))},
            "/api/summary": {
                "get": _operation("summary", "The archive at a glance.", {"$ref": "#/components/schemas/Summary"})
            },
        },
        "components": {
            "schemas": {
                "Moment": _object(Moment),
                "Talk": _object(Talk),
                "Summary": {"type": "object"} | _summary(),
                "Fault": {
                    "type": "object",
                    "required": ["error"],
                    "properties": {"error": {"type": "string", "description": "What is wrong, one sentence."}},
                },
            }
        },
    }


def _operation(
    name: str, text: str, schema: dict[str, Any], parameters: list[dict[str, Any]] | None = None
) -> dict[str, Any]:
    def answer(description: str, schema: dict[str, Any]) -> dict[str, Any]:
        return {"description": description, "content": {"application/json": {"schema": schema}}}

    fault = {"$ref": "#/components/schemas/Fault"}
    return {
        "operationId": name,
        "summary": text,
        "parameters": parameters or [],
        "responses": {
            "200": answer(text, schema),
            "400": answer("The question is none.", fault),
            "503": answer("The catalogue cannot be read.", fault),
        },
    }


def _list(name: str) -> dict[str, Any]:
    return {"type": "array", "items": {"$ref": f"#/components/schemas/{name}"}}


def _object(kind: type) -> dict[str, Any]:
    hints = get_type_hints(kind)
    names = [field.name for field in dataclasses.fields(kind)]
    properties = {name: {"type": _JSON.get(hints[name], ["string", "null"])} for name in names}
    return {"type": "object", "required": names, "properties": properties}


def _summary() -> dict[str, Any]:
    hints = get_type_hints(Summary)
    properties = {name: {"type": _JSON.get(kind, "array")} for name, kind in hints.items()}
    return {"required": list(properties), "properties": properties}

"""The record's JSON Schema, by the reference library `jsonschema` (draft 2020-12), and against the classes' words."""

from __future__ import annotations

import dataclasses
import json
import re
import typing
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from invented_records import records, small_record
from test_document import damaged_documents

from aligner.errors import RecordError
from aligner.record import model
from aligner.record.document import record_from_json, record_to_json
from aligner.record.model import Record
from aligner.record.schema import PATH, record_schema, schema_text
from aligner.record.shape import BOUNDS, CHOICES, PARTS, descriptions, summary

jsonschema = pytest.importorskip("jsonschema")
VALIDATOR = jsonschema.Draft202012Validator(record_schema())


def test_the_file_is_the_generated_one() -> None:
    assert PATH.read_text(encoding="utf-8") == schema_text(), "run: python -m aligner.record.schema"


def test_it_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(record_schema())


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(records())
def test_every_record_fits(record: Record) -> None:
    VALIDATOR.validate(json.loads(record_to_json(record)))


@settings(max_examples=200, deadline=None)
@given(damaged_documents())
def test_what_the_schema_refuses_the_reader_refuses(plain: Any) -> None:
    if not VALIDATOR.is_valid(plain):
        with pytest.raises(RecordError):
            record_from_json(json.dumps(plain), "talk.json")


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.__name__)
def test_every_field_is_described(part: type) -> None:
    assert summary(part)
    if part is not model.Meant:
        assert list(descriptions(part)) == [field.name for field in dataclasses.fields(part)]


def test_all_the_classes_are_there() -> None:
    classes = {value for value in vars(model).values() if dataclasses.is_dataclass(value)}
    assert set(PARTS) == classes


@pytest.mark.parametrize(("part", "name"), CHOICES, ids=lambda item: getattr(item, "__name__", item))
def test_the_values_are_those_the_class_names(part: type, name: str) -> None:
    assert CHOICES[part, name] == tuple(re.findall(r'"(\w+)"', descriptions(part)[name]))


def test_bounds_are_of_fields_that_exist() -> None:
    for part, name in BOUNDS:
        assert name in typing.get_type_hints(part)
    assert small_record().version == model.VERSION

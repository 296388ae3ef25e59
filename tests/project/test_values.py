"""Values are frozen, slotted and documented; errors are sentences that survive pickling."""

from __future__ import annotations

import dataclasses
import importlib
import inspect
import pickle
import pkgutil
import re

import pytest

import aligner
from aligner.errors import AlignerError

MODULES = [
    importlib.import_module(found.name)
    for found in pkgutil.walk_packages(aligner.__path__, "aligner.")
    if not found.name.endswith("__main__")
]
CLASSES = sorted(
    {
        value
        for module in MODULES
        for value in vars(module).values()
        if inspect.isclass(value) and value.__module__.startswith("aligner.")
    },
    key=lambda value: f"{value.__module__}.{value.__qualname__}",
)
DATACLASSES = [value for value in CLASSES if dataclasses.is_dataclass(value)]
ERRORS = [value for value in CLASSES if issubclass(value, AlignerError)]


def name(value: type) -> str:
    return f"{value.__module__}.{value.__qualname__}"


@pytest.mark.parametrize("value", DATACLASSES, ids=name)
def test_dataclasses_are_frozen_and_slotted(value: type) -> None:
    parameters = value.__dataclass_params__  # type: ignore[attr-defined]
    assert parameters.frozen
    assert "__slots__" in vars(value)


@pytest.mark.parametrize("value", [value for value in DATACLASSES if not value.__name__.startswith("_")], ids=name)
def test_every_field_is_explained_in_the_docstring(value: type) -> None:
    text = inspect.getdoc(value) or ""
    assert not text.startswith(f"{value.__name__}("), "this is the docstring that dataclass makes up"
    missing = [
        field.name
        for field in dataclasses.fields(value)  # type: ignore[arg-type]
        if not field.name.startswith("_") and not re.search(rf"\b{re.escape(field.name)}\b", text)
    ]
    assert not missing


@pytest.mark.parametrize("error", ERRORS, ids=name)
def test_errors_are_sentences_with_a_status_and_pickle(error: type[AlignerError]) -> None:
    made = error("the second line is no time.", *(["talk.vtt, line 2"] if error is not AlignerError else []))
    again = pickle.loads(pickle.dumps(made))
    assert type(again) is error
    assert str(again) == str(made) and again.__dict__ == made.__dict__
    assert "the second line is no time." in str(made) and "\n" not in str(made)
    assert error.exit_status in (2, 3)
    assert inspect.getdoc(error) and error.__doc__


def test_every_error_of_the_project_derives_from_its_base() -> None:
    own = [value for value in CLASSES if issubclass(value, Exception) and not value.__name__.startswith("_")]
    # caught where they are expected, never told to a user
    signals = {
        "aligner.cli.terminal.ReaderGone",
        "aligner.record.decoding.Misfit",
        "aligner.follow.following.Rewritten",
    }
    assert [name(value) for value in own if not issubclass(value, AlignerError) and name(value) not in signals] == []

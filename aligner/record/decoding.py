"""From plain JSON values to the record's classes, field by field, along the types the classes declare."""

from __future__ import annotations

import dataclasses
import math
import types
import typing
from collections.abc import Callable
from functools import cache
from typing import Any

from aligner.record.shape import BOUNDS, CHOICES

Decoder = Callable[[object], Any]


class Misfit(Exception):
    """A value that does not fit its place; the place grows from the inside out as the error travels up.

    Args:
        message: what is wrong, without the place.
    """

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message
        self.steps: list[str] = []

    @property
    def place(self) -> str:
        """Where in the file, like `games[0].nodes[3].uci`; "" for the whole file."""
        return "".join(reversed(self.steps)).removeprefix(".")


def shown(value: object) -> str:
    """A value as it may stand in a sentence: short, on one line."""
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


@cache
def decoder(hint: Any) -> Decoder:
    """What turns a JSON value into a value of the declared type, or raises `Misfit`."""
    if dataclasses.is_dataclass(hint):
        return _object(typing.cast(type, hint))
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin in (types.UnionType, typing.Union):
        inner = decoder(next(argument for argument in arguments if argument is not types.NoneType))
        return lambda value: None if value is None else inner(value)
    if origin is tuple and arguments[-1] is Ellipsis:
        return _list(decoder(arguments[0]))
    if origin is tuple:
        return _pair(decoder(arguments[0]))
    if origin is dict:
        return _text_by_name
    return {str: _text, int: _whole, float: _number, bool: _flag}[hint]


def _text(value: object) -> str:
    if type(value) is not str:
        raise Misfit(f"text was expected, not {shown(value)}")
    return value


def _whole(value: object) -> int:
    if type(value) is not int:
        raise Misfit(f"a whole number was expected, not {shown(value)}")
    return value


def _number(value: object) -> float:
    # A whole number too large for a float is no time and no confidence either.
    if type(value) is int and abs(value) < 2**53:
        return float(value)
    if type(value) is not float or not math.isfinite(value):
        raise Misfit(f"a number was expected, not {shown(value)}")
    return value


def _flag(value: object) -> bool:
    if type(value) is not bool:
        raise Misfit(f"true or false was expected, not {shown(value)}")
    return value


def _text_by_name(value: object) -> dict[str, str]:
    if not isinstance(value, dict):
        raise Misfit(f"an object of names and texts was expected, not {shown(value)}")
    for name, text in value.items():
        if type(text) is not str:
            misfit = Misfit(f"text was expected, not {shown(text)}")
            misfit.steps.append(f".{name}")
            raise misfit
    return dict(value)


def _list(inner: Decoder) -> Decoder:
    def decode(value: object) -> tuple[Any, ...]:
        if not isinstance(value, list):
            raise Misfit(f"a list was expected, not {shown(value)}")
        done: list[Any] = []
        try:
            for item in value:
                done.append(inner(item))
        except Misfit as misfit:
            misfit.steps.append(f"[{len(done)}]")
            raise
        return tuple(done)

    return decode


def _pair(inner: Decoder) -> Decoder:
    def decode(value: object) -> tuple[Any, Any]:
        if not isinstance(value, list) or len(value) != 2:
            raise Misfit(f"a list of two numbers was expected, not {shown(value)}")
        first, second = inner(value[0]), inner(value[1])
        if second < first:
            raise Misfit(f"the end stands before the start in {shown(value)}")
        return first, second

    return decode


def _numbers(value: Any) -> typing.Iterator[float]:
    if isinstance(value, tuple):
        for item in value:
            yield from _numbers(item)
    else:
        yield value


def _bounded(inner: Decoder, least: float, greatest: float | None) -> Decoder:
    between = f"{least:g} or more" if greatest is None else f"{least:g} to {greatest:g}"
    highest = math.inf if greatest is None else greatest

    def decode(value: object) -> Any:
        done = inner(value)
        # A bare number first: it is nearly all there is, and a record has thousands.
        for number in _numbers(done) if type(done) is tuple else (done,):
            if not least <= number <= highest:
                raise Misfit(f"{between} was expected, not {shown(number)}")
        return done

    return decode


def _chosen(inner: Decoder, choices: tuple[str, ...]) -> Decoder:
    def decode(value: object) -> Any:
        done = inner(value)
        if done not in choices:
            raise Misfit(f"one of {', '.join(choices)} was expected, not {shown(done)}")
        return done

    return decode


def _field(part: type, name: str, hint: Any) -> Decoder:
    found = decoder(hint)
    if (part, name) in BOUNDS:
        found = _bounded(found, *BOUNDS[part, name])
    if (part, name) in CHOICES:
        found = _chosen(found, CHOICES[part, name])
    return found


def _object(part: type) -> Decoder:
    hints = typing.get_type_hints(part)
    fields = [(field.name, _field(part, field.name, hints[field.name])) for field in dataclasses.fields(part)]
    names = {name for name, _ in fields}
    required = [
        field.name
        for field in dataclasses.fields(part)
        if field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING
    ]

    def decode(value: object) -> Any:
        if not isinstance(value, dict):
            raise Misfit(f"an object was expected, not {shown(value)}")
        for name in required:
            if name not in value:
                raise Misfit(f"the field '{name}' is missing")
        if not value.keys() <= names:
            raise Misfit(f"the field {shown(min(value.keys() - names))} is not known")
        given: dict[str, Any] = {}
        for name, decode_field in fields:
            if name in value:
                try:
                    given[name] = decode_field(value[name])
                except Misfit as misfit:
                    misfit.steps.append(f".{name}")
                    raise
        if "start" in given and "end" in given and given["end"] < given["start"]:
            raise Misfit(f"the end ({given['end']} s) stands before the start ({given['start']} s)")
        return part(**given)

    return decode

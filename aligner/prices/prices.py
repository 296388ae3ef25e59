"""The prices: what each term of a decision costs, from one data file.

A price is a cost in nats; a term that the file does not name costs nothing. `default.toml` is written by the fitting
script of the tests and never by hand.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from math import isfinite
from pathlib import Path

from aligner.errors import InputError

MODES = ("score", "game", "exchange", "talk")
"""Sets of prices: to read a talk whose game is known; to find the game in it first, where it is not, by what is seen of
its moves at a glance, and by what comes of captures; to read a talk without a score while it is still being spoken."""


@dataclass(frozen=True, slots=True)
class Prices:
    """One set of prices.

    Attributes:
        table: term to nats.
        sharpness: what costs are multiplied with before they become probabilities, fitted so that of the
            moves given 0.9 nine in ten are right.
    """

    table: Mapping[str, float]
    sharpness: float = 1.0

    def cost(self, terms: Iterable[tuple[str, float]]) -> float:
        """The cost of terms, in nats."""
        get = self.table.get
        total = 0.0
        for name, amount in terms:
            price = get(name)
            if price is not None:
                total += price * amount
        return total


def read_prices(path: Path | None, mode: str) -> Prices:
    """The prices of a mode, from a file or the default.

    Raises:
        InputError: the file cannot be read or is no price file.
    """
    return _default(mode) if path is None else _parse(_text(path), str(path), mode)


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise InputError("this price file is no UTF-8 text", str(path)) from None
    except OSError as error:
        raise InputError(f"this price file can't be read ({error.strerror})", str(path)) from None


@lru_cache(maxsize=4)
def _default(mode: str) -> Prices:
    text = (resources.files("aligner.prices") / "default.toml").read_text(encoding="utf-8")
    return _parse(_tables_of(text, mode), "default.toml", mode)


def _tables_of(text: str, mode: str) -> str:
    """The tables of a mode in a file as the script writes it: to read them all takes three times as long."""
    begins = sorted((text.index(f"[{other}]\n"), other) for other in MODES)
    ends = [*[begin for begin, _ in begins[1:]], len(text)]
    return next(text[begin:end] for (begin, other), end in zip(begins, ends, strict=True) if other == mode)


def _parse(text: str, name: str, mode: str) -> Prices:
    try:
        data = tomllib.loads(text)
        if mode == "exchange" and mode not in data and "game" in data:
            return _default(mode)  # a file made before there was this mode
        section = data[mode]
        table = {str(term): float(price) for term, price in section["price"].items()}
        sharpness = float(section["sharpness"])
        if not all(isfinite(value) for value in (*table.values(), sharpness)):
            raise ValueError("a price must be a finite number")
        return Prices(table, sharpness)
    except (tomllib.TOMLDecodeError, KeyError, TypeError, ValueError, AttributeError) as error:
        raise InputError(f"this is no price file ({error}); make one with the fitting script", name) from None

"""Progress of work that has parts."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[float], None]
"""Told the share done, 0 to 1."""


def share_of(progress: Progress | None, first: float, last: float) -> Progress | None:
    """Progress of a part of the work that goes from one share of the whole to another."""
    if progress is None:
        return None
    return lambda share: progress(first + (last - first) * share)

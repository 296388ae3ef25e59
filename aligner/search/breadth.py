"""How many hypotheses a beam goes on with."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Breadth:
    """How many hypotheses are kept at a stretch: those near the best, and the few cheapest of those farther off.

    Attributes:
        most: at most.
        near: nats behind the best up to which one is near it.
        few: so many are kept though they are not near: where all but one were dropped, none could come back.
        depth: nats behind the best at which these are dropped, too; not less than `near`.
    """

    most: int = 64
    near: float = 7.0
    few: int = 8
    depth: float = 10.0


USUAL = Breadth()
"""Measured on 93 talks: broader ones read no better, narrower ones worse, most of all without the few."""
BOUNDLESS = Breadth(near=99.0, depth=99.0)
"""For a search that is held to the truth or to what is settled, however dear it is."""

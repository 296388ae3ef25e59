"""What it takes to take a phrase for moves before any position is looked at: worked out once a phrase."""

from __future__ import annotations

from collections.abc import Mapping
from math import inf
from typing import NamedTuple

from aligner.prices.prices import Prices
from aligner.search.matching import slips_of_fits, terms_of_fits
from aligner.speech.listen import Spoken

_GROUPS = {
    "game": ("game", "open", "promote", "replace"),
    "return": ("return",),
    "line": ("line",),
    "branch": ("leave", "alternative", "earlier", "leave_back", "focus", "part_way", "far"),
    "again": ("again",),
    "none": ("none",),
}
"""Kinds of decisions, by the groups that cues are weighed for together."""
_IN_GAME = ("game", "open", "promote", "replace", "return", "leave")
_BESIDE = ("line", "alternative", "earlier", "leave_back", "focus", "part_way", "again")
"""Kinds that go on in the game or leave it where it goes on, and kinds that leave it where it is."""
_ASIDE = ("line", "branch")
"""Groups of decisions for moves of a sideline."""
_VAGUE = frozenset(
    {"piece_moves", "moves", "check", "pushes", "piece_checks", "takes", "retakes", "piece_on", "likewise"}
)
"""Wordings too vague to find a branch by, far from the cursor."""


class Tariff(NamedTuple):
    """What a phrase costs, in nats.

    Attributes:
        bases: by kind of decision: the kind, the wording and what is said around it.
        needs: the same, less what a sideline's moves may gain as chess.
        chain: that its further moves cost at least, 0 or less.
        least: that the fit of its moves costs at least.
        slip: that its first move costs at least where it is misnamed.
        in_game: that a decision costs at least that goes on in the game.
        beside: that one costs at least that leaves the game where it is.
        far: that a branch far back in the game costs at least; infinite where the phrase cannot be one.
        vague: whether it says too little to find a move by, away from the cursor.
    """

    bases: Mapping[str, float]
    needs: Mapping[str, float]
    chain: float
    least: float
    slip: float
    in_game: float
    beside: float
    far: float
    vague: bool


class Tariffs:
    """Works out tariffs.

    Args:
        prices: of the mode.
    """

    def __init__(self, prices: Prices) -> None:
        self._prices = prices
        table = prices.table
        self._gain = sum(min(price, 0.0) for name, price in table.items() if name.startswith("aside."))
        self._misnamed = sum(
            min(price, 0.0) for name, price in table.items() if name.startswith(("slip_", "piece_for."))
        )
        self._signs: dict[str, dict[str, float]] = {}

    def of(self, spoken: Spoken, cast: bool) -> Tariff:
        """The tariff of a phrase; `cast` tells whether it is known which side its words say to move."""
        phrase, table = spoken.phrase, self._prices.table
        own = self._own(spoken)
        gain = self._gain * len(phrase.moves)
        bases: dict[str, float] = {}
        needs: dict[str, float] = {}
        for group, kinds in _GROUPS.items():
            around = self._around(spoken, group)
            for kind in kinds:
                bases[kind] = around + (0.0 if kind == "none" else table.get(f"kind.{kind}", 0.0) + own)
                needs[kind] = bases[kind] + (gain if group in _ASIDE else 0.0)
        said = phrase.moves[0]
        names = [*terms_of_fits(said), *(("number", "number_not") if spoken.at_move else ())]
        first = self._least(*names, *(("who", "who_not") if cast else ()))
        chain = self._least(*(name for further in phrase.moves[1:] for name in terms_of_fits(further)))
        least = first + chain
        slip = min((table.get(f"slip.{kind}", 0.0) for kind in slips_of_fits(said)), default=inf)
        vague = is_vague(spoken)
        lowest = min(least, least + slip + self._misnamed)
        in_game = min(needs[kind] for kind in _IN_GAME) + self._least("slip_in.game", "slip_in.return", "slip_in.line")
        beside = min(needs[kind] for kind in _BESIDE) + self._least("slip_in.line", "again_on")
        return Tariff(
            bases,
            needs,
            chain,
            least,
            slip,
            in_game=in_game + lowest,
            beside=beside + lowest,
            far=inf if vague or phrase.fixed or len(phrase.moves) > 1 else needs["far"] + least,
            vague=vague,
        )

    def base(self, spoken: Spoken, kind: str, group: str) -> float:
        """What it costs to take a phrase for a decision of a kind: the kind, the wording, what is said around it."""
        around = self._around(spoken, group)
        return around if kind == "none" else around + (self._prices.table.get(f"kind.{kind}", 0.0) + self._own(spoken))

    def _own(self, spoken: Spoken) -> float:
        """What the wording of a phrase costs, whatever it is taken for."""
        inside = self._prices.table.get("inside", 0.0) if spoken.inside else 0.0
        return self._prices.cost(spoken.phrase.terms) + inside

    def _around(self, spoken: Spoken, group: str) -> float:
        """What the signs of a phrase cost in a group: the sum of `sign_terms`, each sign looked up once."""
        prices = self._signs.setdefault(group, {})
        total = 0.0
        for sign in spoken.signs:
            price = prices.get(sign)
            if price is None:
                price = prices[sign] = self._prices.table.get(f"{group}|{sign}", 0.0)
            total += price
        return total

    def _least(self, *names: str) -> float:
        """What terms cost at least that may each be there or not."""
        return sum(min(self._prices.table.get(name, 0.0), 0.0) for name in names)


def is_vague(spoken: Spoken) -> bool:
    """Whether a phrase says too little to find a move by, away from the cursor."""
    return spoken.phrase.moves[0].form in _VAGUE

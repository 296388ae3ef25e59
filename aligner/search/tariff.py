"""What it takes to take a phrase for moves before any position is looked at: worked out once a phrase."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import inf
from typing import NamedTuple

from aligner.prices.prices import Prices
from aligner.search.matching import ANY_FIT, slips_of_fits, terms_of_fits
from aligner.search.state import leaning_terms
from aligner.speech.description import Description
from aligner.speech.listen import Spoken

_GROUPS = {
    "game": ("game", "open", "promote", "replace"),
    "return": ("return",),
    "line": ("line",),
    "branch": ("leave", "alternative", "earlier", "leave_back", "focus", "part_way", "far"),
    "again": ("again",),
    "correct": ("correct",),
}
"""Kinds of decisions that take a phrase for moves, by the groups that cues are weighed for together."""
_IN_GAME = ("game", "open", "promote", "replace", "return", "leave")
_BESIDE = ("line", "alternative", "earlier", "leave_back", "focus", "part_way", "again")
"""Kinds that go on in the game or leave it where it goes on, and kinds that leave it where it is."""
_ASIDE = ("line", "branch")
"""Groups of decisions for moves of a sideline."""
_SLIPS_IN_GAME = ("slip_in.game", "slip_in.return", "slip_in.line")
_SLIPS_BESIDE = ("slip_in.line", "again_on")
_VAGUE = frozenset(
    {"piece_moves", "moves", "check", "pushes", "piece_checks", "takes", "retakes", "piece_on", "likewise"}
    | {"hits", "piece_hits", "offers", "falls", "gives", "evades", "to_line"}
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
        self._kinds = {
            group: [(kind, table.get(f"kind.{kind}", 0.0)) for kind in kinds] for group, kinds in _GROUPS.items()
        }
        self._signs: dict[str, SignPrices] = {}
        self._always = self._least(ANY_FIT)

    def of(self, spoken: Spoken, cast: bool) -> Tariff:
        """The tariff of a phrase; `cast` tells whether it is known which side its words say to move."""
        phrase, table = spoken.phrase, self._prices.table
        own = self._own(spoken)
        gain = self._gain * len(phrase.moves)
        bases: dict[str, float] = {}
        needs: dict[str, float] = {}
        bases["none"] = needs["none"] = self._around(spoken, "none")
        for group, kinds in self._kinds.items():
            around = self._around(spoken, group)
            least = gain if group in _ASIDE else 0.0
            for kind, price in kinds:
                base = bases[kind] = around + (price + own)
                needs[kind] = base + least
        first = self._fit(phrase.moves[0])
        if spoken.at_move:
            first += self._least(("number", "number_not"))
        if spoken.aim is not None:
            first += self._least((f"aim_{spoken.aim.does}", f"aim_{spoken.aim.does}_not"))
        if spoken.named:
            first += self._least(("named", "named_not"))
        if cast:
            first += self._least(("who", "who_not"))
        chain = sum(map(self._fit, phrase.moves[1:]), 0.0)
        least = first + chain
        slip = min((table.get(f"slip.{kind}", 0.0) for kind in slips_of_fits(phrase.moves[0])), default=inf)
        vague = is_vague(spoken)
        lowest = min(least, least + slip + self._misnamed)
        in_game = min(needs[kind] for kind in _IN_GAME) + self._least(_SLIPS_IN_GAME)
        beside = min(needs[kind] for kind in _BESIDE) + self._least(_SLIPS_BESIDE)
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

    def _own(self, spoken: Spoken) -> float:
        """What the wording of a phrase costs, whatever it is taken for."""
        inside = self._prices.table.get("inside", 0.0) if spoken.inside else 0.0
        return self._prices.cost(spoken.phrase.terms) + inside

    def _around(self, spoken: Spoken, group: str) -> float:
        """What the signs of a phrase cost in a group: the sum of `sign_terms`."""
        prices = self._signs.get(group)
        if prices is None:
            prices = self._signs[group] = SignPrices(self._prices.table, group)
        signs = sum(map(prices.__getitem__, spoken.signs), 0.0)
        return signs + self._prices.cost(leaning_terms(spoken.leaning, group))

    def _fit(self, said: Description) -> float:
        """What an exact fit of a description costs at least."""
        return self._always + self._least(terms_of_fits(said))

    def _least(self, names: Iterable[str]) -> float:
        """What terms cost at least that may each be there or not."""
        get = self._prices.table.get
        return sum([price for name in names if (price := get(name, 0.0)) < 0.0], 0.0)


class SignPrices(dict[str, float]):
    """Prices of signs in one group of decisions, each looked up once."""

    def __init__(self, table: Mapping[str, float], group: str) -> None:
        super().__init__()
        self._table = table
        self._group = group

    def __missing__(self, sign: str) -> float:
        price = self[sign] = self._table.get(f"{self._group}|{sign}", 0.0)
        return price


def is_vague(spoken: Spoken) -> bool:
    """Whether a phrase says too little to find a move by, away from the cursor."""
    return spoken.phrase.moves[0].form in _VAGUE

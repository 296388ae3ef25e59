"""Second thoughts about which of the lines told is the game: a sideline becomes the game, or the game a sideline.

Which of two lines was played often shows long after both were told. So that the beam need not keep every answer alive,
a hypothesis may turn what it took for a sideline into the game, and the other way round, at the price of having taken
every phrase so from the start. Only what a misnamed move costs in one or the other stays as it was.
"""

from __future__ import annotations

from math import inf

from aligner.reconstruction.hypothesis import Hypothesis, Ply, Step, Telling, Turn
from aligner.reconstruction.places import Past, Places
from aligner.reconstruction.priced import GAIN, PricedSteps
from aligner.speech.description import Terms
from aligner.speech.listen import Spoken

_FARTHEST = 80
"""Plies back along the game at which it may have gone on otherwise."""
_FIRST = {"game": "leave", "return": "leave_back"}
_LATER = {"game": "line", "return": "leave_back"}
"""What a phrase told if its move was not the game's: the first that was none, and those after it."""
_GOES_ON = ("leave", "line")
"""Kinds that tell the next move of a line; if that line was the game, the others tell a return to it."""


class Turning:
    """Turns of one talk's hypotheses.

    Args:
        priced: makes the steps.
        places: where phrases fit.
    """

    def __init__(self, priced: PricedSteps, places: Places) -> None:
        self._priced = priced
        self._fits = priced.fits
        self._places = places
        self._promotes = priced.prices.table.get("promote", 0.0)
        self._retracts = priced.prices.table.get("retract", 0.0)
        self._turns: dict[tuple[int, int, str, str, Terms], Turn] = {}

    def forget(self) -> None:
        """Drop what was worked out for phrases so far."""
        self._turns.clear()

    def promote(self, found: list[Step], one: Hypothesis, spoken: Spoken, budget: float) -> None:
        """What seemed a sideline was the game, and this is its next move."""
        side, ply = one.side, one.line
        if side is None or ply is None:
            return
        fits = self._fits.fits(side, spoken)
        if not fits:
            return
        line: list[Telling] = []
        while ply is not None:
            line.append(ply.telling)
            ply = ply.before
        base = line[-1].node.parent
        assert base is not None
        turned = [self._turn(telling, _played_as(telling)) for telling in line if telling.leads]
        cut, earlier = one.plies, None
        while cut is not None and cut.node.ply > base.ply:
            cut, earlier = cut.before, cut
        if earlier is not None:  # the game went on from where the sideline left it
            turned += self._left_out(one.plies, earlier)
        room = budget - sum(turn.nats for turn in turned) - self._promotes - self._fits.tariff(spoken).bases["game"]
        if fits[0][2] > room + GAIN:
            return
        before = tuple(telling._replace(kind=_played_as(telling), more=()) for telling in reversed(line))
        for move, fit, cost in fits:
            end = self._fits.lines.after(side, move)
            plausible, worth = self._priced.plausible(end)
            nats = cost + worth
            if nats > room:
                continue
            added = (*before, Telling(end, spoken, spoken.phrase.moves[0]))
            terms, nats = (*plausible, ("promote", 1.0)), nats + self._promotes
            found.append(
                self._priced.step("promote", "game", spoken, fit, nats, end, None, added, base, terms, tuple(turned))
            )

    def retract(self, found: list[Step], one: Hypothesis, spoken: Spoken, budget: float) -> None:
        """The game goes on from one of its earlier positions: what was told since was no part of it."""
        head, ply = one.head, one.plies
        if ply is None:
            return
        tariff = self._fits.tariff(spoken)
        room = budget - self._retracts - tariff.bases["return"]
        all_of_it = self._so_far(ply)
        if all_of_it + ply.turned_least + tariff.least > room + GAIN:
            return
        past = self._places.past(head, spoken)
        earliest = head.ply - _FARTHEST
        first: Ply = ply
        while past is not None and past.node.ply >= earliest:
            at = past.node.ply
            while ply is not None and ply.node.ply > at:
                first, ply = ply, ply.before
            nats = all_of_it + first.turned_first
            if ply is not None and ply.turned is not None:
                nats -= ply.turned
            if nats + past.least <= room + GAIN:
                self._goes_on(found, past, one.plies, first, spoken, room - nats)
            past = past.earlier

    def _goes_on(
        self, found: list[Step], past: Past, last: Ply | None, first: Ply, spoken: Spoken, room: float
    ) -> None:
        """The game goes on from a position; its plies from `first` to `last` were a sideline."""
        turned: tuple[Turn, ...] = ()
        for move, fit, cost in self._fits.fits(past.node, spoken):
            if cost > room + GAIN:
                return
            if move == past.played:
                continue
            end = self._fits.lines.after(past.node, move)
            plausible, worth = self._priced.plausible(end)
            if cost + worth > room:
                continue
            turned = turned or self._left_out(last, first)
            added = (Telling(end, spoken, spoken.phrase.moves[0], "return"),)
            terms, nats = (*plausible, ("retract", 1.0)), cost + worth + self._retracts
            found.append(
                self._priced.step("retract", "return", spoken, fit, nats, end, None, added, past.node, terms, turned)
            )

    def _left_out(self, ply: Ply | None, first: Ply) -> tuple[Turn, ...]:
        """The game's plies from `first` up to a ply were a sideline."""
        turned: list[Turn] = []
        while ply is not None:
            if ply.telling.leads:
                turned.append(self._left(ply, ply is first))
            if ply is first:
                break
            ply = ply.before
        return tuple(turned)

    def _so_far(self, ply: Ply) -> float:
        """Nats by which all plies so far would be dearer as a sideline's, the first of them as any other."""
        way: list[Ply] = []
        at: Ply | None = ply
        while at is not None and at.turned is None:
            way.append(at)
            at = at.before
        nats, least = 0.0, inf
        if at is not None and at.turned is not None:
            nats, least = at.turned, at.turned_least
        for each in reversed(way):
            more = 0.0
            if each.telling.leads:
                more = self._left(each, False).nats
                each.turned_first = self._left(each, True).nats - more
            least = each.turned_least = min(least, each.turned_first - nats)
            nats += more
            each.turned = nats
        return nats

    def _left(self, ply: Ply, first: bool) -> Turn:
        """A ply of the game was a sideline's, and the first of it or not."""
        return self._turn(ply.telling, (_FIRST if first else _LATER)[ply.telling.kind])

    def _turn(self, telling: Telling, kind: str) -> Turn:
        """A phrase was a step of another kind."""
        node, spoken = telling.node, telling.spoken
        assert spoken is not None
        key = (node.number, spoken.number, telling.kind, kind, telling.more)
        turn = self._turns.get(key)
        if turn is None:
            (played, in_game), (aside, beside) = self._priced.plausible(node), self._fits.aside(node)
            bases = self._fits.tariff(spoken).bases
            nats = bases[kind] - bases[telling.kind] - self._priced.prices.cost(telling.more)
            if kind in _LATER:
                was, now, nats = (*telling.more, *aside), played, nats + in_game - beside
            else:
                was, now, nats = (*telling.more, *played), aside, nats + beside - in_game
            turn = self._turns[key] = Turn(spoken, (telling.kind, was), (kind, now), nats)
        return turn


def _played_as(telling: Telling) -> str:
    """What a phrase of a sideline told if its move was the game's."""
    return "game" if telling.kind in _GOES_ON else "return"

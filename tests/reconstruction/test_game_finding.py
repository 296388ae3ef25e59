"""The game found in small invented talks without a score; legality by python-chess, the rest by the rules."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import partial
from math import inf
from typing import Any, ClassVar

import chess
import pytest

from aligner.captions import parse_captions
from aligner.captions.words import Captions
from aligner.errors import MismatchError
from aligner.pipeline import align
from aligner.prices.prices import read_prices
from aligner.reconstruction import found as finding
from aligner.reconstruction import search as searching
from aligner.reconstruction import valued
from aligner.reconstruction.amending import Amender
from aligner.reconstruction.breadth import AMENDS, DEEP, FULL, NARROW, PLAIN, Alike, Breadth
from aligner.reconstruction.found import GameFinder, Search
from aligner.reconstruction.gaps import Gaps
from aligner.reconstruction.hypothesis import Hypothesis, Ply, Step, Telling
from aligner.reconstruction.priced import PricedSteps
from aligner.reconstruction.setup import without_setup
from aligner.reconstruction.sidelines import Sidelines
from aligner.reconstruction.steps import Steps
from aligner.reconstruction.trust import Evidence, trust_terms, trusted
from aligner.reconstruction.valued import Course, ValuedSearch
from aligner.search.fits import Fits
from aligner.search.lines import LineNode, Lines
from aligner.search.plies import AT_A_GLANCE, WORKED_OUT, Valuation
from aligner.speech.listen import Spoken, listen


def captions_of(text: str) -> Captions:
    return parse_captions(f"WEBVTT\n\n00:00.000 --> {len(text) // 900:02}:59.000\n{text}\n", "invented.vtt")


def finder_of(text: str, start: str = chess.STARTING_FEN, only: Search | None = None) -> GameFinder:
    speech = listen(captions_of(text).words)
    return GameFinder(
        speech, chess.Board(start), partial(read_prices, None), {"white": True, "black": False}, only=only
    )


def sans(moves: tuple[str, ...], start: str = chess.STARTING_FEN) -> str:
    board = chess.Board(start)
    return " ".join(board.san_and_push(chess.Move.from_uci(move)) for move in moves)


def phrase_of(text: str) -> Spoken:
    return listen(captions_of(text).words).stretches[0].spoken[0]


def fits_over(*moves: str) -> tuple[Fits, LineNode]:
    lines = Lines(chess.Board(), ())
    node = lines.root
    for san in moves:
        node = lines.after(node, node.board.parse_san(san))
    return Fits(lines, read_prices(None, "game"), {}), node


def test_a_game_told_ply_by_ply() -> None:
    text = "Pawn to e4, pawn to e5. Knight to f3, knight to c6. Bishop to b5, pawn to a6. Bishop to a4, knight to f6."
    found = finder_of(text).find()
    assert sans(found.moves) == "e4 e5 Nf3 Nc6 Bb5 a6 Ba4 Nf6"
    assert all(0.0 <= share <= 1.0 for share in found.belief)


WITH_SIDELINES = (
    "e4 e5 knight f3 knight c6 bishop b5 a6. Bishop takes c6 is an idea, d takes c6, then castles. But in the game he "
    "played bishop a4, knight f6, castles. Knight takes e4 was possible, d4, b5, bishop b3. Bishop e7 instead, rook e1."
)


def test_what_is_forgotten_meanwhile_changes_no_game(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(searching, "_FORGETS", 10**9)
    whole = finder_of(WITH_SIDELINES).find()
    monkeypatch.setattr(searching, "_FORGETS", 1)
    assert finder_of(WITH_SIDELINES).find() == whole
    assert sans(whole.moves).startswith("e4 e5 Nf3 Nc6 Bb5 a6 Ba4 Nf6 O-O"), "and not Bxc6, which was an idea"


@pytest.fixture
def breadths(monkeypatch: pytest.MonkeyPatch) -> list[Breadth]:
    """The breadths of the searches that are made from now on, in order."""
    made: list[Breadth] = []

    class Watched(searching.GameSearch):
        def __init__(self, *given: Any) -> None:
            super().__init__(*given)
            made.append(self.breadth)

    monkeypatch.setattr(valued, "GameSearch", Watched)
    return made


NEVER = 1.1
"""So sure no game is."""


@pytest.mark.parametrize(
    ("enough", "searches"), [(((0.0,), (0.0,)), 1), (((NEVER,), (0.0,)), 2), (((NEVER,), (NEVER,)), 3)]
)
def test_only_a_doubtful_game_is_looked_for_again(
    enough: tuple[tuple[float, ...], ...], searches: int, breadths: list[Breadth], monkeypatch: pytest.MonkeyPatch
) -> None:
    ways = (Search(FULL, enough[0], 0.3), Search(DEEP, enough[1], 0.6), Search(NARROW))
    monkeypatch.setattr(finding, "SEARCHES", ways)
    finder = finder_of(WITH_SIDELINES)
    shares: list[float] = []
    found = finder.find(progress=shares.append)
    assert breadths == [FULL, DEEP, NARROW][:searches]
    assert shares == sorted(shares), "progress never goes back"
    finder.find(Course(line=found.moves[:1], told=((0, 1),)))
    assert len(breadths) == searches + 1, "what is settled later is searched once"


@pytest.mark.parametrize(("enough", "searches"), [((NEVER, 0.0), 2), ((NEVER, NEVER), 3), ((0.0, NEVER), 3)])
def test_a_game_that_another_search_found_too_is_sure_enough_sooner(
    enough: tuple[float, ...], searches: int, breadths: list[Breadth], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The narrow searches find the same here by both ways to value moves, so the second of the figures counts."""
    text = "Pawn to e4, pawn to e5. Knight to f3, knight to c6. Bishop to b5, pawn to a6. Bishop to a4, knight to f6."
    text += " It was a quiet afternoon, and we both took our time over all of it, with much tea and some cake."
    ways = (Search(NARROW, (inf,), 0.3), Search(NARROW, enough, 0.6, "exchange"), Search(FULL))
    monkeypatch.setattr(finding, "SEARCHES", ways)
    finder = finder_of(text)
    found = finder.find()
    assert breadths == [NARROW, NARROW, FULL][:searches]
    finder.find(Course(line=found.moves[:1], told=((0, 1),)))
    assert breadths[-1].within == (), "what is settled later is searched once, so nobody asks what others would find"


def test_a_beam_within_a_beam_finds_what_it_would_find_alone() -> None:
    within = replace(NARROW, efforts=((AMENDS, 99),), within=())
    around = replace(within, width=99, depth=20.0, alike=(Alike(0, 99),), on_one_place=99, within=(within,))
    evidence = finder_of(WITH_SIDELINES, only=Search(around)).evidence()
    alone = finder_of(WITH_SIDELINES, only=Search(within)).evidence()
    assert evidence.narrower == (alone.moves,)


def test_a_game_costs_what_the_talk_costs_if_it_begins_so() -> None:
    """Without a game nothing of what is told is explained."""
    speech = listen(captions_of("Pawn to e4, pawn to e5. Knight to f3, knight to c6.").words)
    prices = read_prices(None, "game")
    way = ValuedSearch(speech, chess.Board(), prices, {"white": True, "black": False}, AT_A_GLANCE)
    found = way.evidence(Course(), FULL)
    assert sans(found.moves) == "e4 e5 Nf3 Nc6"
    cost = way.cost_of(found.moves, Course())
    assert cost == pytest.approx(found.cost)
    assert way.cost_of((), Course()) > cost and way.cost_of(("d2d4", "d7d5"), Course()) > cost
    assert way.cost_of(found.moves, Course(silent=((0, 12),))) > cost, "what is settled besides counts"
    begun = found.moves[:2]
    assert way.cost_of(begun, Course()) == pytest.approx(cost), "it goes on as the talk has it"
    assert way.cost_of(begun, Course(), whole=True) > cost, "what follows is then no game"


def test_what_a_game_costs_is_known_though_the_talk_would_rather_end_it_sooner() -> None:
    """Told as a sideline, taken for the game: dearer, but no riddle."""
    text = "White plays e4, black plays e5. Knight f3, knight c6. White could play bishop b5, and black would go a6."
    prices = read_prices(None, "game")
    cast = {"white": True, "black": False}
    way = ValuedSearch(listen(captions_of(text).words), chess.Board(), prices, cast, AT_A_GLANCE)
    told = way.evidence(Course(), FULL).moves
    assert sans(told) == "e4 e5 Nf3 Nc6"
    assert way.cost_of(told, Course()) < way.cost_of((*told, "f1b5", "a7a6"), Course()) < inf


class TwoMinds:
    """Stands for a search: by each valuation it finds a game of its own, at a cost, and knows what the other costs."""

    COSTS: ClassVar = {AT_A_GLANCE: {("e2e4",): 10.0, ("d2d4",): 13.0}, WORKED_OUT: {("e2e4",): 22.0, ("d2d4",): 17.0}}

    def __init__(self, *_: object, valuation: Valuation, **__: object) -> None:
        self.costs = self.COSTS[valuation]
        self.latest = None

    def evidence(self, *_: object) -> Evidence:
        moves, cost = min(self.costs.items(), key=lambda row: row[1])
        return Evidence(moves, (0.5,), ((0.5, 0.5),), cost)

    def told(self, *_: object) -> float:
        return 0.0

    def cost_of(self, moves: tuple[str, ...], _: Course, **__: object) -> float:
        return self.costs[moves]

    def played(self, moves: tuple[str, ...]) -> list[tuple[int, str]]:
        return list(enumerate(moves))


@pytest.mark.parametrize(("narrower", "searches"), [((("e2e4",), ()), 2), (((), ("d2d4",)), 3)])
def test_a_game_that_all_narrower_beams_lose_is_not_sure_though_it_is_found_in_both_ways(
    narrower: tuple[tuple[str, ...], ...], searches: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[Breadth] = []

    class Unsteady(TwoMinds):
        def evidence(self, _: Course, breadth: Breadth, *__: object) -> Evidence:
            made.append(breadth)
            return Evidence(("e2e4",), (0.5,), ((0.5, 0.5),), 1.0, narrower=narrower)

    monkeypatch.setattr(finding, "ValuedSearch", Unsteady)
    ways = (Search(NARROW, (inf,)), Search(NARROW, (inf, 0.0), mode="exchange"), Search(FULL))
    monkeypatch.setattr(finding, "SEARCHES", ways)
    finder_of("Pawn to e4.").evidence()
    assert len(made) == searches


def test_of_games_found_in_two_ways_the_one_counts_that_is_cheaper_in_the_mean_of_both(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """1.e4 costs 10 and 22 nats, 16 in the mean; 1.d4 13 and 17, which is 15."""
    monkeypatch.setattr(finding, "ValuedSearch", TwoMinds)
    monkeypatch.setattr(finding, "SEARCHES", (Search(FULL, (NEVER,)), Search(FULL, mode="exchange")))
    finder = finder_of("Pawn to e4.")
    sketch = finder.sketch()
    assert (sketch.moves, sketch.cost) == (("d2d4",), 13.0), "parts of a talk are compared by one way"
    evidence = finder.evidence()
    assert (evidence.moves, evidence.cost) == (("d2d4",), 15.0)
    assert evidence.second == ((False, 1.0),), "the other is a nat dearer"
    assert finder.evidence(Course(line=("d2d4",))).cost == 15.0, "later searches are by the way that found it"


def test_a_game_that_the_beam_loses_in_the_other_way_is_not_dear_for_that(monkeypatch: pytest.MonkeyPatch) -> None:
    """1.d4 costs 13 and 17 nats, four more. So 1.e4, which costs 10, is taken to cost 14 there, too: 12 in the mean."""

    class Lossy(TwoMinds):
        COSTS: ClassVar = {AT_A_GLANCE: {("e2e4",): 10.0, ("d2d4",): 13.0}, WORKED_OUT: {("d2d4",): 17.0}}

        def cost_of(self, moves: tuple[str, ...], _: Course, **__: object) -> float:
            return float(self.costs.get(moves, inf))

    monkeypatch.setattr(finding, "ValuedSearch", Lossy)
    monkeypatch.setattr(finding, "SEARCHES", (Search(FULL, (NEVER,)), Search(FULL, mode="exchange")))
    evidence = finder_of("Pawn to e4.").evidence()
    assert (evidence.moves, evidence.cost) == (("e2e4",), 12.0)
    assert evidence.second == ((False, 3.0),)


def test_a_sketch_is_of_the_first_searches_and_what_follows_goes_on_from_it(
    breadths: list[Breadth], monkeypatch: pytest.MonkeyPatch
) -> None:
    narrower = replace(NARROW, width=39)
    ways = [Search(breadth, (NEVER,)) for breadth in (narrower, NARROW, FULL, DEEP)]
    monkeypatch.setattr(finding, "SEARCHES", tuple(ways))
    finder = finder_of(WITH_SIDELINES)
    sketch = finder.sketch()
    assert sketch == finder.sketch() and breadths == [narrower, NARROW, FULL]
    found = finder.find()
    assert breadths == [narrower, NARROW, FULL, DEEP]
    assert finder.sketch() == found, "once more is known, that counts"
    assert found == finder_of(WITH_SIDELINES).find(), "as if nothing had been sketched"


def test_both_sides_castle_where_that_is_all_that_is_said() -> None:
    text = (
        "Knight to f3, knight to f6. Pawn to g3, pawn to g6. Bishop to g2, bishop to g7. Both sides castle. "
        "Pawn to d4, pawn to d6. Knight to c3, knight to c6."
    )
    assert sans(finder_of(text).find().moves).startswith("Nf3 Nf6 g3 g6 Bg2 Bg7 O-O O-O d4 d6")


def test_a_gap_of_one_ply_is_filled_with_one_that_makes_the_move_possible() -> None:
    fits, node = fits_over("e4")
    spoken = phrase_of("Bishop to c4.")
    gaps = Gaps(fits).before(node, spoken, True)
    assert gaps
    for passed, _, after in gaps:
        assert after and len(passed) in (1, 2)
        assert passed[-1].board.is_legal(after[0][0]) and passed[-1].board.san(after[0][0]) == "Bc4"


def test_nothing_is_passed_over_where_a_move_can_be_played() -> None:
    fits, node = fits_over("a4", "a5", "h4", "h5")  # no theory
    assert Gaps(fits).before(node, phrase_of("Knight to f3."), False) == []


def test_plies_of_opening_theory_may_go_unspoken() -> None:
    """1.e4 c6 2.d4 d5 3.Nc3 dxe4 4.Nxe4 Bf5: the main line of the Caro-Kann Defence, common practice."""
    fits, node = fits_over("e4", "c6", "d4", "d5")
    gaps = Gaps(fits).before(node, phrase_of("Bishop to f5."), False)
    assert {len(passed) for passed, _, _ in gaps} <= {1, 3, 5}
    for passed, terms, after in gaps:
        board = passed[-1].board
        assert [board.san(move) for move, _, _ in after] == ["Bf5"]
        assert dict(terms)["gap_theory_plies"] == len(passed)
    assert any(
        passed[1].board.piece_at(chess.E4) == chess.Piece.from_symbol("p") for passed, _, _ in gaps if passed[1:]
    )


def test_a_name_that_is_played_in_two_orders() -> None:
    """The London System may begin with the knight or, as here, with the bishop, common practice; talk invented."""
    text = "I had White and played a London. Knight f6, e3, e6, knight f3, bishop d6, bishop g3."
    named = [each.phrase.fixed for each in listen(captions_of(text).words).stretches[0].spoken]
    assert sorted(" ".join(moves) for moves in named) == ["d4 d5 Bf4", "d4 d5 Nf3 Nf6 Bf4"]
    assert sans(finder_of(text).find().moves) == "d4 d5 Bf4 Nf6 e3 e6 Nf3 Bd6 Bg3"
    sharper = "I had White and played a London. Knight f6, e3, c5, c3, knight c6, knight d2."
    assert sans(finder_of(sharper, only=Search(FULL)).find().moves) == "d4 d5 Bf4 Nf6 e3 c5 c3 Nc6 Nd2"


# The Najdorf Variation, the Italian Game and the Reti Opening, common practice; talks invented.
@pytest.mark.parametrize(("text", "game"), [
    (
        "We played a Sicilian. Knight f3, d6, d4, takes, takes, knight f6, knight c3, a6, bishop g5, e6, f4.",
        "e4 c5 Nf3 d6 d4 cxd4 Nxd4 Nf6 Nc3 a6 Bg5 e6 f4",
    ),
    (
        "E4, e5, knight f3, knight c6, bishop c4, bishop c5, c3, knight f6, d3, d6, castles, a6, rook e1, bishop a7.",
        "e4 e5 Nf3 Nc6 Bc4 Bc5 c3 Nf6 d3 d6 O-O a6 Re1 Ba7",
    ),
    ("Knight f3. D5. G3, c5.", "Nf3 d5 g3 c5"),
])  # fmt: skip
def test_moves_in_a_row_with_nothing_before_them_are_the_game(text: str, game: str) -> None:
    assert sans(finder_of(text).find().moves) == game
    assert sans(finder_of(text).sketch().moves) == game


# The example game of the PGN standard (1994), section 2.3; from memory.
EXAMPLE = (
    "e4 e5 Nf3 Nc6 Bb5 a6 Ba4 Nf6 O-O Be7 Re1 b5 Bb3 d6 c3 O-O h3 Nb8 d4 Nbd7 c4 c6 cxb5 axb5 Nc3 Bb7 Bg5 b4 Nb1 "
    "h6 Bh4 c5 dxe5 Nxe4 Bxe7 Qxe7 exd6 Qf6 Nbd2 Nxd6 Nc4 Nxc4 Bxc4 Nb6 Ne5 Rae8 Bxf7+ Rxf7 Nxf7 Rxe1+ Qxe1 Kxf7 "
    "Qe3 Qg5 Qxg5 hxg5 b3 Ke6 a3 Kd6 axb4 cxb4 Ra5 Nd5 f3 Bc8 Kf2 Bf5 Ra7 g6 Ra6+ Kc5 Ke1 Nf4 g3 Nxh3 Kd2 Kb5 Rd6 "
    "Kc5 Ra6 Nf2 g4 Bd3 Re6"
)
LETTERS = {"N": "knight ", "B": "bishop ", "R": "rook ", "Q": "queen ", "K": "king ", "x": " takes "}


def dictated(san: str) -> str:
    """The move as somebody reads it out."""
    if san == "O-O":
        return "castles"
    words = "".join(LETTERS.get(letter, letter) for letter in san.rstrip("+"))
    return re.sub(r"\b([a-h])([a-h][1-8])", r"\1 \2", words)


@pytest.mark.parametrize("between", [", ", " ", ", and then "])
def test_a_game_that_is_read_out_move_by_move(between: str) -> None:
    finder = finder_of(between.join(map(dictated, EXAMPLE.split())))
    assert sans(finder.find().moves) == EXAMPLE
    settled = tuple(finder.find().moves[:3])
    assert sans(finder.find(Course(line=settled)).moves) == EXAMPLE


def test_a_row_of_moves_that_might_have_been_is_no_game() -> None:
    """Invented; what is played is told, what could be is a sideline."""
    text = "E4, e5, knight f3, knight c6. White could play bishop b5, then a6, bishop a4, knight f6."
    assert sans(finder_of(text).find().moves) == "e4 e5 Nf3 Nc6"


def test_theory_that_contradicts_what_is_settled_is_not_passed_over() -> None:
    fits, node = fits_over("e4", "c6", "d4", "d5")
    settled = fits.lines.after(node, chess.Move.from_uci("e4e5"))
    gaps = Gaps(fits, (), {node.number: settled}).before(node, phrase_of("Bishop to f5."), False)
    assert gaps and all(passed[0] is settled for passed, _, _ in gaps)


def test_a_game_whose_first_moves_are_taken_for_granted_begins_with_theory() -> None:
    """The Caro-Kann Defence as far as its main line goes, common practice; talk invented."""
    text = (
        "E4, c6. Then bishop f5, knight g3, bishop g6, h4, h6, knight f3, knight d7. "
        "And here h5, bishop h7, bishop d3, bishop takes d3, queen takes d3, e6."
    )
    found = sans(finder_of(text).find().moves)
    assert found.startswith("e4 c6 d4 d5 Nc3 dxe4 Nxe4 Bf5 Ng3 Bg6 h4 h6 Nf3 Nd7 h5 Bh7 Bd3 Bxd3 Qxd3 e6")


def test_a_line_that_was_only_considered_is_cut_out_of_the_game() -> None:
    """1.e4 e5 (2.f4 exf4) 2.Nf3 Nc6: that f4 was played is given up when the e5 pawn is still there to be taken."""
    fits, _ = fits_over()
    lines = fits.lines
    plies: Ply | None = None
    node = lines.root
    for san in ("e4", "e5", "f4", "exf4", "Nf3", "Nc6"):
        node = lines.after(node, node.board.parse_san(san))
        plies = Ply(plies, Telling(node, phrase_of("knight to f3")))
    spoken = phrase_of("Knight takes e5.")
    changes = Amender(fits).changes(Hypothesis(node, None, plies, 0.0), spoken)
    assert any(sans(tuple(move.uci() for move in change.end.line())) == "e4 e5 Nf3 Nc6" for change in changes)


def test_what_is_settled_about_the_game_holds() -> None:
    text = "Pawn to e4, pawn to e5. Knight to f3, knight to c6. Bishop to c4, bishop to c5. Castles, knight to f6."
    finder = finder_of(text)
    settled = ("e2e4", "e7e5", "g1f3", "b8c6", "f1b5")
    assert finder.find(Course(line=settled)).moves[:5] == settled
    assert finder.find().moves[4] == "f1c4"


def test_words_settled_as_no_move_are_none() -> None:
    text = "Pawn to e4, pawn to e5. Knight to f3, knight to c6."
    silent = next(index for index, word in enumerate(captions_of(text).words) if word.text == "c6.")
    moves = finder_of(text).find(Course(silent=((silent - 2, silent + 1),))).moves
    assert "b8c6" not in moves


def test_a_talk_about_something_else_has_no_game() -> None:
    text = (
        "First chop two onions and fry them gently in butter. Add a pound of carrots, and stir until they are soft. "
        "Then pour in the stock, and leave it to simmer for an hour."
    )
    with pytest.raises(MismatchError, match="no game was found"):
        align(captions_of(text))


def test_a_position_described_aloud_is_the_start() -> None:
    text = (
        "White has the king on f3, the rook on f1 and a pawn on e3. Black has his king on a4, the rook on g6, and a "
        "pawn on b2. White to move. King to e4, rook to a6. Rook to b1, king to b3."
    )
    game = align(captions_of(text)).games[0]
    assert chess.Board(game.start_fen) == chess.Board("8/8/6r1/8/k7/4PK2/1p6/5R2 w - - 0 1")
    assert [node.san for node in game.nodes if node.main and node.san] == ["Ke4", "Ra6", "Rb1", "Kb3"]


def test_words_that_set_the_start_up_are_no_moves_even_where_it_is_given() -> None:
    """A square named alone would else be a pawn move there."""
    fen = "8/5k2/4p3/3p4/1P1P4/P3K3/8/8 w - - 0 1"
    setup = "White king on e3, white pawns on a3, b4 and d4. Black king on f7, black pawns on d5 and e6. White to move."
    moves = "King to f4, king to f6. Pawn to a4, pawn to e5, check."
    speech = listen(captions_of(f"{setup} {moves}").words)
    heard = without_setup(speech, chess.Board(fen))
    first = speech.first_token(len(setup.split()))
    assert any(stretch.start < first for stretch in speech.stretches)
    told = [stretch.spoken for stretch in speech.stretches if stretch.start >= first]
    assert [stretch.spoken for stretch in heard.stretches] == told
    assert [stretch.number for stretch in heard.stretches] == list(range(len(told)))
    assert without_setup(speech, chess.Board()) is speech


def test_a_position_described_in_part_is_not_taken() -> None:
    text = "Pawn to e4, pawn to e5. Here White has the king on e1 and a rook on h1. Knight to f3, knight to c6."
    assert align(captions_of(text)).games[0].start_fen == chess.STARTING_FEN


def test_a_game_that_breaks_off_ends_there() -> None:
    text = "Pawn to e4, pawn to e5. Knight to f3, knight to c6. Bishop to b5, and"
    record = align(captions_of(text))
    game = record.games[0]
    assert [node.san for node in game.nodes if node.main and node.san][-1] == "Bb5"
    assert game.headers["Result"] == "*"
    assert {node.source for node in game.nodes if node.main} == {"spoken"}


def test_a_ply_that_was_left_open_is_closed_by_the_move_that_a_later_one_needs() -> None:
    """Black's reply to 1.e4 is not told; only 1...d5 lets a pawn take there."""
    text = (
        "Pawn to e4. Pawn takes d5, queen takes d5. Knight to c3. Queen to a5. Pawn to d4. Knight to f6. Knight to f3."
    )
    assert sans(finder_of(text).find().moves) == "e4 d5 exd5 Qxd5 Nc3 Qa5 d4 Nf6 Nf3"


def test_a_check_that_only_one_move_gives_is_that_move() -> None:
    fits, node = fits_over("e4", "e5", "Bc4", "Nc6", "Qh5", "Nf6")
    board = node.board
    found = fits.fits(node, phrase_of("Check!"))
    assert {board.san(move) for move, _, _ in found} == {"Qxf7#", "Bxf7+", "Qxe5+"}


def phrases_of(text: str) -> list[Spoken]:
    heard = [stretch.spoken[0] for stretch in listen(captions_of(text).words).stretches]
    return [spoken for spoken in heard if not spoken.inside]


def steps_of(kind: str, head: LineNode, fits: Fits, plies: Ply | None, spoken: Spoken) -> list[Step]:
    sidelines = Sidelines(PricedSteps(fits, fits.prices))
    steps = sidelines.steps(Hypothesis(head, None, plies, 0.0), spoken, 99.0, 99.0)
    return [step for step in steps if step.kind == kind]


def games_of(steps: list[Step]) -> set[str]:
    return {sans(tuple(move.uci() for move in step.head.line())) for step in steps}


def test_what_was_told_may_turn_out_to_be_no_part_of_the_game() -> None:
    """1.e4 e5 2.f4 exf4 told, then a knight to f3: perhaps on move 2, not 3; legality by python-chess."""
    fits, node = fits_over("e4", "e5", "f4", "exf4")
    plies = Ply(None, Telling(node, phrase_of("takes")))
    found = games_of(steps_of("retract", node, fits, plies, phrase_of("Knight to f3.")))
    assert "e4 e5 Nf3" in found and "e4 e5 f4 exf4 Nf3" not in found


def reached(one: Hypothesis, step: Step) -> Hypothesis:
    plies, line = searching.plies_after(one, step)
    after = Hypothesis(step.head, step.side, plies, one.cost + step.cost)
    after.line = line
    return after


def way_of(first: Hypothesis, fits: Fits, phrases: list[Spoken], kinds: list[str]) -> float:
    """What it costs, in nats, to take phrases for steps of these kinds one after another."""
    steps, one, total = Steps(fits, fits.prices), first, 0.0
    for spoken, kind in zip(phrases, kinds, strict=True):
        rows = steps.moves(one, spoken, 99.0, 99.0, PLAIN)
        step = next(step for row in rows for step in row if step.kind == kind)
        one, total = reached(one, step), total + step.cost
    return total


def test_a_line_turns_into_the_game_and_back_at_the_price_of_having_been_it_from_the_start() -> None:
    """The rule of `aligner.reconstruction.turning`, by costs added up both ways; ours, no published one."""
    fits, node = fits_over("e4", "e5")
    first = Hypothesis(node, None, None, 0.0)
    told = phrases_of("Maybe pawn to f4. And if e takes f4. No, knight to f3. He goes bishop to c4. Pawn to g5.")
    table = fits.prices.table
    line = way_of(first, fits, told[:3], ["leave", "line", "return"])
    turned = way_of(first, fits, told[:3], ["game", "game", "retract"])
    assert turned == pytest.approx(line + table["retract"])
    played = way_of(first, fits, told[:3], ["game", "game", "game"])
    promoted = way_of(first, fits, told[:3], ["leave", "line", "promote"])
    assert promoted == pytest.approx(played + table["promote"])


def test_two_orders_of_moves_to_one_position_are_kept_once() -> None:
    """1.Nf3 Nf6 2.g3 and 1.g3 Nf6 2.Nf3: what follows is the same, and the dearer would only crowd others out."""
    fits, node = fits_over("Nf3", "Nf6", "g3")
    other = fits.lines.root
    for san in ("g3", "Nf6", "Nf3"):
        other = fits.lines.after(other, other.board.parse_san(san))
    speech = listen(captions_of("Knight to f3.").words)
    search = searching.GameSearch(speech, Steps(fits, fits.prices))
    kept = search.run(0, 0, [Hypothesis(node, None, None, 1.0), Hypothesis(other, None, None, 0.5)])
    assert [one.head for one in kept] == [other]


def test_the_terms_of_a_turn_add_up_to_its_cost() -> None:
    """So that prices can be fitted on steps that turn what was told."""
    fits, node = fits_over("e4", "e5")
    steps, one = Steps(fits, fits.prices), Hypothesis(node, None, None, 0.0)
    for spoken, kind in zip(
        phrases_of("Or pawn to f4. E takes f4. Knight to f3."), ("leave", "line", "promote"), strict=True
    ):
        rows = steps.moves(one, spoken, 99.0, 99.0, PLAIN)
        step = next(step for row in rows for step in row if step.kind == kind)
        assert fits.prices.cost(step.terms) == pytest.approx(step.cost)
        one = reached(one, step)
    assert sans(tuple(move.uci() for move in one.head.line())) == "e4 e5 f4 exf4 Nf3"


@pytest.mark.parametrize(("again", "games"), [
    ("Pawn to a5.", {"e4 e5 Nf3 Nc6 Bb5 a5"}),
    ("Knight to f6.", set()),  # another move altogether
])  # fmt: skip
def test_a_move_misnamed_in_one_detail_may_be_named_again(again: str, games: set[str]) -> None:
    fits, node = fits_over("e4", "e5", "Nf3", "Nc6", "Bb5", "a6")
    said, meant = phrases_of(f"Pawn to a6. {again}")
    plies = Ply(None, Telling(node, said, said.phrase.moves[0]))
    assert games_of(steps_of("correct", node, fits, plies, meant)) == games


def test_a_sideline_may_leave_the_game_far_back() -> None:
    game = ("e4", "e5", "Nf3", "Nc6", "Bb5", "a6", "Ba4", "Nf6", "O-O", "Be7", "Re1", "b5", "Bb3", "d6")
    fits, node = fits_over(*game)
    steps = steps_of("earlier", node, fits, None, phrase_of("Bishop takes c6."))
    lines = [step.side.line() for step in steps if step.side is not None]
    assert "e4 e5 Nf3 Nc6 Bb5 a6 Bxc6" in {sans(tuple(move.uci() for move in line)) for line in lines}


def test_a_sideline_that_gives_a_queen_away_costs_more() -> None:
    """Nobody shows moves for long that give pieces away (common practice): a queen on h6 here is taken by a pawn."""
    costs = {}
    for said in ("queen h6", "queen f3"):
        fits, node = fits_over("e4", "e5", "Qh5", "Nc6", "Bc4", "d6")
        sidelines = Sidelines(PricedSteps(fits, fits.prices))
        steps = sidelines.steps(Hypothesis(node, None, None, 0.0), phrase_of(f"Or {said}."), 40.0, 40.0)
        (step,) = (step for step in steps if step.kind == "leave")
        costs[said] = fits.prices.cost(term for term in step.terms if term[0].startswith("aside."))
    assert costs["queen h6"] > costs["queen f3"]


def test_a_budget_leaves_out_steps_beyond_it_and_no_others(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is not worth looking for is told by bounds; all there is, found without a budget, tells whether they hold.

    Not where lines turn: there it is settled that a move may gain one nat by being plausible and no more.
    """
    whole = Sidelines.steps
    compared = 0

    def known(steps: list[Step], budget: float, beside: float, head: LineNode) -> list[tuple[Any, ...]]:
        looked_for = [step for step in steps if step.kind not in ("promote", "retract")]
        within = [step for step in looked_for if step.cost <= (beside if step.head is head else budget)]
        return [(step.kind, step.head, step.side, round(step.cost, 6)) for step in within]

    def bounded(self: Sidelines, one: Hypothesis, spoken: Spoken, budget: float, beside: float) -> list[Step]:
        nonlocal compared
        steps = whole(self, one, spoken, budget, beside)
        expected = known(whole(self, one, spoken, 99.0, 99.0), budget, beside, one.head)
        assert sorted(known(steps, 99.0, 99.0, one.head), key=repr) == sorted(expected, key=repr)
        compared += len(expected)
        return steps

    monkeypatch.setattr(Sidelines, "steps", bounded)
    finder_of(WITH_SIDELINES).find()
    assert compared > 100


def test_what_another_search_found_is_told_of_each_ply(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(finding, "SEARCHES", (Search(FULL, (NEVER,), 0.5), Search(DEEP, (0.0,), 1.0)))
    evidence = finder_of(WITH_SIDELINES).evidence()
    assert len(evidence.second) == len(evidence.moves)
    assert all(agrees and nats >= 0.0 for agrees, nats in evidence.second), "both find the same game here"
    monkeypatch.setattr(finding, "SEARCHES", (Search(FULL, (0.0,), 1.0),))
    assert finder_of(WITH_SIDELINES).evidence().second == ()


def test_belief_rises_again_where_two_searches_are_in_one_position_again() -> None:
    """1.Nf3 d5 2.g3 or 1.g3 d5 2.Nf3: which was first is open, and what follows is not."""
    second = ((False, 2.0), (False, 2.0), (False, 2.0), (True, 2.0))
    evidence = Evidence(("g1f3", "d7d5", "g2g3", "g8f6"), (0.9,) * 4, ((0.8, 0.8),) * 4, 0.0, second=second)
    belief = trusted(evidence, read_prices(None, "game").table)
    assert belief[0] == belief[2] < belief[3] <= 1.0


def test_a_ply_that_another_search_did_not_find_is_trusted_less() -> None:
    table = read_prices(None, "game").table

    def trust(second: tuple[bool, float] | None) -> float:
        return sum(table.get(name, 0.0) * amount for name, amount in trust_terms(0.9, (0.7, 0.7), second=second))

    assert trust((True, 1.0)) > trust((False, 1.0))
    assert trust((False, 20.0)) > trust((False, 1.0)), "less so where the other game is much dearer"


def test_no_ply_of_a_found_game_is_trusted_less_than_chance_has_it() -> None:
    """The lower asymptote of a psychometric function: whatever the evidence, the answer stays between it and 1."""
    prices = {"trust": 1.0, "trust.rest": 50.0, "trust.floor": 0.25}
    evidence = Evidence(("e2e4", "e7e5"), (0.5, 0.5), ((0.7, 0.0), (0.7, 1.0)), 0.0)
    assert trusted(evidence, prices) == pytest.approx((0.25, 1.0), abs=1e-6)
    assert trusted(evidence, prices | {"trust.rest": 0.0, "trust": 0.0}) == pytest.approx((0.625, 0.625))


# The rules and common practice: a rook that takes a pawn leaves its side a pawn up, one that goes past it does not.
@pytest.mark.parametrize(("stated", "takes"), [
    ("", False), ("The material is level.", False), ("White is a pawn up.", True),
])  # fmt: skip
def test_what_is_stated_of_the_position_decides_between_moves(stated: str, takes: bool) -> None:
    fen = "4k1rr/6p1/8/R2p4/8/8/6PP/R3K3 w - - 0 1"
    rest = "Black plays rook to f8, then king to e2, king to e7, king to f1, rook to f7."
    found = finder_of(f"White plays rook to the d-file. {stated} {rest}", fen).find()
    assert found.moves[0] == ("a5d5" if takes else "a1d1")

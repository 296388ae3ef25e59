"""Which moves fit a description, against python-chess as the reference for legality and SAN."""

from __future__ import annotations

import random
from dataclasses import replace

import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aligner.search.lines import LineNode, Lines, gives_check
from aligner.search.matching import ANY_FIT, compare, exact_fits, near_fits, terms_of_fits
from aligner.speech.description import Description
from aligner.speech.symbols import read_symbols

# Invented positions: promotions, castling both ways, en passant on the board, many queens.
STARTS = [
    chess.STARTING_FEN,
    chess.STARTING_FEN,
    "r3k2r/pPpp1ppp/8/8/3Pp3/8/PPP2PpP/R3K2R b KQkq d3 0 1",
    "r3k2r/pPpp1ppp/8/8/3Pp3/8/PPP2PpP/R3K2R w KQkq - 0 1",
    "4k3/PPP5/8/8/8/8/ppp5/4K3 w - - 0 97",
    "8/8/1k6/8/8/1K6/8/QQQ2qqq b - - 12 140",
    "r1bqk2r/pp1nbppp/2p1pn2/3pP3/3P4/2N2N2/PPPBBPPP/R2QK2R w KQkq d6 0 9",
]


@st.composite
def nodes(draw: st.DrawFn) -> LineNode:
    """A position some random legal plies after a start; with legal moves in it."""
    board = chess.Board(draw(st.sampled_from(STARTS)))
    score: list[str] = []
    chance = random.Random(draw(st.integers(0, 2**32)))
    start = board.copy()
    for _ in range(draw(st.integers(0, 60))):
        moves = sorted(board.legal_moves, key=chess.Move.uci)
        if not moves:
            break
        move = chance.choice(moves)
        board.push(move)
        if not any(board.legal_moves):
            break
        score.append(move.uci())
    lines = Lines(start, score)
    return lines.score[-1]


def letter(board: chess.Board, square: int) -> str:
    piece = board.piece_at(square)
    assert piece is not None
    return piece.symbol().upper()


def complete(board: chess.Board, move: chess.Move) -> Description:
    """All that can be said of a move: piece, origin, target, capture, promotion, check, mate, side."""
    after = board.copy(stack=False)
    after.push(move)
    if board.is_castling(move):
        return Description(
            "castle", castle="short" if board.is_kingside_castling(move) else "long", side=board.turn,
            check=after.is_check(), mate=after.is_checkmate(),
        )  # fmt: skip
    capture = board.is_capture(move)
    return Description(
        "piece_takes_square" if capture else "piece_to",
        piece=letter(board, move.from_square),
        from_file=chess.square_file(move.from_square),
        from_rank=chess.square_rank(move.from_square),
        target=move.to_square,
        target_for_black=move.to_square,
        capture=capture,
        captured="" if not capture else "P" if board.is_en_passant(move) else letter(board, move.to_square),
        promotion=chess.piece_symbol(move.promotion).upper() if move.promotion else "",
        check=after.is_check(),
        mate=after.is_checkmate(),
        side=board.turn,
    )


@settings(max_examples=40, deadline=None)
@given(nodes())
def test_a_complete_description_fits_its_move_and_no_other(node: LineNode) -> None:
    for move in list(node.board.legal_moves)[:30]:
        said = complete(node.board, move)
        assert [fit.move for fit in exact_fits(node, said)] == [move]
        fit = compare(node, move, said)
        assert fit is not None and fit.slips == ()


@settings(max_examples=40, deadline=None)
@given(nodes())
def test_san_says_enough_and_python_chess_agrees(node: LineNode) -> None:
    """PGN standard, 8.2.3.4: SAN disambiguates among legal moves; so each SAN, read as symbols, fits just its move."""
    for move in node.board.legal_moves:
        san = node.board.san(move)
        readings = read_symbols(san)
        if not readings:
            assert len(san) == 2  # a pawn's move to a square is left to the grammar
            readings = (Description("symbols", piece="P", target=move.to_square, target_for_black=move.to_square),)
        fits = {fit.move for said in readings for fit in exact_fits(node, said)}
        if san[0] == "b":  # in speech a small "b" may be the bishop's; the pawn's reading is its own
            readings = tuple(said for said in readings if said.piece == "P")
            assert all(letter(node.board, fit.from_square) == "B" for fit in fits - {move})
            fits = {fit.move for said in readings for fit in exact_fits(node, said)}
        assert fits == {move} == {node.board.parse_san(san)}


FORMS = ["piece_to", "square", "go_square", "takes_square", "symbols", "push_square", "check", "retakes"]


def descriptions() -> st.SearchStrategy[Description]:
    """Anything the grammar might say, true or not."""
    squares = st.none() | st.integers(0, 63)
    return st.builds(
        lambda form, piece, file, rank, target, to_file, x, taken, castle, promotion, check, side, way, shade: (
            Description(
                form, piece, file, rank, target, target, to_file, x, taken, castle, promotion, check, False,
                side, way, shade,
            )
        ),
        st.sampled_from(FORMS),
        st.sampled_from(["", *"KQRBNP"]), st.none() | st.integers(0, 7), st.none() | st.integers(0, 7), squares,
        st.none() | st.integers(0, 7), st.booleans(), st.sampled_from(["", *"QRBNP"]),
        st.sampled_from(["", "", "", "short", "long", "any"]), st.sampled_from(["", "", *"QRBN?"]), st.booleans(),
        st.sampled_from([None, None, True, False]), st.sampled_from(["", "back", "up", "aside"]),
        st.sampled_from(["", "", "light", "dark"]),
    )  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(nodes(), descriptions())
def test_every_fit_is_legal_and_says_how_it_fits(node: LineNode, said: Description) -> None:
    legal = set(node.board.legal_moves)
    exact, near = exact_fits(node, said), near_fits(node, said)
    assert {fit.move for fit in exact} | {fit.move for fit in near} <= legal
    assert all(fit.slips == () for fit in exact)
    assert all(len(fit.slips) == 1 for fit in near)
    assert not {fit.move for fit in exact} & {fit.move for fit in near}
    assert all({name for name, _ in fit.terms} <= {*ANY_FIT, *terms_of_fits(said)} for fit in exact)
    assert len({fit.move for fit in exact}) == len(exact) <= 10
    for fit in exact:
        moved = letter(node.board, fit.move.from_square)
        assert said.side in (None, node.board.turn)
        assert not said.piece or said.piece == moved or said.castle
        assert said.target is None or said.target == fit.move.to_square or said.castle
        assert not said.capture or node.board.is_capture(fit.move) or said.castle
        assert bool(said.castle) <= node.board.is_castling(fit.move)


@settings(max_examples=150, deadline=None)
@given(nodes(), descriptions())
def test_exact_fits_are_those_of_all_legal_moves(node: LineNode, said: Description) -> None:
    """Brute force over the legal moves of python-chess."""
    fits = {move: compare(node, move, said) for move in node.board.legal_moves}
    every = {move for move, fit in fits.items() if fit is not None and not fit.slips}
    found = {fit.move for fit in exact_fits(node, said)}
    says_enough = (
        said.target is not None
        or said.piece
        or said.capture
        or said.castle
        or said.promotion
        or said.check
        or said.mate
    )
    assert found == (every if says_enough and len(every) <= 10 else set())


@settings(max_examples=60, deadline=None)
@given(nodes())
def test_what_a_node_tells_of_its_moves_is_what_python_chess_tells(node: LineNode) -> None:
    board = node.board
    legal = list(board.legal_moves)
    for move in legal:
        assert gives_check(board, move) == board.gives_check(move)
        ply = node.ply_of(move)
        assert bool(ply.victim) == board.is_capture(move) and ply.castles == board.is_castling(move)
        assert ply.piece == board.piece_type_at(move.from_square)
    for square in chess.SQUARES:
        there = {move for move in legal if move.to_square == square}
        assert {ply.move for ply in node.plies_to(square)} == there
    assert {ply.move for ply in node.captures} == {move for move in legal if board.is_capture(move)}


@pytest.mark.parametrize(("fen", "moves"), [
    ("r3k2r/8/8/8/8/8/8/R3K2R w KQkq - 0 1", {"O-O": 0.0, "O-O-O": 1.0}),
    ("r3k3/8/8/8/8/8/8/R3K3 w Qq - 0 1", {"O-O-O": 0.0}),
])  # fmt: skip
def test_castling_without_a_wing_is_castling_short_where_that_can_be(fen: str, moves: dict[str, float]) -> None:
    """Common practice: who castles long says so; where it is the only castling he need not."""
    node = Lines(chess.Board(fen), ()).root
    fits = exact_fits(node, Description("castle", castle="any"))
    assert {node.board.san(fit.move): dict(fit.terms).get("long_unsaid", 0.0) for fit in fits} == moves


def wrong_details(board: chess.Board, move: chess.Move, said: Description) -> set[str]:
    """The details of a complete description that a move contradicts, counted without the matching."""
    true = complete(board, move)
    wrong = set()
    if said.castle:
        return {"castling"} if true.castle and true.castle != said.castle else set()
    if true.castle:  # "king to g1" names castling, too
        square = chess.square_file(move.from_square), chess.square_rank(move.from_square)
        true = Description("", "K", *square, target=move.to_square)
    if said.piece != true.piece:
        wrong.add("piece")
    if (said.from_file, said.from_rank) != (true.from_file, true.from_rank) and said.from_file is not None:
        wrong.add("origin")
    if said.target != true.target:
        wrong.add("target")
    if said.capture and not true.capture:
        wrong.add("capture")
    if said.promotion != true.promotion and said.promotion:
        wrong.add("promotion")
    return wrong


@settings(max_examples=40, deadline=None)
@given(nodes(), st.integers(0, 2**32), st.sampled_from(["origin", "no origin"]))
def test_near_fits_are_all_that_differ_in_exactly_one_detail(node: LineNode, seed: int, how: str) -> None:
    moves = sorted(node.board.legal_moves, key=chess.Move.uci)
    said = replace(complete(node.board, random.Random(seed).choice(moves)), check=False, mate=False, captured="")
    if how == "origin":  # in words, a whole square that is wrong is said of another piece; see below
        said = replace(said, form="symbols")
    elif not said.castle:
        said = replace(said, from_file=None, from_rank=None)
    near = {fit.move for fit in near_fits(node, said)}
    expected = {move for move in moves if len(wrong_details(node.board, move, said)) == 1}
    if not said.castle and said.piece != "K":  # castling is a king's move: "rook g1" does not misname it
        expected = {move for move in expected if not node.board.is_castling(move)}
    assert near == expected


def test_the_side_said_wrongly_is_a_slip() -> None:
    root = Lines(chess.Board(), ()).root
    said = Description("piece_to", piece="N", target=chess.F3, target_for_black=chess.F3, side=False)
    assert exact_fits(root, said) == []
    fits = near_fits(root, said)
    assert [(fit.move.uci(), fit.slips) for fit in fits] == [("g1f3", ("side",))]


# One detail wrong in one position; the kinds are those of the contract's findings.
@pytest.mark.parametrize(("said", "move", "kind"), [
    (Description("piece_to", piece="N", target=chess.G3, target_for_black=chess.G3), "g1f3", "file"),
    (Description("piece_to", piece="N", target=chess.F4, target_for_black=chess.F4), "g1f3", "rank"),
    (Description("piece_to", piece="N", target=chess.G4, target_for_black=chess.G4), "g1f3", "square"),
    (Description("piece_to", piece="N", target=chess.C3, target_for_black=chess.C3), "g1f3", "mirrored"),
    (Description("piece_to", piece="B", target=chess.F3, target_for_black=chess.F3), "g1f3", "piece"),
    (Description("piece_to", piece="N", from_file=3, target=chess.F3, target_for_black=chess.F3), "g1f3", "origin"),
    (Description("piece_to", piece="N", target=chess.F3, target_for_black=chess.F3, capture=True), "g1f3", "capture"),
    (Description("castle", castle="long"), "e1g1", "castling"),
    (Description("piece_to", piece="B", target=chess.E2, target_for_black=chess.E2, shade="dark"), "f1e2", "colour"),
])  # fmt: skip
def test_slips_by_kind(said: Description, move: str, kind: str) -> None:
    board = chess.Board("rnbqkbnr/pppp1ppp/8/4p3/4P3/8/PPPP1PPP/RNBQKBNR w KQkq - 0 2")
    if kind == "castling":
        board = chess.Board("r3k2r/pppppppp/8/8/8/8/PPPPPPPP/R3K2R w KQkq - 0 1")
    fit = compare(Lines(board, ()).root, chess.Move.from_uci(move), said)
    assert fit is not None and fit.slips == (kind,)


def test_a_whole_square_said_before_a_piece_is_no_misnamed_origin() -> None:
    """ "Rook h1 queen g4": the words of two moves, not the g4 of a queen from h1 (common practice)."""
    board = chess.Board("4k3/8/8/8/8/8/8/3QK2R w K - 0 1")
    said = Description("piece_square", piece="Q", from_file=7, from_rank=0, target=chess.G4, target_for_black=chess.G4)
    node = Lines(board, ()).root
    assert exact_fits(node, said) == near_fits(node, said) == []
    assert compare(node, chess.Move.from_uci("d1g4"), replace(said, from_file=3)) is not None


def test_two_moves_that_fit_share_the_price_of_being_ambiguous() -> None:
    said = Description("piece_to", piece="R", target=chess.D1, target_for_black=chess.D1)
    board = chess.Board("4k3/8/8/8/8/8/8/R3K2R w - - 0 1")
    fits = exact_fits(Lines(board, ()).root, said)
    assert {fit.move.uci() for fit in fits} == {"a1d1"}  # the king stands between h1 and d1
    board = chess.Board("4k3/8/8/8/8/8/4K3/R6R w - - 0 1")
    fits = exact_fits(Lines(board, ()).root, said)
    assert {fit.move.uci() for fit in fits} == {"a1d1", "h1d1"}
    assert all(dict(fit.terms)["ambiguous"] == pytest.approx(0.6931, abs=1e-4) for fit in fits)


def test_a_description_that_says_nothing_fits_nothing() -> None:
    root = Lines(chess.Board(), ()).root
    assert exact_fits(root, Description("moves", way="back")) == near_fits(root, Description("moves", way="back")) == []


@pytest.mark.parametrize(("wing", "move"), [("queen", "a1d1"), ("king", "f1d1")])
def test_a_piece_named_by_its_wing(wing: str, move: str) -> None:
    """Common practice: after castling the queen's rook is the one that came from a1."""
    board = chess.Board("4k3/8/8/8/8/8/8/R4RK1 w - - 0 1")
    said = Description("piece_to", piece="R", target=chess.D1, target_for_black=chess.D1, wing=wing)
    assert [fit.move.uci() for fit in exact_fits(Lines(board, ()).root, said)] == [move]


@pytest.mark.parametrize(
    ("played", "other", "moves"),
    [
        (["f8e8"], True, {"a8d8"}),
        (["f8e8"], False, {"a8d8", "e8d8"}),
        (["a8b8", "g8h8"], True, {"f8d8"}),  # the king's move between changes nothing
        ([], True, {"a8d8", "f8d8"}),  # none was moved before: either may be meant
    ],
)
def test_the_other_one_is_not_the_one_moved_last(played: list[str], other: bool, moves: set[str]) -> None:
    """Common practice: of 41 such words in `fixtures/talks` 39 are of a piece that was not moved last."""
    board = chess.Board("r4rk1/8/8/8/8/8/8/4K3 b - - 0 1")
    lines = Lines(board, ())
    node = lines.root
    for black, white in zip(played, ["e1e2", "e2e1"], strict=False):
        for uci in (black, white):
            node = lines.after(node, chess.Move.from_uci(uci))
    said = Description("piece_to", piece="R", target=chess.D8, target_for_black=chess.D8, other=other)
    assert {fit.move.uci() for fit in exact_fits(node, said)} == moves


def test_where_only_the_one_moved_last_can_go_it_is_meant_all_the_same() -> None:
    lines = Lines(chess.Board("5rk1/8/8/8/8/8/8/4K3 b - - 0 1"), ())
    node = lines.after(lines.after(lines.root, chess.Move.from_uci("f8e8")), chess.Move.from_uci("e1f2"))
    said = Description("piece_to", piece="R", target=chess.D8, target_for_black=chess.D8, other=True)
    (fit,) = exact_fits(node, said)
    assert ("other_false", 1.0) in fit.terms, "at a price"

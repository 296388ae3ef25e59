"""Ways in which speakers word a move, by class; what each may mean is asked of python-chess.

Common practice of the trade unless a source is named.
"""

from __future__ import annotations

import chess
import pytest
from test_phrases import fits, heard, readings, says, whole

from aligner.search.lines import Lines
from aligner.search.matching import exact_fits


def board_after(moves: str, fen: str = chess.STARTING_FEN) -> chess.Board:
    board = chess.Board(fen)
    for san in moves.split():
        board.push_san(san)
    return board


# The ICAO spelling alphabet (Annex 10, volume II; from memory) names the first eight letters so.
RADIO = dict(zip("abcdefgh", "alfa bravo charlie delta echo foxtrot golf hotel".split(), strict=True))


@pytest.mark.parametrize("file", "abcdefgh")
def test_squares_by_radio(file: str) -> None:
    assert [{"to": f"{file}6"}] in readings(f"{RADIO[file]} six")
    assert [{"piece": "Q", "to": f"{file}6"}] in readings(f"queen to {RADIO[file]} 6")


@pytest.mark.parametrize(("text", "square"), [
    ("F for fish six", "f6"), ("f for freddie six", "f6"), ("d as in dog four", "d4"), ("B for Bertie 3", "b3"),
    ("letter f, number six", "f6"), ("letter c number 4", "c4"), ("f-six", "f6"), ("F-6", "f6"), ("eff six", "f6"),
    ("g like George two", "g2"), ("easy five", "e5"), ("dog four", "d4"),
])  # fmt: skip
def test_squares_spelt_as_on_a_telephone(text: str, square: str) -> None:
    assert [{"to": square}] in readings(text)


def test_a_word_spells_only_the_letter_it_begins_with() -> None:
    assert [{"to": "f6"}] not in readings("f for dog six")


@pytest.mark.parametrize(("text", "expected"), [
    ("officer takes c6", {"piece": "B", "to": "c6", "x": True}),
    ("the runner to g5", {"piece": "B", "to": "g5"}),
    ("springer f3", {"piece": "N", "to": "f3"}),
    ("soldier to e4", {"piece": "P", "to": "e4"}),
    ("farmer takes d5", {"piece": "P", "to": "d5", "x": True}),
    ("castle to d1", {"piece": "R", "to": "d1"}),
    ("the lady eats on d5", {"piece": "Q", "to": "d5", "x": True}),
    ("the tower comes to d1", {"piece": "R", "to": "d1"}),
    ("dame beats d5", {"piece": "Q", "to": "d5", "x": True}),
    ("rochade", {"castle": "any"}),
    ("short rochade", {"castle": "short"}),
    ("big castling", {"castle": "long"}),
    ("castles on the queen's side", {"castle": "long"}),
])  # fmt: skip
def test_speakers_of_other_languages(text: str, expected: dict[str, object]) -> None:
    assert [expected] in readings(text)


SPANISH = "e4 e5 Nf3 Nc6 Bb5 a6"
CARO = "e4 c6 d4 d5"
WAYS = [
    # exchanges
    (SPANISH, "Bxc6", ["gives up the bishop for the knight on c6", "swaps the bishop for the knight",
                       "exchanges on c6", "trades bishop for knight", "parts with the bishop for the knight"]),
    ("e4 d5 exd5", "Qxd5", ["recaptures with the queen", "the queen takes back", "regains the pawn"]),
    (f"{SPANISH} Bxc6", "dxc6", ["recaptures with the d-pawn", "the d pawn takes back", "takes back with the d-pawn"]),
    # pawns: past another one, so many squares
    (CARO, "e5", ["pushes past", "she pushed past", "bypasses", "pushes past with e5", "e-pawn one square"]),
    ("e4", "e5", ["the e-pawn goes two squares", "pushes the e-pawn two squares", "e-pawn up two", "likewise",
                  "does the same", "copies"]),
    ("e4", "e6", ["the e-pawn goes one square", "e pawn one step", "nudges the e pawn one", "the e pawn went one"]),
    ("e4 e6 d4", "e5", ["the e pawn goes another one", "inches the e pawn one more"]),
    # development
    ("Nf3 Nf6 g3 g6", "Bg2", ["fianchettoes", "fianchettoes the bishop", "fianchettoes the king's bishop"]),
    ("e4 d6 d4", "Nf6", ["develops the knight", "brings out the knight", "knight out to f6", "the knight comes out"]),
    ("e4 e5 Nf3 Nc6 Bc4 Nf6", "Ng5", ["the knight hops into g5", "knight jumps in to g5", "in goes the knight"]),
    ("Nf3 Nf6 g3 g6", "Bg2", ["in goes the bishop", "up comes the bishop"]),
    ("e4 e5 Nf3 d6 Bc4 Bg4 h3", "Bh5", ["the bishop has to go back to h5", "so his bishop was forced back to h5"]),
    ("e4 e5 Nf3 d6 Bc4 Bg4 h3", "Bc8", ["the bishop goes all the way home to c8", "back goes the bishop"]),
    ("e4 e5 Nf3 Nc6", "Bc4", ["he gets that bishop off the back rank to c4"]),
    ("e4 e5 d3 Bb4+ c3", "Be7", ["bishop drops back to e7", "drops the bishop back to e7"]),
    ("e4 e5", "Qh5", ["queen swings over to h5", "queen comes out to h5"]),
    ("e4 f5", "Qh5+", ["Q to h5 plus", "throws in a check", "queen h5 cheque"]),
    ("e4 e5 Nf3 d6 Bc4 Bg4 h3", "Bh5", ["back it goes", "home comes the bishop"]),
    # by the man that it is aimed at
    ("e4 e5 Nf3 d6 Bc4 Bg4", "h3", ["kicks the bishop", "he puts the question to the bishop", "pokes at that bishop"]),
    ("d4 Nf6 c4 e6 Nc3", "Bb4", ["the bishop pins it", "he pins the knight with his bishop", "Black pins her knight"]),
    ("e4 d5 exd5 Qxd5", "Nc3", ["hits the queen with the knight", "I attack her queen with my knight"]),
    ("e4 e5 Qh5 Nc6", "Qxf7+", ["gives up the queen", "she sacrificed the queen on f7"]),
    ("e4 e5 Bc4 d6 Qf3 h6", "Qxf7#", ["mate", "and it's mate", "mate on f7"]),
    # what is taken
    ("e4 e5 Nf3 Nf6", "Nxe5", ["the pawn falls", "the pawn is taken by the knight", "he gets the pawn", "goodbye pawn",
                              "snaps the pawn up", "picks that pawn off with the knight", "chomps it with the knight"]),
    ("e4 d5", "exd5", ["e d", "the d-pawn drops off"]),
    # another one of its kind
    ("e4 e5 Nf3 Nc6", "Nc3", ["the other one comes out", "the other one to c3", "and out comes his other knight"]),
    # castling by the square the king goes to
    ("e4 e5 Nf3 Nc6 Bb5 Nf6", "O-O", ["king to g1", "king g1", "puts the king into safety", "goes short"]),
]  # fmt: skip


@pytest.mark.parametrize(("moves", "san", "text"), [(m, san, text) for m, san, texts in WAYS for text in texts])
@pytest.mark.parametrize("spoken", [str, lambda text: text.lower().replace(",", "")], ids=["typed", "heard"])
def test_ways_of_wording(moves: str, san: str, text: str, spoken: type[str]) -> None:
    board = board_after(moves)
    lines = Lines(chess.Board(), ())
    node = lines.root
    for move in moves.split():
        node = lines.after(node, node.board.parse_san(move))
    found = {board.san(fit.move) for phrase in heard(spoken(text)) for fit in exact_fits(node, phrase.moves[0])}
    assert san in found


# positions made for this test: rooks to double, an open file, a corner, a pawn to take in passing
PLACED = [
    ("r4rk1/5ppp/8/8/8/8/4RPPP/R5K1 w - - 0 1", "Rae1", ["doubles rooks", "doubles on the e-file", "doubling rooks"]),
    ("r5k1/5ppp/8/8/8/8/5PPP/R5K1 w - - 0 1", "Rd1", ["rook to the d-file", "puts the rook on the open file"]),
    ("3r2k1/5ppp/8/8/8/4R3/5PPP/4R1K1 b - - 0 1", "Rd2", ["rook to the seventh", "rook drops to d2"]),
    ("6k1/5ppp/8/8/Pp6/8/1P3PPP/6K1 b - a3 0 1", "bxa3", ["en passant", "takes en passant", "b takes a3 in passing"]),
    ("6k1/5ppp/8/8/8/8/5PPP/3R2K1 b - - 0 1", "Kf8", ["king steps to f8"]),
    ("4k3/8/8/8/8/8/6K1/r7 w - - 0 1", "Kh3", ["king one step up", "king up one"]),
    ("3r2k1/P4ppp/8/8/8/8/5PPP/6K1 w - - 0 1", "a8=Q", ["a8 equals Q", "new queen on a8", "the pawn becomes a queen"]),
    ("6k1/R5pp/8/8/8/8/8/6K1 b - - 0 1", "Kh8", ["into the corner", "the king goes to the corner", "in the corner"]),
    ("4k3/8/8/8/R7/8/8/R3K3 w - - 0 1", "R4a3", ["the front rook to a3", "the front rook goes back one square to a3"]),
    ("4k3/8/8/8/R7/8/8/R3K3 w - - 0 1", "R1a3", ["the rear rook to a3", "the back rook comes up to a3"]),
    ("r3kr2/8/8/8/8/8/8/4K3 b - - 0 1", "Rc8", ["the corner rook to c8"]),
    ("4k3/8/4q3/8/8/8/8/3QK3 w - - 0 1", "Qe2", ["offers the queens", "offers a trade of queens", "opposes queens"]),
    ("3R2k1/5pp1/8/8/8/8/8/6K1 b - - 0 1", "Kh7", ["check, there", "check and he walks up", "check and off he goes"]),
    ("6k1/4rppp/8/8/8/8/5PPP/Q5K1 b - - 0 1", "Re1+", ["rook e1 check", "gives check on e1"]),
    ("4r1k1/5ppp/8/8/8/8/3B1PPP/4K3 w - - 0 1", "Be3", ["blocks with the bishop", "puts bishop between"]),
    ("4r1k1/5ppp/8/8/4P3/8/5PPP/R5K1 w - - 0 1", "Re1", ["guards it with the rook", "defends the pawn with his rook"]),
]  # fmt: skip


@pytest.mark.parametrize(("fen", "san", "text"), [(f, san, text) for f, san, texts in PLACED for text in texts])
def test_ways_that_ask_the_board(fen: str, san: str, text: str) -> None:
    board = chess.Board(fen)
    node = Lines(board, ()).root
    found = {board.san(fit.move) for phrase in heard(text) for fit in exact_fits(node, phrase.moves[0])}
    assert san in found


@pytest.mark.parametrize(("fen", "san", "text"), [
    # the board decides: the knight is not pinned to anything, the queen is not hit, the check is no mate
    ("rnbqkb1r/pppp1ppp/4pn2/8/2PP4/2N5/PP2PPPP/R1BQKBNR b KQkq - 0 3", "Ba3", "the bishop pins the knight"),
    ("rnb1kbnr/ppp1pppp/8/3q4/8/8/PPPP1PPP/RNBQKBNR w KQkq - 0 3", "Na3", "hits the queen with the knight"),
    ("6k1/4rppp/8/8/8/8/8/Q5K1 b - - 0 1", "Re1+", "mate"),
    # nobody is in check; a capture is not told so; no check was told before
    ("6k1/5ppp/8/8/8/8/8/3R2K1 b - - 0 1", "Kf8", "check, there"),
    ("6kR/5pp1/8/8/8/8/8/6K1 b - - 0 1", "Kxh8", "check, there"),
    ("3R2k1/5pp1/8/8/8/8/8/6K1 b - - 0 1", "Kh7", "and there it was mate"),
])  # fmt: skip
def test_the_board_refuses_what_a_move_does_not_do(fen: str, san: str, text: str) -> None:
    board = chess.Board(fen)
    node = Lines(board, ()).root
    found = {board.san(fit.move) for phrase in heard(text) for fit in exact_fits(node, phrase.moves[0])}
    assert san not in found


@pytest.mark.parametrize(("text", "square", "taken"), [
    ("they came off on d5", "d5", ""), ("the c-pawns disappeared on d5", "d5", "P"), ("everything comes off", "", ""),
])  # fmt: skip
def test_like_takes_like_whatever_it_is(text: str, square: str, taken: str) -> None:
    moves = next(moves for moves in readings(text) if len(moves) == 2)
    assert moves[0].get("to", "") == square and moves[0].get("taken", "") == taken and all(move["x"] for move in moves)


@pytest.mark.parametrize("text", ["he's got a passed pawn", "I've got one rook", "White got the better game"])
def test_what_is_owned_is_not_taken(text: str) -> None:
    assert not any(phrase.moves[0].capture for phrase in heard(text))


@pytest.mark.parametrize(("text", "expected"), [
    ("queen goes back to the rook's fourth", {"piece": "Q", "to": "a4"}),
    ("bishop to his king's second", {"piece": "B", "to": "e2"}),
])  # fmt: skip
def test_an_article_may_stand_before_a_descriptive_square(text: str, expected: dict[str, object]) -> None:
    assert any(expected.items() <= moves[0].items() for moves in readings(text))


@pytest.mark.parametrize(("text", "taken"), [
    ("trades queens", "Q"), ("queens come off", "Q"), ("the rooks are exchanged", "R"), ("a pair of rooks", "R"),
    ("changed queens", "Q"), ("changes the bishops", "B"),
])  # fmt: skip
def test_exchanges_are_two_moves(text: str, taken: str) -> None:
    moves = next(moves for moves in readings(text) if len(moves) == 2)
    assert moves == [{"piece": taken, "taken": taken, "x": True}, {"x": True}]


@pytest.mark.parametrize("text", [
    "swaps the knights on d5", "swapped the knights off on d5", "the knights come off on d5", "trading knights on d5",
])  # fmt: skip
def test_an_exchange_has_its_square(text: str) -> None:
    moves = next(moves for moves in readings(text) if len(moves) == 2)
    assert moves == [{"piece": "N", "taken": "N", "to": "d5", "x": True}, {"x": True}]


@pytest.mark.parametrize("text", ["he changed his mind", "a change of plan", "that changes the pawns"])
def test_what_else_is_changed_is_no_exchange(text: str) -> None:
    assert not any(phrase.moves[0].capture for phrase in heard(text))


@pytest.mark.parametrize("text", ["short castling for both", "castles from both sides", "both go long"])
def test_both_castle(text: str) -> None:
    assert 2 in [len(moves) for moves in readings(text)]


def test_a_pawn_goes_past_only_what_it_could_take() -> None:
    assert fits("pushes past", board_after(CARO)) == {"e5"}
    assert fits("pushes past", board_after("e4 e6")) == set()


def test_a_descriptive_square_without_its_wing_is_either() -> None:
    """Edward Lasker, "Chess Strategy" (1915), chapter I: "B-B4" where only one bishop can go there."""
    assert fits("bishop to bishop four", board_after("e4 e5")) == {"Bc4"}
    assert fits("bishop to bishop four", board_after("d4 d5")) == {"Bf4"}


# --- words that are moves only among others --------------------------------------------------------------------------


def targets(text: str) -> list[str]:
    return [str(says(phrase.moves[0]).get("to", "")) for phrase in heard(text)]


@pytest.mark.parametrize(("text", "square"), [
    ("e four before knight f3", "b4"), ("knight f3, the four, e takes f4", "d4"), ("bishop c4 a for castles", "a4"),
    ("h4 of six I go g4", "f6"), ("h4, of six, you play g4", "f6"),
])  # fmt: skip
def test_sounds_count_in_a_row_of_moves(text: str, square: str) -> None:
    assert square in targets(text)
    assert all(dict(p.terms).get("alone") for p in heard(text) if says(p.moves[0]) == {"to": square})


@pytest.mark.parametrize("text", [
    "before the game began he looked at the four of us", "she waited for a while before she went",
    "of three friends one",
])  # fmt: skip
def test_sounds_do_not_count_in_plain_talk(text: str) -> None:
    assert not any(targets(text))


def test_a_is_a_file_where_ranks_are_written_as_words() -> None:
    """Common practice of captioners: all squares of a talk are written in one way."""
    spelt = "knight f three, d five, bishop b five and"
    assert "a4" in targets(f"{spelt} a four is next")
    assert "a4" not in targets(f"{spelt.replace(' three', '3').replace(' five', '5')} a four is next")


def test_bare_pieces_count_in_a_row_of_moves() -> None:
    pieces = [p.moves[0].piece for p in heard("queen a5, d4, knight, knight, c6") if p.alone == "piece"]
    assert pieces == ["N", "N"]
    assert not any(p.alone for p in heard("the club owns a knight and a bishop made of wood"))


def test_a_misnamed_square_is_not_got_round_by_the_bare_piece() -> None:
    assert not any(p.alone for p in heard("castles bishop e6 is quiet"))


@pytest.mark.parametrize("text", ["d5!", "h4?", "e4!!", "g5?!"])
def test_a_cry_is_no_part_of_a_square(text: str) -> None:
    assert [{"to": text[:2]}] in readings(text)


def test_what_is_heard_as_mate_is_no_mate_for_nothing() -> None:
    assert all(dict(p.terms).get("sound") for p in whole("bishop b5 cheque"))


@pytest.mark.parametrize(("text", "before", "played"), [
    ("pawn to king's four on both sides", "", "e4 e5"),
    ("both sides fianchetto the king's bishop", "g3 g6", "Bg2 Bg7"),
    ("knights out", "d4 d5 c4 e6", "Nc3 Nf6"),
    ("king's knights come out f3 and f6", "d4 d5 c4 c6", "Nf3 Nf6"),
    ("bishops to g2 and g7", "g3 g6", "Bg2 Bg7"),
])  # fmt: skip
def test_a_move_of_each_side_in_one_phrase(text: str, before: str, played: str) -> None:
    board = board_after(before)
    for phrase in whole(text):
        moves, now = [], Lines(board.copy(), ()).root
        for said in phrase.moves:
            moves.append({now.board.san(fit.move) for fit in exact_fits(now, said)})
            name = played.split()[len(moves) - 1]
            if name not in moves[-1]:
                break
            now = Lines(board_after(" ".join([*before.split(), *played.split()[: len(moves)]])), ()).root
        else:
            assert len(moves) == 2
            return
    raise AssertionError(f"no reading tells {played}")


@pytest.mark.parametrize(("text", "expected"), [
    ("rook from a to b1", {"piece": "R", "from": "a", "to": "b1"}),
    ("rook f1 to c1", {"piece": "R", "from": "f", "rank": "1", "to": "c1"}),
    ("knight gustav one to felix three", {"piece": "N", "from": "g", "rank": "1", "to": "f3"}),
    ("the horse to the border h5", {"piece": "N", "to": "h5"}),
    ("the bishop drew off to a5", {"piece": "B", "to": "a5"}),
])  # fmt: skip
def test_from_where_and_past_what_a_piece_goes(text: str, expected: dict[str, object]) -> None:
    assert [expected] in readings(text)


def test_the_piece_behind_a_capture_may_be_the_one_that_takes() -> None:
    """ "He took, bishop takes a5": nobody takes a bishop here."""
    assert not any(move.captured for phrase in heard("here he took bishop takes a5") for move in phrase.moves)
    assert any(move.captured == "B" for phrase in heard("he took the bishop") for move in phrase.moves)


def test_pieces_named_alone_in_a_row_of_moves() -> None:
    spoken = heard("bishop f4 other knight his knight and I give a check on b4")
    assert sum(phrase.moves[0].form == "piece_alone" for phrase in spoken) == 2
    assert not any(phrase.moves[0].form == "piece_alone" for phrase in heard("I like his knight on that board"))


def test_what_a_move_attacks_is_no_move_of_its_own() -> None:
    """ "Knight f6 hits the pawn" is one move, as common practice has it; what somebody else then does is another."""
    assert not any(phrase.moves[0].form == "hits" for phrase in heard("knight f6 hits the pawn and attacks the queen"))
    spoken = heard("knight f6, then he kicks the bishop, and the pawn is taken")
    assert [phrase.moves[0].hits for phrase in spoken if phrase.moves[0].form == "hits"] == ["B"]

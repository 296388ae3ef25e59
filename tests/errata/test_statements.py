"""False statements: what the board proves wrong is told, what it does not is not. Talks are invented.

Whether a move checks, mates or is legal is python-chess's to say; the rest are facts of the FIDE Laws of Chess.
"""

from __future__ import annotations

from dataclasses import replace

import chess
import pytest
from talks import heard, played

from aligner.errata.mates import mates_within
from aligner.errata.statements import false_statements
from aligner.record.model import Alternative
from aligner.speech.listen import listen

OPEN_GAME = [("e4", "e4"), ("e5", "e5"), ("Nf3", "knight f3"), ("Nc6", "knight c6")]


def kinds(text: str, moves: list[tuple[str, str]], fen: str = chess.STARTING_FEN, at_least: float = 0.7) -> list[str]:
    speech = heard(text)
    return [finding.kind for finding in false_statements(speech, played(speech, moves, fen=fen), at_least=at_least)]


# FIDE Laws of Chess, appendix C: "+" is check; Bb5+ is one here, Bc4 is none.
@pytest.mark.parametrize(("text", "move", "expected"), [
    ("e4 d6 bishop b5 with check and bishop d7", ("Bb5+", "bishop b5"), []),
    ("e4 d6 bishop c4 with check and bishop d7", ("Bc4", "bishop c4"), ["check"]),
    ("e4 d6 bishop c4 check and bishop d7", ("Bc4", "bishop c4"), ["check"]),
    ("e4 d6 bishop c4 without check and bishop d7", ("Bc4", "bishop c4"), []),
    ("e4 d6 bishop c4 let's check the clock and bishop d7", ("Bc4", "bishop c4"), []),
    ("e4 d6 bishop c4 check the other line and bishop d7", ("Bc4", "bishop c4"), []),
    ("e4 d6 bishop c4 with check no sorry without bishop d7", ("Bc4", "bishop c4"), []),
])  # fmt: skip
def test_check(text: str, move: tuple[str, str], expected: list[str]) -> None:
    assert kinds(text, [("e4", "e4"), ("d6", "d6"), move, ("Bd7", "bishop d7")]) == expected


# Which moves give check: python-chess. On h5 White's queen would, the knight does not.
def test_a_check_that_another_piece_would_give_does_not_excuse_the_one_that_is_named() -> None:
    moves = [("e4", "e4"), ("f6", "f6"), ("Nh3", "knight h3"), ("Nc6", "knight c6"), ("Nf4", "knight f4")]
    moves += [("d6", "d6"), ("Nh5", "knight h5"), ("g6", "g6")]
    text = "e4 f6 knight h3 knight c6 knight f4 d6 knight h5 check g6"
    assert kinds(text, moves) == ["check"]


# Which moves give check: python-chess. No knight that may take gives one; after a move that went unheard one does.
def test_where_no_square_is_named_a_check_may_be_of_a_move_nearby() -> None:
    moves = [("e4", "e4"), ("d5", "d5"), ("Nc3", "knight c3"), ("Nf6", "knight f6"), ("exd5", "takes")]
    moves += [("Nxd5", "knight takes")]
    assert kinds("e4 d5 knight c3 knight f6 takes and knight takes with check of course", moves) == ["check"]
    moves = [*moves[:4], ("Nxd5", "knight d5"), ("e6", "e6"), ("Ne3", ""), ("Nxe4", "knight takes")]
    assert kinds("e4 d5 knight c3 knight f6 knight d5 e6 and knight takes with check of course", moves) == []


# Common practice: a move of the game that is surely told stands where the score has it, whatever was doubtful before.
def test_a_doubtful_move_before_does_not_excuse_a_false_check() -> None:
    speech = heard("e4 d6 bishop c4 check and bishop d7 of course")
    moves = [("e4", "e4"), ("d6", "d6"), ("Bc4", "bishop c4"), ("Bd7", "bishop d7")]
    game = played(speech, moves)
    doubtful = [replace(m, confidence=0.7) if m.text == "d6" else m for m in game.mentions]
    found = false_statements(speech, replace(game, mentions=tuple(doubtful)))
    assert [finding.kind for finding in found] == ["check"]


# The shortest mate there is; common knowledge of the trade, legality by python-chess.
@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("f3 e5 g4 queen h4 and mate goodbye", []),
        ("f3 e5 g4 queen h4 check and that's mate goodbye", []),
        ("f3 e5 g4 queen h4 check and goodbye", ["mate"]),
    ],
)
def test_a_mate_is_more_than_check(said: str, expected: list[str]) -> None:
    assert kinds(said, [("f3", "f3"), ("e5", "e5"), ("g4", "g4"), ("Qh4#", "queen h4")], at_least=0.7) == expected


# Common practice: a mate that is still to come is a threat, and what stands behind a piece is no lead in material.
@pytest.mark.parametrize(("said", "expected"), [
    ("and that's mate says the caretaker", ["mate"]),
    ("and it's mate next move says the caretaker", []),
    ("and that's mate again on f7 if he sleeps", []),
    ("with a queen behind it says the caretaker", []),
    ("so both have a queen behind says the caretaker", []),
    ("and white is a queen behind says the caretaker", ["material"]),
])  # fmt: skip
def test_a_mate_to_come_is_none_yet_and_behind_may_be_a_place(said: str, expected: list[str]) -> None:
    moves = [("e4", "e4"), ("e5", "e5"), ("Bc4", "bishop c4"), ("Nc6", "knight c6"), ("Qh5", "queen h5")]
    assert kinds(f"e4 e5 bishop c4 knight c6 queen h5 {said}", moves) == expected


@pytest.mark.parametrize(("said", "expected"), [("three", []), ("two", []), ("nine", ["number"]), ("one", ["number"])])
def test_move_numbers(said: str, expected: list[str]) -> None:
    text = f"e4 e5 knight f3 knight c6 and that was move {said} by my count"
    assert kinds(text, OPEN_GAME) == expected


# Numbers of moves by the score (PGN standard, section 8.2.2: a number for each pair of moves); knight c6 is move 2.
@pytest.mark.parametrize(("said", "expected"), [
    ("on move two by my count", []),
    ("on move six by my count", ["number"]),
    ("here on move six, all the same", ["number"]),
    ("and it was only move nine. Imagine", ["number"]),
    ("that's the ninth move of a long game", ["number"]),
    ("on the second move of a long game", []),
    ("on his eighth move of a long game", ["number"]),
    ("move number six as I make it", ["number"]),
    ("there. Move six. White thinks", ["number"]),
    ("before move six or so", []),
    ("and nobody looked up until move nine", []),
    ("the clock shows them move forty", []),
    ("if this is move six I am the queen", []),
    ("which I don't get at all that's move six already", ["number"]),  # what is denied is another thing
    (". And at move six, the time being noon", ["number"]),
    ("and it was on move six that he sighed", ["number"]),
    ("his fifth move with that piece", []),
    ("this is move six, sorry, move two", []),
])  # fmt: skip
def test_numbers_beside_a_move(said: str, expected: list[str]) -> None:
    assert kinds(f"e4 e5 knight f3 knight c6 {said}", OPEN_GAME) == expected


# A number counts a move of White's and one of Black's (PGN standard, section 8.2.2): after 8...h6 it is move 9.
@pytest.mark.parametrize(("said", "expected"), [
    ("There. Move eight, White to play.", ["number"]),
    ("There. Move nine, White to play.", []),
    ("There. Move eight.", []),  # which has just been played
    ("It is the tenth move of the game and everybody has a cup of tea by then.", ["number"]),
    ("It is the eighth move of the game and everybody has a cup of tea by then.", []),
])  # fmt: skip
def test_a_number_is_of_the_side_that_moves_or_of_the_move_just_told(said: str, expected: list[str]) -> None:
    sans = "e4 e5 Nf3 Nf6 d3 d6 Be2 Be7 Nc3 Nc6 Be3 Be6 a3 a6 h3 c6 b4 b5".split()
    names = {"N": "knight ", "B": "bishop "}
    moves = [(san, names.get(san[0], "") + san.lstrip("NB")) for san in sans]
    moves[15] = ("h6", "h6")
    before = ", ".join(words for _, words in moves[:16])
    assert kinds(f"{before}. {said} b4, b5.", moves) == expected


@pytest.mark.parametrize(("said", "wrong"), [
    ("the dark squared bishop on b3 stares", True), ("the light squared bishop on b3 stares", False),
    ("the dark-squared bishop on e3 stares", False), ("the light square bishop on c1 stares", True),
])  # fmt: skip
def test_colours_of_squares(said: str, wrong: bool) -> None:
    square = chess.parse_square(said.split()[-2])
    light = bool(chess.SquareSet(chess.BB_LIGHT_SQUARES) & chess.SquareSet.from_square(square))
    assert wrong == (light != ("light" in said))
    assert kinds(f"e4 e5 {said} knight f3 knight c6", OPEN_GAME) == (["colour"] if wrong else [])


@pytest.mark.parametrize(("said", "expected"), [
    ("the knight on f3 is well placed", []), ("the knight on f4 is well placed", ["position"]),
    ("the bishop on f3 is well placed", ["piece"]), ("a knight on f4 is well placed", []),
    ("he wants the knight on f4 some day", []), ("the knight on f4 sorry f3 is well placed", []),
    ("the knight on g1 was well placed", []),  # it stood there a moment ago
])  # fmt: skip
def test_what_stands_where(said: str, expected: list[str]) -> None:
    assert kinds(f"e4 e5 knight f3 knight c6 {said} says the caretaker", OPEN_GAME) == expected


# Counting the men on the board: after 3.exd5 White has a pawn more. The worth of men is common practice.
@pytest.mark.parametrize(("said", "expected"), [
    ("white is a pawn up", []), ("black is a pawn up", ["material"]), ("black is a pawn down", []),
    ("white is a pawn down", ["material"]), ("somebody is a pawn down", []), ("black is up a pawn", ["material"]),
])  # fmt: skip
def test_who_is_ahead(said: str, expected: list[str]) -> None:
    moves = [("e4", "e4"), ("d5", "d5"), ("exd5", "e takes d5"), ("Nf6", "knight f6")]
    assert kinds(f"e4 d5 e takes d5 knight f6 and {said} now", moves) == expected


def test_nobody_is_two_pawns_up_at_the_start() -> None:
    assert kinds("e4 e5 knight f3 knight c6 and white is two pawns up", OPEN_GAME) == ["material"]
    assert kinds("e4 e5 knight f3 knight c6 if white is two pawns up", OPEN_GAME) == []
    moves = [("e4", "e4"), ("d5", "d5"), ("exd5", "takes d5"), ("c6", "c6")]
    assert kinds("e4 d5 takes d5 c6 and white is a pawn up", moves) == []


def test_whose_move_it_is() -> None:
    assert kinds("e4 e5 knight f3 and it's white to move here knight c6", OPEN_GAME) == ["side"]
    assert kinds("e4 e5 knight f3 and it's black to move here knight c6", OPEN_GAME) == []


def test_castling_needs_the_right_to_it() -> None:
    fen = "r3k2r/8/8/8/8/8/8/R3K2R w - - 0 1"
    moves = [("Ke2", "king e2"), ("Ke7", "king e7")]
    assert kinds("king e2 king e7 he can still castle", moves, fen) == ["castling"]
    assert kinds("king e2 king e7 he can still castle", moves, fen.replace(" - -", " KQkq -")) == []


def test_the_only_legal_move() -> None:
    assert kinds("e4 e5 which is the only legal move knight f3 knight c6", OPEN_GAME) == ["only"]
    assert kinds("e4 e5 which is the only move knight f3 knight c6", OPEN_GAME) == []


def test_mates_by_trial() -> None:
    back_rank = "6k1/5ppp/8/8/8/8/8/R5K1 w - - 0 1"
    assert mates_within(chess.Board(back_rank), 1)
    assert not mates_within(chess.Board(chess.STARTING_FEN), 2)
    two = "7k/8/8/8/8/8/R7/1R4K1 w - - 0 1"  # rook to a7, then to b8
    assert not mates_within(chess.Board(two), 1)
    assert mates_within(chess.Board(two), 2)


def test_mate_in_two_that_is_none() -> None:
    assert kinds("e4 e5 it's mate in two knight f3 knight c6", OPEN_GAME) == ["mate"]
    assert kinds("e4 e5 it's mate in seven knight f3 knight c6", OPEN_GAME) == []  # too long to try


# Who "I" and "he" are is learnt from the talk; which side could play a move is python-chess's to say.
@pytest.mark.parametrize(("said", "expected"), [
    ("he plays", ["side"]), ("then he plays", ["side"]), ("I play", []), ("what if he plays", []),
    ("it is a shame he might have lost if he goes", []),
])  # fmt: skip
def test_the_speaker_takes_sides(said: str, expected: list[str]) -> None:
    text = "I play e4 he plays e5 I play knight f3 he plays knight c6 I play bishop b5 he plays a6 I play bishop a4 "
    moves = [("e4", "e4"), ("e5", "e5"), ("Nf3", "knight f3"), ("Nc6", "knight c6"), ("Bb5", "bishop b5")]
    moves += [("a6", "a6"), ("Ba4", "bishop a4"), ("b5", "b5"), ("Bb3", "bishop b3")]
    assert kinds(f"{text} he plays b5 and {said} bishop b3", moves) == expected


def test_a_verb_of_moving_says_who_moves_where_it_says_whereto() -> None:
    text = "I play e4 he plays e5 I play knight f3 he plays knight c6 I play bishop b5 he plays a6 I play bishop a4 "
    moves = [("e4", "e4"), ("e5", "e5"), ("Nf3", "knight f3"), ("Nc6", "knight c6"), ("Bb5", "bishop b5")]
    moves += [("a6", "a6"), ("Ba4", "bishop a4"), ("b5", "b5")]
    assert kinds(f"{text} he plays b5 and he push b3", [*moves, ("b3", "push b3")]) == ["side"]
    assert kinds(f"{text} he plays b5 and he took it", [*moves, ("Bxb5", "took")]) == []


def test_who_made_another_move_did_not_make_this_one() -> None:
    text = "I play e4 he plays e5 I play knight f3 he plays knight c6 I play bishop b5 he plays a6 I play bishop a4 "
    moves = [("e4", "e4"), ("e5", "e5"), ("Nf3", "knight f3"), ("Nc6", "knight c6"), ("Bb5", "bishop b5")]
    moves += [("a6", "a6"), ("Ba4", "bishop a4"), ("b5", "b5"), ("Bb3", "bishop b3")]
    assert kinds(f"{text} he plays b5 and he plays bishop b3", moves) == ["side"]
    assert kinds(f"{text} he plays b5 and he plays. Bishop b3", moves) == []
    assert kinds(f"{text} he plays b5 and he hits a4 bishop b3", moves) == []
    speech = heard(f"{text} he plays b5 and he plays bishop b3")
    words = [replace(w, end=w.end - 350) if w.text == "plays" and n > 25 else w for n, w in enumerate(speech.words)]
    paused = listen(words)  # captions without full stops have pauses
    assert false_statements(paused, played(paused, moves)) == ()


# Common practice: who moves may be said behind the move, and a piece may be on its way before the move is told.
@pytest.mark.parametrize(("told", "expected"), [
    ("he plays b5 and I play h4 I play", ["side"]), ("he plays b5 and h4 I play", []),
    ("he plays b5 and h4 and up I come", []), ("he plays b5 and h4 so all is set up I play", ["side"]),
])  # fmt: skip
def test_who_moves_is_said_behind_the_move(told: str, expected: list[str]) -> None:
    text = "I play e4 he plays e5 I play knight f3 he plays knight c6 I play bishop b5 he plays a6 I play bishop a4 "
    moves = [("e4", "e4"), ("e5", "e5"), ("Nf3", "knight f3"), ("Nc6", "knight c6"), ("Bb5", "bishop b5")]
    moves += [("a6", "a6"), ("Ba4", "bishop a4"), ("b5", "b5"), ("h4", "h4"), ("Rb8", "rook b8")]
    assert kinds(f"{text} {told} rook b8", moves) == expected


# A move belongs to the side whose turn it is (FIDE Laws of Chess, article 1); python-chess says who could play it.
@pytest.mark.parametrize(("text", "last", "expected"), [
    ("e4 e5 knight f3 white plays knight c6", ("Nc6", "knight c6"), ["side"]),
    ("e4 e5 knight f3 all fine for white so knight c6", ("Nc6", "knight c6"), []),
    ("e4 e5 knight f3 black plays knight c6", ("Nc6", "knight c6"), []),
    ("e4 e5 knight f3 white plays d5, and", ("d5", "d5"), ["side"]),
    ("e4 e5 knight f3 white, knight c6", ("Nc6", "knight c6"), []),
    ("e4 e5 knight f3 black then answers knight c6", ("Nc6", "knight c6"), []),
    ("e4 e5 knight f3 if white plays knight c6", ("Nc6", "knight c6"), []),
    ("e4 e5 knight f3 she is white knight c6", ("Nc6", "knight c6"), []),
    ("e4 e5 knight f3 so it is. white plays knight c6", ("Nc6", "knight c6"), ["side"]),
    ("e4 e5 knight f3 a plus for white is odd, white and knight c6", ("Nc6", "knight c6"), []),
    ("e4 e5 knight f3 white's next problem knight c6", ("Nc6", "knight c6"), []),
    ("e4 e5 knight f3 white bishop takes it. knight c6", ("Nc6", "knight c6"), []),
])  # fmt: skip
def test_who_moves(text: str, last: tuple[str, str], expected: list[str]) -> None:
    moves = [("e4", "e4"), ("e5", "e5"), ("Nf3", "knight f3"), last]
    assert kinds(text, moves) == expected


# Which piece moves where, and which file a pawn comes from, is python-chess's to say: the games are legal.
@pytest.mark.parametrize(("said", "words", "san", "expected"), [
    ("rook takes c6", "takes c6", "Bxc6", ["piece"]),
    ("bishop takes c6", "takes c6", "Bxc6", []),
    ("and eyes the knight takes c6", "takes c6", "Bxc6", []),  # an object of its own
    ("bishop takes d6 then", "bishop takes", "Bxc6", ["square"]),
    ("bishop takes, d6 then", "bishop takes", "Bxc6", []),
    ("bishop takes on d6 then", "bishop takes", "Bxc6", ["square"]),
    ("bishop takes on c6 then", "bishop takes", "Bxc6", []),
    ("beside the knight rook takes c6", "takes c6", "Bxc6", ["piece"]),  # "the knight" tells no move
    ("knight c3", "c3", "c3", ["piece"]),
    ("is played. The rook takes c6", "takes c6", "Bxc6", ["piece"]),  # where a sentence begins it is the subject
    ("all around the king the rook takes c6", "takes c6", "Bxc6", ["piece"]),
    ("now the e pawn goes to d4", "pawn goes to d4", "d4", ["origin"]),
    ("now the d pawn goes to d4", "pawn goes to d4", "d4", []),
    ("hitting the b pawn d4", "pawn d4", "d4", []),  # what is hit is no mover
    ("the bishop from c4 goes to a4", "the bishop from c4 goes to a4", "Ba4", ["origin"]),
    ("the bishop from b5 goes to a4", "the bishop from b5 goes to a4", "Ba4", []),
])  # fmt: skip
def test_what_is_misnamed_beside_a_mention(said: str, words: str, san: str, expected: list[str]) -> None:
    moves = [*OPEN_GAME, ("Bb5", "bishop b5"), ("a6", "a6"), (san, words)]
    assert kinds(f"e4 e5 knight f3 knight c6 bishop b5 a6 {said} of course", moves) == expected


def test_a_mention_is_sure_where_its_only_rival_is_that_it_tells_nothing() -> None:
    speech = heard("e4 e5 knight f3 knight c6 bishop b5 a6 bishop takes d6 of course")
    game = played(speech, [*OPEN_GAME, ("Bb5", "bishop b5"), ("a6", "a6"), ("Bxc6", "bishop takes")])
    for rival, expected in ((Alternative(None, "", 0.3, None, "none"), ["square"]), (Alternative(None, "", 0.3), [])):
        doubtful = replace(game.mentions[-1], confidence=0.7, alternatives=(rival,))
        found = false_statements(speech, replace(game, mentions=(*game.mentions[:-1], doubtful)))
        assert [finding.kind for finding in found] == expected


@pytest.mark.parametrize(("said", "words", "expected"), [
    ("makes the big castle", "castle", ["castling"]), ("makes the small castle", "castle", []),
    ("castles long", "castles", ["castling"]), ("castles for long life", "castles", []),
    ("castles long, sorry, short", "castles", []),
    ("castles long, no, sorry, she makes the small one", "castles", ["castling"]),
])  # fmt: skip
def test_the_wing_beside_castling(said: str, words: str, expected: list[str]) -> None:
    moves = [*OPEN_GAME, ("Bb5", "bishop b5"), ("a6", "a6"), ("O-O", words)]
    assert kinds(f"e4 e5 knight f3 knight c6 bishop b5 a6 and white {said} of course", moves) == expected


def test_a_pawn_takes_from_the_file_that_is_named() -> None:
    start = [("e4", "e4"), ("d5", "d5")]
    assert kinds("e4 d5 and c takes d5 of course", [*start, ("exd5", "takes d5")]) == ["origin"]
    assert kinds("e4 d5 and e takes d5 of course", [*start, ("exd5", "takes d5")]) == []
    assert kinds("e4 d5 and e takes c5 of course", [*start, ("exd5", "e takes")]) == ["square"]


# A pawn's capture is told as one, so "black plays d4" of a move of White's is no pawn e5 that takes there.
def test_a_pawn_that_could_only_capture_there_is_no_excuse() -> None:
    moves = [("e4", "e4"), ("e5", "e5"), ("d4", "d4")]
    assert kinds("e4 e5 and now black plays d4 of course", moves) == ["side"]
    assert kinds("e4 e5 and now white plays d4 of course", moves) == []


# What is legal is python-chess's to say. Common practice: a capture is told by who captures, without the square.
@pytest.mark.parametrize(("said", "words", "san", "expected"), [
    ("the king takes it back", "takes it back", "dxc6", ["piece"]),
    ("and so the queen takes it back", "takes it back", "dxc6", []),  # may capture too, by and by: nothing to be told
    ("he gets a free king takes it back", "takes it back", "dxc6", []),  # no subject
])  # fmt: skip
def test_a_piece_that_can_take_nothing_is_misnamed(said: str, words: str, san: str, expected: list[str]) -> None:
    moves = [*OPEN_GAME, ("Bb5", "bishop b5"), ("a6", "a6"), ("Bxc6", "bishop c6"), (san, words)]
    text = f"e4 e5 knight f3 knight c6 bishop b5 a6 bishop c6, {said} of course"
    found = kinds(text, moves, fen=chess.STARTING_FEN)
    assert found == expected

"""Moves misnamed in words of no mention, or held in their place by those around them. Invented.

Which moves are legal is python-chess's to say.
"""

from __future__ import annotations

from dataclasses import replace

import chess
import pytest
from talks import heard, played

from aligner.errata.review import reviewed
from aligner.errata.statements import false_statements
from aligner.record.model import Finding, Meant

SPANISH = [("e4", "e4"), ("e5", "e5"), ("Nf3", "knight f3"), ("Nc6", "knight c6"), ("Bb5", "bishop b5"), ("a6", "a6")]
TEXT = "e4 e5 knight f3 knight c6 bishop b5 a6"


def found(said: str, moves: list[tuple[str, str]]) -> list[tuple[str, str]]:
    speech = heard(f"{TEXT} {said}")
    findings = false_statements(speech, played(speech, [*SPANISH, *moves]))
    return [(finding.kind, finding.meant.san or "") for finding in findings]


@pytest.mark.parametrize(("said", "expected"), [
    ("and then white castled queenside and d6 now", [("castling", "O-O")]),  # b1 and c1 are not empty
    ("and then white castled kingside and d6 now", []),
    ("rook g4 calmly and d6 now", []),  # no such slip of castling
    ("if only he had castled queenside and d6 now", []),
    ("he can't castle queenside and d6 now", []),
])  # fmt: skip
def test_the_next_move_misnamed_where_no_mention_has_it(said: str, expected: list[tuple[str, str]]) -> None:
    assert found(said, [("O-O", ""), ("d6", "d6")]) == expected


@pytest.mark.parametrize(("said", "expected"), [
    ("bishop a8 and b5 now", [("rank", "Ba4")]),
    ("bishop e2 and b5 now", []),  # a move that could be played is one thought of
    ("bishop a8 sorry and b5 now", []),
    ("bishop a8 and b5 now and d4", [("rank", "Ba4")]),
])  # fmt: skip
def test_a_square_that_no_piece_can_go_to(said: str, expected: list[tuple[str, str]]) -> None:
    assert found(said, [("Ba4", ""), ("b5", "b5")]) == expected


def test_what_is_described_was_not_misnamed() -> None:
    assert found("attacking bishop a8 and b5 now", [("Ba4", ""), ("b5", "b5")]) == []
    speech = heard("white begins with e4 which places a pawn in the center and then knight f3")  # one, not the a-pawn
    assert false_statements(speech, played(speech, [("e4", "e4"), ("e5", ""), ("Nf3", "knight f3")])) == ()


def test_what_is_told_soon_after_was_not_left_out() -> None:
    moves = [("Ba4", "bishop a4"), ("b5", "b5")]
    assert found("bishop a8 well said the crowd bishop a4 b5", moves) == []


def test_a_promotion_on_another_square() -> None:
    fen = "4k3/8/8/8/8/8/1p6/4K3 b - - 0 1"
    for said, expected in (("a1", ["square"]), ("b1", [])):
        speech = heard(f"and he makes a queen on {said} with check")
        game = played(speech, [("b1=Q+", "makes a queen")], fen=fen)
        assert [finding.kind for finding in false_statements(speech, game)] == expected


# A move belongs to the side whose turn it is (FIDE Laws of Chess, article 1).
def test_a_move_held_in_its_place_is_not_the_other_sides_though_it_has_one_like_it() -> None:
    moves = [("e4", "e4"), ("d6", "d6"), ("d4", "d4"), ("e5", "e5"), ("d5", "d5"), ("a6", "a6")]
    for said, expected in (("black plays d5", ["side"]), ("white plays d5", []), ("what a black d5", ["side"])):
        speech = heard(f"e4 d6 d4 e5 {said} a6")
        game = played(speech, moves)
        assert [finding.kind for finding in false_statements(speech, game)] == expected
        mentions = (*game.mentions[:-1], replace(game.mentions[-1], confidence=0.8))
        doubtful = replace(game, mentions=mentions)  # ...d6-d5 may have been told, and what followed is doubtful
        assert "side" not in [finding.kind for finding in false_statements(speech, doubtful)]


@pytest.mark.parametrize(
    "said", ["I'd take white, bishop b5 next", "two white bishops b5", "she has white I go bishop b5"]
)
def test_a_side_that_is_spoken_of_moves_nothing(said: str) -> None:
    speech = heard(f"e4 e5 knight f3 d6 d4 {said}")
    moves = [("e4", "e4"), ("e5", "e5"), ("Nf3", "knight f3"), ("d6", "d6"), ("d4", "d4"), ("Be7", "b5")]
    assert false_statements(speech, played(speech, moves)) == ()


@pytest.mark.parametrize(("confidence", "around", "expected"), [(1.0, 1.0, True), (0.9, 1.0, False), (1.0, 0.9, False)])
def test_a_sidelines_slip_is_told_where_the_moves_around_it_are_sure(
    confidence: float, around: float, expected: bool
) -> None:
    speech = heard("e4 e5 knight f3 knight c6 bishop b6 a6")
    game = played(speech, [*SPANISH[:4], ("Bb5", "bishop b6"), ("a6", "a6")])
    nodes = tuple(replace(node, main=node.ply < 3) for node in game.nodes)
    slip = replace(game.mentions[4], kind="slip", confidence=confidence)
    mentions = (*game.mentions[:4], slip, replace(game.mentions[5], confidence=around))
    board = chess.Board("r1bqkbnr/pppp1ppp/2n5/4p3/4P3/5N2/PPPP1PPP/RNBQKB1R w KQkq - 2 3")
    meant = Meant("f1b5", "Bb5", 5)
    finding = Finding(slip.start, slip.end, slip.text, slip.words, "rank", "unsure", meant, confidence, "", board.fen())
    game = replace(game, nodes=nodes, mentions=mentions, findings=(finding,))
    assert bool(reviewed(speech, game).findings) == expected


@pytest.mark.parametrize(("between", "expected"), [("", False), ("and that was the main point of it all so", True)])
def test_a_move_that_is_answered_as_it_was_not_in_the_game_was_shown(between: str, expected: bool) -> None:
    speech = heard(f"e4 e5 knight f3 knight c6 bishop c4 {between} bishop c5")
    game = played(speech, [*SPANISH[:4], ("Bb5", "bishop c4"), ("Bc5", "bishop c5")])
    nodes = tuple(replace(node, main=node.ply < 6) for node in game.nodes)
    slip = replace(game.mentions[4], kind="slip")
    board = chess.Board("r1bqkbnr/pppp1ppp/2n5/4p3/4P3/5N2/PPPP1PPP/RNBQKB1R w KQkq - 2 3")
    meant = Meant("f1b5", "Bb5", 5)
    finding = Finding(slip.start, slip.end, slip.text, slip.words, "square", "unsure", meant, 1.0, "", board.fen())
    mentions = (*game.mentions[:4], slip, game.mentions[5])
    game = replace(game, nodes=nodes, mentions=mentions, findings=(finding,))
    assert bool(reviewed(speech, game).findings) == expected

"""Moves that nobody spoke, their rivals, and what settling one does; legality by python-chess, talks invented."""

from __future__ import annotations

import chess
import pytest
from test_game_finding import captions_of, finder_of, fits_over, phrase_of, sans

from aligner.pgn.score import Score
from aligner.pipeline import align
from aligner.reconstruction.amending import Amender
from aligner.reconstruction.closing import Closing
from aligner.reconstruction.hypothesis import Hypothesis, Ply, Step, Telling
from aligner.reconstruction.search import GameSearch
from aligner.reconstruction.valued import Course
from aligner.speech.statements import Statement

# Black's second move is not told; the king that castles later needs f8 empty, so it was the bishop's. What comes after
# it is no opening theory, or that would say which move it was
TALK = "Pawn to e4 and pawn to e5. Knight to f3. And now bishop to b5. Pawn to a6, bishop to d3, knight to f6. " + (
    "White castles. Pawn to b5, knight to c3 and pawn to d6. Pawn to h3, and the black king castles short. "
    "Rook to e1 and rook to e8."
)
BEFORE = ("e4", "e5", "Nf3")
AFTER = ("Bb5", "a6", "Bd3", "Nf6", "O-O", "b5", "Nc3", "d6", "h3", "O-O", "Re1", "Re8")


def can_be_played(*moves: str) -> bool:
    board = chess.Board()
    try:
        for move in moves:
            board.push(board.parse_san(move))
    except ValueError:
        return False
    return True


def line(*moves: str) -> tuple[str, ...]:
    board = chess.Board()
    return tuple(board.push_san(move).uci() for move in moves)


def test_an_unspoken_ply_has_every_likely_move_that_keeps_the_rest_playable() -> None:
    found = finder_of(TALK).find()
    assert sans(found.moves).split()[4:] == list(AFTER)
    assert [bool(row) for row in found.candidates] == [ply == 3 for ply in range(len(found.moves))]
    row = found.candidates[3]
    assert row[0].uci == found.moves[3] and len(row) > 1
    shares = [candidate.share for candidate in row]
    assert shares == sorted(shares, reverse=True) and sum(shares) == pytest.approx(1.0)
    board = chess.Board()
    for move in BEFORE:
        board.push_san(move)
    names = {board.san(chess.Move.from_uci(candidate.uci)) for candidate in row}
    legal = [board.san(move) for move in board.legal_moves]
    assert names == {name for name in legal if can_be_played(*BEFORE, name, *AFTER)}


def test_the_record_tells_how_sure_an_unspoken_move_is_and_what_else_it_may_have_been() -> None:
    nodes = align(captions_of(TALK)).games[0].nodes
    unspoken = [node for node in nodes if node.source == "inferred"]
    assert [node.ply for node in unspoken] == [4]
    node = unspoken[0]
    before = next(one for one in nodes if one.id == node.parent)
    told = [node.confidence, *(rival.confidence for rival in node.alternatives)]
    assert len(told) > 1 and sum(told) <= before.confidence + 0.001
    assert all(rival.parent == node.parent and rival.uci != node.uci for rival in node.alternatives)
    assert all(not one.alternatives for one in nodes if one.source != "inferred")


def test_a_score_leaves_nothing_to_infer() -> None:
    score = Score(chess.STARTING_FEN, line(*BEFORE, "Be7", *AFTER), {"Result": "*"}, 1)
    nodes = align(captions_of(TALK), (score,), force=True).games[0].nodes
    assert all(not node.alternatives and node.source != "inferred" for node in nodes)


def test_a_settled_one_is_filled_in_without_another_search(monkeypatch: pytest.MonkeyPatch) -> None:
    finder = finder_of(TALK)
    before = finder.find()
    rival = before.candidates[3][-1].uci

    def searches(*_: object) -> None:
        raise AssertionError("the talk is searched again")

    monkeypatch.setattr(GameSearch, "run", searches)
    found = finder.find(Course(line=(*before.moves[:3], rival), unsaid=(3,)))
    assert found.moves == (*before.moves[:3], rival, *before.moves[4:])
    assert found.belief[:4] == (1.0,) * 4 and found.candidates[3] == ()
    assert all(now >= then for now, then in zip(found.belief, before.belief, strict=True))


def test_a_settled_one_after_which_the_rest_cannot_be_played_is_searched_for() -> None:
    finder = finder_of(TALK)
    before = finder.find()
    found = finder.find(Course(line=line(*BEFORE, "Nc6"), unsaid=(3,)))
    assert sans(found.moves).split()[:4] == [*BEFORE, "Nc6"]
    # with the bishop still on f8, Black's king cannot have castled then; before d6 all is as it was
    assert sans(found.moves).split()[4:11] == list(AFTER[:7])
    assert finder.find() == before


def test_a_game_that_cannot_be_played_on_ends_there_and_says_so() -> None:
    """After 1.e4 no reply lets a queen take on h7."""
    fits, node = fits_over("e4")
    lines, spoken = fits.lines, phrase_of("queen takes h7")
    first = Ply(None, Telling(node, phrase_of("pawn to e4"), phrase_of("pawn to e4").phrase.moves[0]))
    open_ply = Ply(first, Telling(lines.after(node, chess.Move.null())))
    told = lines.after(open_ply.node, chess.Move.from_uci("d1h7"))
    hypothesis = Hypothesis(told, None, Ply(open_ply, Telling(told, spoken, spoken.phrase.moves[0])), 0.0)
    closed = Closing(fits, Amender(fits)).close(hypothesis)
    assert closed is not None and not closed.whole
    assert [move.uci() for move in closed.moves][:1] == ["e2e4"] and len(closed.moves) == 2
    assert Closing(fits, Amender(fits)).close(hypothesis, [chess.Move.from_uci("d2d4")]) is None


# The rules: of Black's second moves after a3 b5 a4 only bxa4 wins a pawn, and after c3 Black is still a pawn up.
@pytest.mark.parametrize(("kind", "likelier"), [("ahead", True), ("level", False)])
def test_what_is_stated_later_makes_an_unspoken_move_likelier_or_less_likely(kind: str, likelier: bool) -> None:
    fits, node = fits_over("a3", "b5", "a4")
    open_node = fits.lines.after(node, chess.Move.null())
    reply = fits.lines.after(open_node, chess.Move.from_uci("c2c3"))
    told = phrase_of("pawn to c3")
    plies: Ply | None = None
    assert node.parent is not None and node.parent.parent is not None
    for at in (node.parent.parent, node.parent, node, open_node, reply):
        spoken = None if at is open_node else told
        plies = Ply(plies, Telling(at, spoken, None if at is not reply else told.phrase.moves[0]))
    end = Hypothesis(reply, None, plies, 0.0)
    end.arcs = [(Hypothesis(node, None, None, 0.0), Step("game", told, reply, None, (), None, (), 0.0))]
    shares = []
    for statements in ((), (Statement(5, 8, kind, "pawn" if kind == "ahead" else ""),)):
        closed = Closing(fits, Amender(fits), statements=statements).close(end)
        assert closed is not None
        shares.append({candidate.uci: candidate.share for candidate in closed.candidates[3]}["b5a4"])
    assert (shares[1] > shares[0]) is likelier


def test_the_same_decisions_give_the_same_game_in_whatever_order_they_came() -> None:
    settled = Course(line=line(*BEFORE, "Bc5"), unsaid=(3,))
    finder = finder_of(TALK)
    finder.find()
    finder.find(Course(line=line(*BEFORE, "Nc6"), unsaid=(3,)))
    assert finder.find(settled) == finder_of(TALK).find(settled)

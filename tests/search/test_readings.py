"""Small invented talks through the whole search; each is plain enough for any sensible prices."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import chess
import pytest
from search.invented_talks import (
    QUIET,
    TRADES,
    captions_of,
    last_moves,
    main_of,
    mention_of,
    path,
    score_of,
    sidelines,
    spoken,
    words_of,
)

from aligner.pgn.score import Score
from aligner.pipeline import align
from aligner.prices.prices import read_prices
from aligner.record.document import record_to_json
from aligner.record.model import Record
from aligner.search.reading import Reading, read
from aligner.speech.listen import listen

BOTH = pytest.mark.parametrize("known", [True, False], ids=["score", "talk"])
BEGIN = "Good evening, this is the game. " + spoken("e4 e5 Nf3 Nc6 Bc4 Bc5") + " Nothing new so far. "
REST = spoken("d6 O-O O-O Re1 a6 Bb3 Ba7 h3 h6")


def aligned(text: str, known: bool, game: str = QUIET) -> Record:
    return align(captions_of(text), [score_of(game)] if known else [])


@BOTH
def test_goes_on(known: bool) -> None:
    record = aligned(BEGIN + "Now c3. " + spoken("Nf6 d3 d6"), known)
    game = record.games[0]
    assert main_of(game).startswith("e4 e5 Nf3 Nc6 Bc4 Bc5 c3 Nf6 d3 d6")
    assert last_moves(game) == [f"move {san}" for san in QUIET.split()[:10]]
    assert sidelines(game) == set() and game.findings == ()
    if known:
        assert main_of(game) == QUIET
        assert {node.source for node in game.nodes[11:]} == {"score"}
        assert [node.confidence for node in game.nodes] == [1.0] * 23


@BOTH
def test_moves_without_capitals_and_full_stops(known: bool) -> None:
    text = (BEGIN + "now c3 " + spoken("Nf6 d3 d6")).lower().replace(".", "").replace(",", "")
    assert main_of(aligned(text, known).games[0]).startswith("e4 e5 Nf3 Nc6 Bc4 Bc5 c3 Nf6 d3 d6")


def test_an_alternative_and_a_return_with_a_cue() -> None:
    text = BEGIN + "Now c3, and then knight f6. Instead queen e7 was possible, d4, bishop b6. But back to the game. "
    game = aligned(text + "White played d3. Here d6.", True).games[0]
    assert sidelines(game) == {"7: Qe7 d4 Bb6"}


def test_a_line_and_a_return_without_a_cue() -> None:
    text = BEGIN + "What about queen e2 here. " + spoken("d6 h3 Nf6") + " Quite a fight. "
    record = aligned(text + spoken("c3 Nf6 d3") + " " + REST, True)
    game = record.games[0]
    assert sidelines(game) == {"6: Qe2 d6 h3 Nf6"}
    assert path(game, mention_of(record, "c3").nodes[0]) == "e4 e5 Nf3 Nc6 Bc4 Bc5 c3"
    assert mention_of(record, "rook e1").kind == "move"


def test_a_sideline_inside_a_sideline() -> None:
    text = (
        BEGIN + "What about queen e2 here. Then d6 and now h3. And then knight f6. "
        "Or instead a6 here, a4, bishop a7. But back to the game. "
    )
    game = aligned(text + spoken("c3 Nf6 d3") + " " + REST, True).games[0]
    assert sidelines(game) == {"6: Qe2 d6 h3 Nf6", "6: Qe2 d6 h3 a6 a4 Ba7"}
    assert main_of(game) == QUIET


@BOTH
def test_a_look_back_makes_no_new_move(known: bool) -> None:
    text = BEGIN + spoken("c3 Nf6 d3 d6") + " Remember the move knight f3 from earlier. " + spoken("O-O O-O Re1")
    game = aligned(text, known).games[0]
    node = next(node for node in game.nodes if node.main and node.san == "Nf3")
    kinds = [mention.kind for mention in game.mentions if node.id in mention.nodes]
    assert kinds in (["move"], ["move", "again"])
    assert len(node.times) == len(kinds) and list(node.times) == sorted(node.times)
    assert sidelines(game) == set() and main_of(game).startswith("e4 e5 Nf3 Nc6 Bc4 Bc5 c3 Nf6 d3 d6 O-O O-O Re1")


def test_a_move_announced_and_then_played_is_one_node_with_two_times() -> None:
    text = BEGIN + spoken("c3 Nf6 d3 d6") + " " + spoken("O-O O-O") + " He played rook e1. This rook e1 again. "
    game = aligned(text + spoken("a6 Bb3 Ba7"), True).games[0]
    node = next(node for node in game.nodes if node.main and node.san == "Re1")
    assert sum(found.san == "Re1" for found in game.nodes) == 1 and len(node.times) >= 1


def test_moves_that_nobody_speaks_are_passed_over() -> None:
    text = BEGIN + spoken("c3 Nf6 d3 d6") + " And then " + spoken("Re1 a6 Bb3 Ba7")
    game = aligned(text, True).games[0]
    castled = [node for node in game.nodes if node.san == "O-O"]
    assert [(node.main, node.source, node.times) for node in castled] == [(True, "score", ())] * 2
    assert last_moves(game)[-4:] == ["move Re1", "move a6", "move Bb3", "move Ba7"]
    assert game.findings == () and sidelines(game) == set()


@BOTH
def test_a_recapture_that_nobody_speaks(known: bool) -> None:
    text = "Welcome. " + spoken("e4 d5 exd5") + " Of course. " + spoken("Nc3 Qa5 d4 Nf6 Nf3")
    game = aligned(text, known, TRADES).games[0]
    assert main_of(game).startswith("e4 d5 exd5 Qxd5 Nc3 Qa5 d4 Nf6 Nf3")
    recapture = next(node for node in game.nodes if node.san == "Qxd5")
    assert (recapture.main, recapture.times) == (True, ())
    assert recapture.source == ("score" if known else "inferred")


def test_castling_that_nobody_speaks_without_a_score() -> None:
    game = aligned(BEGIN + spoken("c3 Nf6 d3 d6") + " And then " + spoken("Re1 a6 Bb3 Ba7"), False).games[0]
    assert game.findings == ()
    assert main_of(game) == " ".join(QUIET.split()[:16])


def test_a_slip_is_the_move_that_was_meant() -> None:
    record = aligned(BEGIN + "c3. knight g6. " + spoken("d3 d6 O-O O-O Re1 a6"), True)
    game = record.games[0]
    assert sidelines(game) == set()
    mention = mention_of(record, "knight g6")
    assert mention.kind == "slip" and path(game, mention.nodes[0]).endswith("c3 Nf6")
    [finding] = game.findings
    assert (finding.kind, finding.meant.uci, finding.meant.san) == ("file", "g8f6", "Nf6")
    assert finding.meant.node == mention.nodes[0] and finding.words == mention.words
    assert "knight g6" in finding.message and "Nf6" in finding.message and "\n" not in finding.message
    assert chess.Board(finding.fen).parse_san("Nf6") == chess.Move.from_uci("g8f6")


def test_castling_to_the_wrong_side_is_a_slip() -> None:
    text = BEGIN + spoken("c3 Nf6 d3 d6") + " White castles queenside. " + spoken("O-O Re1 a6 Bb3 Ba7")
    game = aligned(text, True).games[0]
    assert [(finding.kind, finding.meant.san) for finding in game.findings] == [("castling", "O-O")]


@BOTH
def test_a_plan_is_no_line(known: bool) -> None:
    text = BEGIN + spoken("c3 Nf6") + " Black wants to play knight takes e4 one day. " + spoken("d3 d6 O-O O-O")
    game = aligned(text, known).games[0]
    assert main_of(game).startswith("e4 e5 Nf3 Nc6 Bc4 Bc5 c3 Nf6 d3 d6 O-O O-O")
    assert sidelines(game) == set() and game.findings == ()
    assert all("e4" not in mention.text or mention.nodes == (1,) for mention in game.mentions if mention.kind != "idea")


def test_a_plan_is_an_idea() -> None:
    text = BEGIN + spoken("c3 Nf6") + " Black wants to play knight takes e4 one day. " + spoken("d3 d6 O-O O-O")
    assert [(m.kind, m.nodes) for m in aligned(text, True).games[0].mentions if "e4" in m.text][1:] == [("idea", ())]


@BOTH
def test_squares_and_pieces_in_description_are_no_moves(known: bool) -> None:
    text = (
        BEGIN + "c3. The knight on f3 guards the e5 square and there is a hole on d4. "
        "The bishop on c4 looks at f7, and he is weak on the light squares. " + spoken("Nf6 d3 d6")
    )
    game = aligned(text, known).games[0]
    assert main_of(game).startswith("e4 e5 Nf3 Nc6 Bc4 Bc5 c3 Nf6 d3 d6")
    assert sidelines(game) == set() and game.findings == ()
    assert last_moves(game)[-4:] == ["move c3", "move Nf6", "move d3", "move d6"]


def test_no_mention_crosses_a_full_stop() -> None:
    text = BEGIN + "What about queen e2 here. D6. Castles kingside. Knight f6. But back to the game. "
    game = aligned(text + spoken("c3 Nf6 d3") + " " + REST, True).games[0]
    assert [m.text for m in game.mentions if "." in m.text.rstrip(".")] == []


def test_a_start_position_of_its_own() -> None:
    fen = "8/P6k/8/8/8/8/6p1/K7 w - - 0 50"
    record = align(captions_of("An endgame. a8 equals queen. g1 equals knight. Queen d5."), start_fen=fen)
    assert main_of(record.games[0]) == "a8=Q g1=N Qd5"
    assert record.games[0].start_fen == fen


# --- probabilities ----------------------------------------------------------------------------------------------------

TALKS = [
    BEGIN + "c3. Instead knight c3 was possible, knight f6, d3. In the game he played c3. " + spoken("Nf6 d3 d6"),
    BEGIN + spoken("c3 Nf6 d3") + " Takes takes takes. Castles. The knight comes back. Pushes again. " + REST,
    "knight f3 knight f6 c4 takes takes check queen d4 or d5 back to knight f3 again e4 takes queens",
]


def read_of(text: str, score: Score | None) -> Reading:
    moves = score.moves if score else ()
    return read(listen(words_of(text)), chess.Board(), moves, read_prices(None, "score" if score else "talk"))


@BOTH
@pytest.mark.parametrize("text", TALKS)
def test_probabilities_are_probabilities(text: str, known: bool) -> None:
    reading = read_of(text, score_of(QUIET) if known else None)
    for choice in reading.choices:
        assert -1e-9 <= choice.probability <= 1 + 1e-9
        shares = [rival.probability for rival in choice.rivals]
        assert shares == sorted(shares, reverse=True) and all(0 < share <= 1 + 1e-9 for share in shares)
        own = {node.number for node in choice.decision.nodes}
        assert all(not own & {node.number for node in rival.nodes} for rival in choice.rivals)
    assert all(0 <= share <= 1 for share in reading.presence.values())


def test_a_decision_and_its_rivals_share_one_probability() -> None:
    texts = [*TALKS, BEGIN + spoken("c3 Nf6 d3 d6 O-O O-O Re1")]
    for text in texts:
        for known in (True, False):
            for choice in read_of(text, score_of(QUIET) if known else None).choices:
                if choice.decision.nodes:
                    assert choice.probability + sum(rival.probability for rival in choice.rivals) <= 1 + 1e-6


@BOTH
def test_the_costs_of_decisions_are_the_sums_of_their_terms(known: bool) -> None:
    """An explanation that prints a decision's terms must add up to its cost."""
    prices = read_prices(None, "score" if known else "talk")
    for text in TALKS:
        reading = read_of(text, score_of(QUIET) if known else None)
        for choice in reading.choices:
            assert prices.cost(choice.decision.terms) == pytest.approx(choice.decision.cost, abs=1e-6)


# --- the same talk gives the same record ------------------------------------------------------------------------------


@BOTH
def test_the_same_talk_gives_the_same_record(known: bool) -> None:
    for text in TALKS:
        assert record_to_json(aligned(text, known)) == record_to_json(aligned(text, known))


SCRIPT = """
import sys
sys.path.insert(0, sys.argv[1])
from search.test_readings import TALKS, aligned
from aligner.record.document import record_to_json
for text in TALKS:
    print(record_to_json(aligned(text, text is not TALKS[2])))
"""


def test_the_record_does_not_depend_on_the_order_of_sets() -> None:
    outputs = {
        subprocess.run(
            [sys.executable, "-c", SCRIPT, str(Path(__file__).parents[1])],
            env={**os.environ, "PYTHONHASHSEED": seed}, capture_output=True, text=True, check=True,
        ).stdout
        for seed in ("1", "4711")
    }  # fmt: skip
    assert len(outputs) == 1 and len(outputs.pop()) > 1000


def test_a_talk_with_its_score_sets_in_behind_the_theory_that_an_opening_stands_for() -> None:
    """A King's Indian is four plies to the catalogues of names, and to speakers the dozen that everybody plays."""
    game = "d4 Nf6 c4 g6 Nc3 Bg7 e4 d6 f3 O-O Be3 a6 Nge2 c6 a4 a5 Ng3"
    text = (
        "The game starts off with a King's Indian defense by the challenger, who plays for a win with Black. The "
        "champion responds with one of the most dangerous ways to fight it. He puts his bishop on e3, his knight on "
        "e2, and now comes c6, and the idea is a breakthrough. a4 is his choice, and after a5 he brings his knight "
        "to g3."
    )
    record = aligned(text, known=True, game=game)
    assert sidelines(record.games[0]) == set()
    assert last_moves(record.games[0])[-5:] == ["move Nge2", "move c6", "move a4", "move a5", "move Ng3"]

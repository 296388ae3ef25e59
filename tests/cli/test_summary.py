"""The summary, on small records made by hand; every name in them is invented."""

from __future__ import annotations

from dataclasses import replace

import pytest

from aligner.cli.summary import LISTED, count_sidelines, move_name, summarise
from aligner.record.model import Alternative, Finding, Game, Meant, Mention, Node, Record, Recording

START = "rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1"
BLACK_TO_MOVE = "8/5k2/8/8/8/8/5K2/8 b - - 3 40"


def node(number: int, parent: int, san: str, ply: int, main: bool = True, source: str = "spoken") -> Node:
    times = ((float(number), number + 0.5),) if source == "spoken" else ()
    return Node(number, parent, "e2e4", san, ply, main, source, times=times)


# 1. e4 e5 (1... c5 2. Nf3 (2. c3 d5 (2... e6) ) 2... d6) 2. Nf3 Nc6 3. Bb5
NODES = (
    Node(0, None, None),
    node(1, 0, "e4", 1),
    node(2, 1, "e5", 2, source="score"),
    node(6, 1, "c5", 2, main=False),
    node(3, 2, "Nf3", 3, source="inferred"),
    node(7, 6, "Nf3", 3, main=False),
    node(8, 6, "c3", 3, main=False),
    node(4, 3, "Nc6", 4),
    node(9, 7, "d6", 4, main=False),
    node(10, 8, "d5", 4, main=False),
    node(11, 8, "e6", 4, main=False),
    node(5, 4, "Bb5", 5, source="score"),
)
MENTIONS = (
    Mention(1.0, 1.5, "e4,", (0, 1), "move", (1,), 0.99),
    Mention(63.0, 64.0, "knight c6", (9, 11), "move", (4,), 0.55,
            (Alternative("b8d7", "Nd7", 0.3, 3), Alternative(None, "", 0.1, None, "none"))),
    Mention(3700.0, 3701.0, "c three\x1b[2J", (12, 14), "slip", (8,), 0.9),
    Mention(3702.0, 3703.0, "b5", (14, 15), "idea", (), 0.5, (Alternative("b7b5", "b5", 0.4, 99),)),
)  # fmt: skip
FINDING = Finding(63.0, 64.0, "c4", (9, 10), "square", "speaker", Meant("c2c3", "c3", 8), 0.9, "c4 was said,\nc3 meant")
GAME = Game(START, {"White": "Ada Reyes", "Black": "Olin Voss", "Result": "1-0"}, NODES, MENTIONS, (FINDING,))
RECORD = Record(Recording("talk.vtt", None, None, 3723.4, 1234), (GAME,), (), notes=("line 4: mended.",))


def test_the_whole_summary() -> None:
    assert summarise(RECORD).splitlines() == [
        "talk.vtt: 1,234 words in 1:02:03",
        "  Ada Reyes - Olin Voss, 1-0",
        "  4 mentions: 2 first spoken, 1 misnamed, 1 only planned",
        "  5 game moves: 2 spoken of, 1 passed over (1...e5), 1 inferred (2.Nf3), 1 after the talk leaves the game",
        "  3 sidelines, 3 deep, 6 moves in them",
        "  1 finding",
        "    1:03 [speaker, 0.90] c4 was said, c3 meant",
        "  2 doubtful mentions, the likeliest rivals after each",
        '    1:03 "knight c6": 2...Nc6 0.55; or 2...Nd7 0.30, no move 0.10',
        '    1:01:42 "b5": a plan, no move 0.50; or b5 elsewhere 0.40',
        "note: line 4: mended.",
    ]


def test_sidelines_are_counted_as_the_pgn_nests_them() -> None:
    counted = count_sidelines(GAME)
    assert (counted.number, counted.depth, counted.moves) == (3, 3, 6)
    alone = count_sidelines(replace(GAME, nodes=NODES[:1]))
    assert (alone.number, alone.depth, alone.moves) == (0, 0, 0)


@pytest.mark.parametrize(
    ("fen", "ply", "name"),
    [(START, 1, "1.x"), (START, 2, "1...x"), (START, 24, "12...x"), (BLACK_TO_MOVE, 1, "40...x"),
     (BLACK_TO_MOVE, 2, "41.x")],
)  # fmt: skip
def test_moves_are_numbered_as_the_pgn_standard_does(fen: str, ply: int, name: str) -> None:
    """PGN standard, 8.2.2.2: a move of Black's that stands alone has three full stops after the number."""
    assert move_name(GAME if fen == START else replace(GAME, start_fen=fen), ply, "x") == name


def test_long_lists_are_cut_and_say_so() -> None:
    many = replace(GAME, mentions=tuple(replace(MENTIONS[1], start=float(at)) for at in range(LISTED + 5)))
    lines = summarise(replace(RECORD, games=(many,))).splitlines()
    assert "    and 5 more doubtful mentions in the record (--json)" in lines
    assert sum('"knight c6"' in line for line in lines) == LISTED


def test_nothing_in_it_can_steer_a_terminal() -> None:
    wild = replace(RECORD, recording=replace(RECORD.recording, title="a\x1b]0;b\x07\u202ec"), notes=("x\ry",))
    assert all(line.isprintable() for line in summarise(wild).splitlines())


def test_several_games_are_told_apart() -> None:
    lines = summarise(replace(RECORD, games=(GAME, replace(GAME, start=61.0)))).splitlines()
    assert "game 2, from 1:01:" in lines


def test_how_much_was_inferred_and_what_it_may_have_been_is_told() -> None:
    rivals = (
        Alternative("b1c3", "Nc3", 0.3, 2),
        Alternative("f1c4", "Bc4", 0.1, 2),
        Alternative("d2d3", "d3", 0.05, 2),
    )
    guessed = tuple(replace(one, confidence=0.4, alternatives=rivals) if one.id == 3 else one for one in NODES)
    said = summarise(replace(RECORD, games=(replace(GAME, nodes=guessed),)))
    assert "2 spoken of, 1 passed over (1...e5), 1 inferred (2.Nf3)" in said
    assert "  of the inferred ones 1 may have been others (settle them with `aligner desk`)\n" in said
    assert "    2.Nf3 0.40; or 2.Nc3 0.30, 2.Bc4 0.10\n" in said
    # that one move is a guess does not put what was told after it in doubt
    assert "in doubt from" not in said


def test_a_game_in_doubt_is_told_with_the_move_where_doubt_begins() -> None:
    doubted = tuple(replace(one, confidence=0.34) if one.id in (3, 4, 5) else one for one in NODES)
    game = Game(START, {"Result": "*"}, doubted, MENTIONS)
    said = summarise(Record(Recording("invented.vtt", None, None, 60.0, 100), (game,), ()))
    assert "the game is in doubt from 2.Nf3 on (0.34)" in said
    sure = Game(START, {"Result": "*"}, NODES, MENTIONS)
    assert "in doubt from" not in summarise(Record(Recording("invented.vtt", None, None, 60.0, 100), (sure,), ()))

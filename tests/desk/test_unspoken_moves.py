"""Which move went unspoken: asked as a doubt and settled from a script. The talk is invented."""

from __future__ import annotations

from pathlib import Path

import pytest
from opened_desk import GAP_SENTENCES, captions_text

from aligner.desk.opening import open_talk
from aligner.desk.settling import forget_at, settle_at
from aligner.desk.talk import Talk
from aligner.errors import InputError
from aligner.pins.pin import INFERRED


@pytest.fixture
def talk(captions: Path) -> Talk:
    captions.write_text(captions_text(sentences=GAP_SENTENCES), encoding="utf-8")
    return open_talk(captions)


def game_of(talk: Talk) -> list[str]:
    return [node.san for node in talk.record.games[0].nodes if node.main and node.san]


def test_it_is_asked_about_with_all_that_it_may_have_been(talk: Talk) -> None:
    view = talk.aligned.view
    asked = [row for row in view.doubts if row.kind == "inferred"]
    assert len(asked) == 1 and asked[0] in view.inferred and view.doubts[0] == asked[0]
    row = asked[0]
    assert row.doubtful and row.text.startswith("before: bishop to b5")
    names = [answer.name for answer in row.answers]
    assert len(names) > 2 and len(set(names)) == len(names) and names[0] == row.name
    assert all(name.startswith("2...B") for name in names)
    assert all(answer.decision == INFERRED and answer.in_game and answer.line[:3] == row.base for answer in row.answers)
    worths = [doubt.worth for doubt in view.doubts]
    assert worths == sorted(worths, reverse=True) and 0.0 < row.worth < 1.0


def test_a_script_settles_it_and_takes_it_back(talk: Talk) -> None:
    before = game_of(talk)
    at = round(talk.aligned.view.inferred[0].start * 1000)
    said = settle_at(talk, at, "", "bc5", None, "", unspoken=True)
    assert "2...Bc5" in said and talk.pins[0].decision == INFERRED
    changes = talk.align()
    assert game_of(talk) == [*before[:3], "Bc5", *before[4:]]
    assert changes == ()  # no words speak of anything else
    node = next(node for node in talk.record.games[0].nodes if node.san == "Bc5")
    assert node.source == "inferred" and node.confidence == 1.0 and node.alternatives == ()
    assert all(row.kind != "inferred" for row in talk.aligned.view.doubts)
    assert talk.aligned.view.inferred[0].settled
    assert settle_at(talk, at, "", "Ba3", None, "", unspoken=True).startswith("settled: Ba3")
    assert len(talk.pins) == 1  # in the place of the one before
    forget_at(talk, at, "")
    talk.align()
    assert game_of(talk) == before


def test_what_cannot_be_is_told(talk: Talk) -> None:
    at = round(talk.aligned.view.inferred[0].start * 1000)
    with pytest.raises(InputError, match="no legal move"):
        settle_at(talk, at, "", "Qh8", None, "", unspoken=True)
    with pytest.raises(InputError, match="cannot be played"):
        settle_at(talk, at, "", "", None, "1. e4 e4", unspoken=True)
    with pytest.raises(InputError, match="right before these words"):
        settle_at(talk, at, "White castles", "Bc5", None, "", unspoken=True)
    assert talk.pins == ()


def test_a_talk_with_a_score_has_none(captions: Path) -> None:
    scored = open_talk(captions, captions.with_suffix(".pgn"))
    main = {node.id for node in scored.record.games[0].nodes if node.main}
    assert all(not node.alternatives for node in scored.record.games[0].nodes if node.id in main)
    assert all(row.kind == "words" for row in scored.aligned.view.doubts)

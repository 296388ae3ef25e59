"""Plain sentences: python-chess for SAN and numbers; the tables name every kind that the search makes."""

from __future__ import annotations

import inspect
import re

import chess
import pytest

from aligner.search import matching, options
from aligner.search.lines import Lines
from aligner.tree import wording
from aligner.tree.wording import misnamed, numbered, san


def test_moves_are_numbered_as_in_print() -> None:
    """PGN standard, 8.2.2: "12." before White's move, "12..." before Black's."""
    lines = Lines(chess.Board(), ("e2e4", "e7e5", "g1f3"))
    assert [numbered(node) for node in lines.score] == ["the start position", "1.e4", "1...e5", "2.Nf3"]
    assert [san(node) for node in lines.score] == ["", "e4", "e5", "Nf3"]
    late = Lines(chess.Board("8/P6k/8/8/8/8/6p1/K7 b - - 0 50"), ("g2g1q", "a1b2"))
    assert [numbered(node) for node in late.score[1:]] == ["50...g1=Q+", "51.Kb2"]


SQUARES = {"file", "rank", "square", "mirrored"}
SLIPS = SQUARES | set(re.findall(r"slips\.append\(\"(\w+)\"\)", inspect.getsource(matching)))


@pytest.mark.parametrize("slip", sorted(SLIPS))
def test_every_slip_has_its_words(slip: str) -> None:
    lines = Lines(chess.Board(), ("e2e4",))
    sentence = misnamed("pawn e5", lines.score[1], (slip,))
    assert sentence.startswith('"pawn e5" is not the move here: 1.e4 is meant; ') and sentence.endswith(".")


_KINDS = "game return open leave line alternative earlier leave_back part_way focus far promote again"
KINDS = [kind for kind in _KINDS.split() if f'"{kind}"' in inspect.getsource(options)]


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_decision_has_its_words(kind: str) -> None:
    assert kind in wording._WHY

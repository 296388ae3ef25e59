"""The record as JSON: RFC 8259 by Python's own parser, legality by python-chess, every damage a sentence."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import chess
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from invented_records import records, small_record

from aligner.errors import RecordError
from aligner.record.document import record_from_json, record_to_json
from aligner.record.model import Mention, Node, Record, SpokenWord

slow = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)


@slow
@given(records())
def test_what_is_written_is_read_back(record: Record) -> None:
    text = record_to_json(record)
    assert record_from_json(text, "talk.json") == record
    assert record_to_json(record_from_json(text, "talk.json")) == text
    text.encode("utf-8")


def test_half_a_surrogate_pair_survives() -> None:
    record = replace(small_record(), notes=("half \ud83c pair",))
    text = record_to_json(record)
    text.encode("utf-8")
    assert record_from_json(text, "talk.json") == record


def test_layout_of_the_contract() -> None:
    """Field names as agreed for scoring, and one line for each node, mention, finding and word."""
    text = record_to_json(small_record())
    plain = json.loads(text)
    assert plain["version"] == 1
    assert plain["recording"].keys() >= {"captions", "title", "url", "seconds", "words"}
    game = plain["games"][0]
    assert game["nodes"][0] == {"id": 0, "parent": None, "uci": None}
    assert game["nodes"][1] == {
        "id": 1, "parent": 0, "uci": "e2e4", "san": "e4", "ply": 1, "main": True, "source": "spoken",
        "confidence": 1.0, "times": [[1.0, 1.5]], "comment": "a fine move", "nags": [1],
    }  # fmt: skip
    assert game["mentions"][0].keys() >= {"start", "end", "text", "kind", "nodes", "confidence", "alternatives", "why"}
    assert game["findings"][0]["meant"] == {"uci": "c7c5", "san": "c5", "node": 4}
    lines = [line.strip().rstrip(",") for line in text.splitlines()]
    for entry in [*game["nodes"], *game["mentions"], *game["findings"], *plain["words"]]:
        assert sum(line.startswith("{") and line.endswith("}") and json.loads(line) == entry for line in lines) == 1


Damage = Callable[[dict[str, Any]], object]
DAMAGES: list[tuple[str, Damage]] = [
    ("games[0].nodes[1].uci: text was expected", lambda r: r["games"][0]["nodes"][1].update(uci=5)),
    ("'e2e5' of node 1 is not legal in " + chess.STARTING_FEN, lambda r: r["games"][0]["nodes"][1].update(uci="e2e5")),
    ("'rubbish' of node 1 is not legal", lambda r: r["games"][0]["nodes"][1].update(uci="rubbish")),
    ("'0000' of node 1 is not legal", lambda r: r["games"][0]["nodes"][1].update(uci="0000")),
    ("it is e4", lambda r: r["games"][0]["nodes"][1].update(san="e5")),
    ("two nodes 2", lambda r: r["games"][0]["nodes"][3].update(id=2)),
    ("comes before its parent", lambda r: r["games"][0]["nodes"].reverse() or r["games"][0]["nodes"].insert(0, r["games"][0]["nodes"].pop())),  # noqa: E501
    ("begin with node 0", lambda r: r["games"][0]["nodes"].reverse()),
    ("begin with node 0", lambda r: r["games"][0]["nodes"].clear()),
    ("node 2 has no parent", lambda r: r["games"][0]["nodes"][2].update(parent=None)),
    ("has ply 7", lambda r: r["games"][0]["nodes"][2].update(ply=7)),
    ("another move after node 1 is", lambda r: r["games"][0]["nodes"][3].update(main=True)),
    ("its parent, node 4, is not", lambda r: r["games"][0]["nodes"][5].update(main=True)),
    ("holds no game", lambda r: r["games"].clear()),
    ("'games' is missing", lambda r: r.pop("games")),
    ("is no FEN", lambda r: r["games"][0].update(start_fen="nonsense")),
    ("cannot arise", lambda r: r["games"][0].update(start_fen="8/8/8/8/8/8/8/8 w - - 0 1")),
    ("no 'Result'", lambda r: r["games"][0]["headers"].clear()),
    ("games[0].headers.White: text", lambda r: r["games"][0]["headers"].update(White=None)),
    ("end stands before the start", lambda r: r["games"][0]["nodes"][1].update(times=[[2, 1]])),
    ("end (1.0 s) stands before the start (2.0 s)", lambda r: r["words"][0].update(start=2, end=1)),
    ("times of node 4 are not in order", lambda r: r["games"][0]["nodes"][3]["times"].reverse()),
    ("words are not in order", lambda r: r["words"].reverse()),
    ("0 to 1 was expected, not 1.5", lambda r: r["games"][0]["mentions"][0].update(confidence=1.5)),
    ("0 or more was expected, not -1.0", lambda r: r["words"][0].update(start=-1)),
    ("0 to 255", lambda r: r["games"][0]["nodes"][1].update(nags=[256])),
    ("one of spoken, score, inferred", lambda r: r["games"][0]["nodes"][1].update(source="guessed")),
    ("speaks of node 99", lambda r: r["games"][0]["mentions"][0].update(nodes=[99])),
    ("speaks of node 99", lambda r: r["games"][0]["findings"][0]["meant"].update(node=99)),
    ("words up to 40, but there are 4", lambda r: r["games"][0]["mentions"][0].update(words=[2, 40])),
    ("'recording.words' is 3, but 4 words", lambda r: r["recording"].update(words=3)),
    ("alternative 'd2d5' after node 0 is not legal", lambda r: r["games"][0]["mentions"][0]["alternatives"][0].update(uci="d2d5")),  # noqa: E501
    ("after node 77, which there is not", lambda r: r["games"][0]["mentions"][0]["alternatives"][0].update(parent=77)),
    ("'zz' is no move", lambda r: r["games"][0]["mentions"][0]["alternatives"][0].update(uci="zz", parent=None)),
    ("means 'zz', which is no move", lambda r: r["games"][0]["findings"][0]["meant"].update(uci="zz")),
    ("the field 'colour' is not known", lambda r: r["games"][0]["nodes"][1].update(colour="red")),
    ("has version 2, and this program knows versions up to 1", lambda r: r.update(version=2)),
    ("version is 'one'", lambda r: r.update(version="one")),
    ("true or false", lambda r: r["games"][0]["nodes"][1].update(main=1)),
    ("a list was expected", lambda r: r.update(games={})),
    ("an object was expected", lambda r: r.update(recording=[])),
    ("an object of names and texts", lambda r: r["games"][0].update(headers=[])),
    ("a list of two numbers", lambda r: r["games"][0]["nodes"][1].update(times=[[1]])),
    ("a whole number", lambda r: r["games"][0]["nodes"][1].update(id=True)),
]  # fmt: skip


@pytest.mark.parametrize(("sentence", "damage"), DAMAGES, ids=[sentence for sentence, _ in DAMAGES])
def test_each_damage_has_its_sentence(sentence: str, damage: Damage) -> None:
    plain = json.loads(record_to_json(small_record()))
    damage(plain)
    with pytest.raises(RecordError) as caught:
        record_from_json(json.dumps(plain), "talk.json")
    message = str(caught.value)
    assert message.startswith("talk.json: ") and message.endswith(".") and "\n" not in message
    assert sentence.replace(": ", ", ", 1) in message or sentence in message


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "is empty"),
        (" \n", "is empty"),
        ("{", "not JSON"),
        ("[" * 100_000, "nest too deep"),
        ('{"version": ' + "9" * 5000 + "}", "too long"),
        ("[]", "no alignment record"),
        ("{}", "no alignment record"),
        ("WEBVTT", "line 1, column 1"),
    ],
)
def test_what_is_no_record(text: str, sentence: str) -> None:
    with pytest.raises(RecordError, match=sentence):
        record_from_json(text, "talk.json")


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999", str(10**400)])
def test_numbers_that_are_no_time(number: str) -> None:
    text = record_to_json(small_record()).replace('"start": 1.0', f'"start": {number}')
    with pytest.raises(RecordError, match="a number was expected"):
        record_from_json(text, "talk.json")


def test_a_number_that_is_not_finite_is_not_written() -> None:
    record = small_record()
    with pytest.raises(RecordError, match="not finite"):
        record_to_json(replace(record, recording=replace(record.recording, seconds=float("nan"))))


def places(value: Any, at: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place in a JSON value, outermost first."""
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [at, *(place for key, item in inside for place in places(item, (*at, key)))]


PLAIN = json.loads(record_to_json(small_record()))
junk = st.recursive(
    st.one_of(
        st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=5), st.sampled_from(["e2e4", "move"])
    ),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=3), inner, max_size=3)),
    max_leaves=5,
)


@st.composite
def damaged_documents(draw: st.DrawFn) -> Any:
    """The small record with a value replaced or left out, anywhere."""
    plain = json.loads(json.dumps(PLAIN))
    for _ in range(draw(st.integers(1, 3))):
        place = draw(st.sampled_from(places(plain)))
        if not place:
            return draw(junk)
        inside = plain
        for key in place[:-1]:
            inside = inside[key]
        if draw(st.booleans()):
            inside[place[-1]] = draw(junk)
        else:
            del inside[place[-1]]
    return plain


@settings(max_examples=300, deadline=None)
@given(damaged_documents())
def test_damage_gives_a_record_or_a_sentence(plain: Any) -> None:
    try:
        record = record_from_json(json.dumps(plain), "talk.json")
    except RecordError as error:
        assert str(error).startswith("talk.json: ") and str(error).endswith(".")
    else:
        assert record_from_json(record_to_json(record), "talk.json") == record


@settings(max_examples=100, deadline=None)
@given(st.text())
def test_any_text_gives_a_sentence(text: str) -> None:
    with pytest.raises(RecordError):
        record_from_json(text, "talk.json")


def test_a_line_of_thousands_of_plies() -> None:
    """Knights out and back: no recursion, however deep."""
    nodes = [Node(0, None, None)]
    for ply in range(1, 3001):
        uci, san = (("g1f3", "Nf3"), ("g8f6", "Nf6"), ("f3g1", "Ng1"), ("f6g8", "Ng8"))[(ply - 1) % 4]
        nodes.append(Node(ply, ply - 1, uci, san, ply))
    record = small_record()
    record = replace(record, games=(replace(record.games[0], nodes=tuple(nodes), mentions=(), findings=()),))
    assert record_from_json(record_to_json(record), "talk.json") == record


def test_a_talk_of_3000_words_is_quick() -> None:
    """400 nodes, 400 mentions, 3,000 words; generous bounds, in the processor's time."""
    words = tuple(SpokenWord(f"word{n}", n * 0.4, n * 0.4 + 0.3, None, n // 8) for n in range(3000))
    nodes = [Node(0, None, None)]
    boards = [chess.Board()]
    while len(nodes) < 400:
        for parent in range(len(nodes)):
            for move in list(boards[parent].legal_moves)[: 20 if parent == 0 else 3]:
                if len(nodes) < 400:
                    nodes.append(
                        Node(len(nodes), parent, move.uci(), boards[parent].san(move), nodes[parent].ply + 1, False,
                             times=((1.0, 2.0),), comment="what was said")
                    )  # fmt: skip
                    boards.append(boards[parent].copy(stack=False))
                    boards[-1].push(move)
            if len(nodes) == 400:
                break
    mentions = tuple(Mention(float(n), n + 0.5, "e4", (n, n + 1), "move", (n,), 0.9) for n in range(1, 400))
    record = small_record()
    game = replace(record.games[0], nodes=tuple(nodes), mentions=mentions, findings=())
    record = replace(record, games=(game,), words=words, recording=replace(record.recording, words=3000))

    def quickest(work: Callable[[], object]) -> float:
        taken = []
        for _ in range(5):
            before = time.process_time()
            work()
            taken.append(time.process_time() - before)
        return min(taken)

    text = record_to_json(record)
    assert quickest(lambda: record_to_json(record)) < 0.1
    assert quickest(lambda: record_from_json(text, "talk.json")) < 0.2

"""The whole way in one call: what goes in, what is refused, and that every record is one that readers accept."""

from __future__ import annotations

import io
import re
from importlib.resources import files
from pathlib import Path

import chess
import chess.pgn
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from search.invented_talks import OTHER, QUIET, TRADES, captions_of, main_of, said, score_of, spoken

from aligner.captions.words import Captions, Cue, Word
from aligner.errors import AlignerError, MismatchError, ScoreError
from aligner.pgn.score import Score
from aligner.pgn.writer import write_pgn
from aligner.pipeline import Alignment, align
from aligner.record.checks import faults
from aligner.record.document import record_from_json, record_to_json
from aligner.record.model import Record


def told(sans: str) -> str:
    """A talk of moves in plain words, with a sentence between them."""
    return "Welcome. " + " The crowd was quiet. ".join(f"{said(san)}." for san in sans.split())


def check(record: Record) -> None:
    """The record is sound, its JSON reads back the same, and python-chess reads its PGN as the same tree."""
    assert list(faults(record)) == []
    assert record_from_json(record_to_json(record), "it.json") == record
    game = record.games[0]
    read = chess.pgn.read_game(io.StringIO(write_pgn(record)))
    assert read is not None and read.errors == []
    assert read.board().fen() == chess.Board(game.start_fen).fen()
    by_id = {node.id: node for node in game.nodes}

    def moves(node: int) -> tuple[str, ...]:
        at, found = by_id[node], []
        while at.parent is not None and at.uci is not None:
            found.append(at.uci)
            at = by_id[at.parent]
        return tuple(reversed(found))

    paths: set[tuple[str, ...]] = set()
    stack: list[tuple[chess.pgn.GameNode, tuple[str, ...]]] = [(read, ())]
    while stack:
        at, way = stack.pop()
        paths.add(way)
        stack += [(child, (*way, child.move.uci())) for child in at.variations]
    assert paths == {moves(node.id) for node in game.nodes}
    words = record.words
    for mention in game.mentions:
        first, last = mention.words
        assert mention.text == " ".join(word.text for word in words[first:last])
        assert (mention.start, mention.end) == (words[first].start, words[last - 1].end)
        assert (mention.kind == "idea") != bool(mention.nodes)  # what is only planned has no node
        assert 0 <= mention.confidence <= 1
        assert all((mention.start, mention.end) in by_id[node].times for node in mention.nodes)
    for node in game.nodes:
        assert 0 <= node.confidence <= 1
        assert node.source == "spoken" or not node.times


# --- a talk and its score ---------------------------------------------------------------------------------------------


def test_captions_and_a_score_that_do_not_belong_together() -> None:
    with pytest.raises(MismatchError, match="do not belong together") as caught:
        align(captions_of(told(OTHER)), [score_of(QUIET)])
    assert caught.value.exit_status == 3
    assert re.search(r"\d+ of the score's 22 moves", str(caught.value)) and "--force" in str(caught.value)
    assert str(caught.value).startswith("invented.vtt: ") and "\n" not in str(caught.value)


def test_force_aligns_all_the_same_and_says_so() -> None:
    record = align(captions_of(told(OTHER)), [score_of(QUIET)], force=True)
    check(record)
    assert main_of(record.games[0]) == QUIET
    assert any("not to belong together" in note for note in record.notes)


def test_of_several_games_the_one_that_fits_is_taken() -> None:
    scores = [score_of(QUIET, number=1), score_of(OTHER, number=2), score_of(TRADES, number=3)]
    for number, game in enumerate((QUIET, OTHER, TRADES), start=1):
        record = align(captions_of(told(game)), scores)
        assert main_of(record.games[0]) == game
        assert any(f"game {number} fits the talk" in note for note in record.notes)


def test_a_number_chooses_among_several_games() -> None:
    scores = [score_of(QUIET, number=1), score_of(QUIET + " d4", number=2)]
    record = align(captions_of(told(QUIET)), scores, game_number=2)
    assert main_of(record.games[0]) == QUIET + " d4" and record.notes == ()
    for number in (3, 0, -1):
        with pytest.raises(ScoreError, match="Choose 1 to 2"):
            align(captions_of(told(QUIET)), scores, game_number=number)
    with pytest.raises(MismatchError):
        align(captions_of(told(OTHER)), scores, game_number=1)


def test_a_score_of_no_moves_leaves_the_game_to_the_talk() -> None:
    score = Score(chess.STARTING_FEN, (), {"Result": "*", "White": "Marl"})
    record = align(captions_of(told("e4 e5 Nf3 Nc6")), [score])
    check(record)
    assert main_of(record.games[0]) == "e4 e5 Nf3 Nc6" and record.games[0].headers["White"] == "Marl"


@pytest.mark.parametrize(("talk", "result"), [
    ("e4 e5 Qh5 Nc6 Bc4 Nf6 Qxf7#", "1-0"), ("f3 e5 g4 Qh4#", "0-1"), ("e4 e5 Nf3 Nc6", "*"),
])  # fmt: skip
def test_a_game_that_the_talk_ends_with_mate_has_its_result(talk: str, result: str) -> None:
    """FIDE Laws of Chess, 5.1.1 (from memory): who mates has won the game. What a score says of it stays as it is."""
    assert align(captions_of(told(talk)), force=True).games[0].headers["Result"] == result
    given = align(captions_of(told(talk)), [score_of(talk)]).games[0]
    assert given.headers["Result"] == "*"


def test_a_score_from_a_position_of_its_own() -> None:
    fen = "4k3/P7/8/8/8/8/8/4K3 w - - 0 60"
    record = align(captions_of("The end. a8 equals queen check. King d7."), [score_of("a8=Q+ Kd7 Qb7+", fen)])
    check(record)
    assert record.games[0].start_fen == fen and main_of(record.games[0]) == "a8=Q+ Kd7 Qb7+"
    assert [node.source for node in record.games[0].nodes] == ["spoken", "spoken", "spoken", "score"]


# --- talks that hold little -------------------------------------------------------------------------------------------


def test_an_empty_talk_and_no_score_is_no_game() -> None:
    with pytest.raises(MismatchError, match=r"no game was found in these captions \(0 words\)"):
        align(captions_of(""))


def test_a_talk_without_a_move_and_no_score_is_no_game() -> None:
    with pytest.raises(MismatchError, match="no game was found") as caught:
        align(captions_of("Welcome to the club. The tea is warm."))
    assert caught.value.exit_status == 3 and "--game" in str(caught.value)


@pytest.mark.parametrize("text", ["", "Welcome to the club. The tea is warm."])
def test_a_score_alone_is_a_record_too(text: str) -> None:
    record = align(captions_of(text), [score_of(QUIET)])
    check(record)
    assert main_of(record.games[0]) == QUIET and record.games[0].mentions == ()
    assert {node.source for node in record.games[0].nodes[1:]} == {"score"}


def test_what_is_known_of_the_recording_is_kept() -> None:
    captions = captions_of(told("e4 e5 Nf3 Nc6"), name="club.vtt")
    record = align(captions, title="A talk", url="https://example.org/talk.mp4")
    assert (record.recording.captions, record.recording.title) == ("club.vtt", "A talk")
    assert record.recording.url == "https://example.org/talk.mp4"
    assert record.recording.seconds == captions.duration / 1000 and record.recording.words == len(captions.words)
    assert len(record.recording.fingerprint) == 64
    assert align(captions_of("e4. Fine."), ()).recording.fingerprint != record.recording.fingerprint


def test_progress_rises_from_0_to_1() -> None:
    told_so_far: list[float] = []
    align(captions_of(told(QUIET)), [score_of(QUIET)], progress=told_so_far.append)
    assert told_so_far == sorted(told_so_far) and all(0 <= share <= 1 for share in told_so_far)


def test_unfriendly_words_stay_inside_their_comment() -> None:
    text = (
        'e4. } {bad} 1. [%clk 0:00] ; ( ) $3 \\ " % yes really. e5. '
        "Nf3. \u202e\u0007zero\u200bwidth words all here. Nc6."
    )
    record = align(captions_of(text))
    check(record)
    assert any("bad" in node.comment for node in record.games[0].nodes)


# --- anything at all --------------------------------------------------------------------------------------------------

_VOCABULARY = """knight bishop queen rook king pawn takes recaptures e4 e5 d4 d5 c4 f3 c6 f6 c3 b5 d d3 castles short
long check mate with the a to on from instead if what suppose back to the game but then and or so of three four be see
queen's king's light squared other equals queens promotes trades black white he she wants threat not was possible
remember again earlier move 14 sicilian Nf3 Nc6 exd5 O-O e8=Q F-3 Bb5+ Qxd5 takes takes. now, then. blunder. brilliant
c'mon 3. } { $1 [%media ; "he said" goes retreats pushes gives a check both sides castle line variation"""
VOCABULARY = _VOCABULARY.split()
ODD = st.text(st.characters(exclude_categories=["Z", "Cs"]), min_size=1, max_size=6)
WORDS = st.lists(
    st.one_of(
        st.sampled_from(VOCABULARY),
        st.sampled_from(VOCABULARY),
        ODD.filter(lambda text: text.split() == [text]),
    ),
    max_size=22,
)


def captions(words: list[str], gaps: list[int]) -> Captions:
    """Words with any silence between them, in two cues."""
    made, at = [], 0
    for index, text in enumerate(words):
        at += gaps[index % len(gaps)] if gaps else 0
        made.append(Word(text, at, at + 200, index // 8))
        at += 200
    cues = tuple(Cue(0, at, " ".join(words), 3 + k) for k in range(len(words) // 8 + 1))
    return Captions("any.vtt", "webvtt", " ".join(words), tuple(made), cues, (), at)


anything = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@anything
@given(WORDS, st.lists(st.integers(0, 900), max_size=3), st.sampled_from([None, QUIET, TRADES]), st.booleans())
@example(["queens", "takes", "king"], [], None, False)
@example(["both", "sides", "castle", "e4", "sicilian"], [], None, False)
@example(["sicilian", "sicilian", "french"], [], None, False)
@example(["d3", "wants", "Nf3"], [], None, False)
@example(["takes"] * 22, [], TRADES, True)
def test_any_words_give_a_sound_record_or_one_sentence(
    words: list[str], gaps: list[int], game: str | None, force: bool
) -> None:
    try:
        record = align(captions(words, gaps), [score_of(game)] if game else [], force=force)
    except AlignerError as error:
        assert "\n" not in str(error) and str(error)[-1] == "."
        return
    check(record)


@settings(max_examples=12, deadline=None)
@given(WORDS, st.sampled_from(["8/P6k/8/8/8/8/6p1/K7 w - - 0 50", "r3k2r/8/8/8/8/8/8/R3K2R b KQkq - 3 9"]))
def test_any_words_from_another_position(words: list[str], fen: str) -> None:
    try:
        record = align(captions(words, []), start_fen=fen)
    except AlignerError:
        return
    check(record)


def test_the_room_reads_no_file_of_the_talk() -> None:
    """The core is pure: the pipeline takes captions and scores, and opens neither (DEVELOPERS.md)."""
    source = Path(__file__).parents[1].joinpath("aligner/pipeline.py").read_text(encoding="utf-8")
    assert "open(" not in source and "read_captions" not in source and "read_scores" not in source


def test_a_whole_talk_is_sound() -> None:
    text = (
        told(QUIET) + " So what went wrong? Instead of knight d2, the move queen b3 was called for. "
        "Black would reply d5, and then e takes d5, knight takes d5. " + spoken("Nbd2") + " That's all."
    )
    check(align(captions_of(text), [score_of(QUIET)]))
    check(align(captions_of(text)))


def test_with_a_score_the_words_around_a_phrase_count_too(tmp_path: Path) -> None:
    alignment = Alignment(captions_of(QUIET), [score_of(QUIET)])
    assert all(one.leaning is not None for stretch in alignment.speech.stretches for one in stretch.spoken)
    indifferent = tmp_path / "prices.toml"
    text = Path(str(files("aligner.prices") / "default.toml")).read_text(encoding="utf-8")
    indifferent.write_text(re.sub(r'^"leaning\..*$', "", text, flags=re.MULTILINE), encoding="utf-8")
    without = Alignment(captions_of(QUIET), [score_of(QUIET)], prices=indifferent)
    assert alignment.read().cost != without.read().cost

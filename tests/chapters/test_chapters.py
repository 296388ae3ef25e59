"""Which chapters a talk gets. Ten seconds, 0:00 and titles without move lists are common practice of chapter lists."""

from __future__ import annotations

import time
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scripted_records import script, scripted
from test_chapter_track import check_chapter_file

from aligner.chapters import chapter_track, choose
from aligner.chapters.chapters import SHORTEST, usual_number
from aligner.record.model import Game, Node, Record, Recording, SpokenWord

NAMES = ("b-historian", "b-horse", "b-locksmith", "b-repertoire", "b-ticker", "b-trainer", "b-two-chairs", "b-wireless")
TALKS = scripted(NAMES)


def check(record: Record, at_most: int | None = None) -> list[str]:
    """What holds for the chapters of any talk; returns the titles."""
    chapters = choose(record, at_most)
    assert chapters and chapters[0].start == 0
    assert len(chapters) <= (usual_number(record.recording.seconds) if at_most is None else at_most)
    for one, following in zip(chapters, chapters[1:], strict=False):
        assert one.end == following.start and following.start == int(following.start)
    assert chapters[-1].end == record.recording.seconds
    if len(chapters) > 1:
        assert all(chapter.end - chapter.start >= SHORTEST for chapter in chapters)
    titles = [chapter.title for chapter in chapters]
    assert len(set(titles)) == len(titles)
    assert all(0 < len(title) <= 70 and "\n" not in title and not title.endswith(".") for title in titles)
    assert not any("chapter" in title.lower() for title in titles)
    check_chapter_file(chapter_track(chapters))
    return titles


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("at_most", [None, 1, 2, 5, 50])
def test_every_talk(name: str, at_most: int | None) -> None:
    titles = check(TALKS[name], at_most)
    assert at_most in (1, None, 2, 5, 50) and (len(titles) > 1) == (at_most != 1)


def test_a_survey_is_parted_by_the_names_of_its_variations() -> None:
    titles = check(TALKS["b-repertoire"])
    assert titles[:2] == ["Introduction", "Caro-Kann Defence, Classical Variation"]
    assert {"Advance Variation: 3.e5", "Exchange Variation: 3.exd5", "Fantasy Variation: 3.f3"} <= set(titles)


@pytest.mark.parametrize(
    ("name", "opening"),
    [
        ("b-historian", "Evans Gambit"),
        ("b-locksmith", "Slav Defence, Czech Variation"),
        ("b-two-chairs", "Nimzo-Indian Defence, Rubinstein Variation"),
        ("b-trainer", "Queen's Gambit Declined, Exchange Variation"),
    ],
)
def test_openings_have_their_names(name: str, opening: str) -> None:
    assert opening in check(TALKS[name])


def test_a_chapter_begins_with_the_sentence_of_its_move() -> None:
    record = TALKS["b-locksmith"]
    for chapter in choose(record)[1:]:
        if chapter.node is None:
            continue
        node = next(node for node in record.games[0].nodes if node.id == chapter.node)
        # the chapter's beginning lies before one of the moments of its move, by a sentence at most
        assert any(0 <= start - chapter.start <= 13 for start, _ in node.times), chapter.title


PADDING = "and that is all there is to say about it for now my friends because it was a long day for everybody. " * 4
MATE = (
    PADDING
    + "White begins with {e4|e4}. "
    + PADDING
    + "Black answers {e5|e5}. White plays {Qh5|queen h5}, and {Nc6|knight c6}. "
    + PADDING
    + "{Bc4|Bishop c4}. "
    + PADDING
    + "This is the critical moment: {Nf6|knight f6}. "
    + PADDING
    + PADDING
    + "And {Qxf7#|queen takes f7 mate}. "
    + PADDING
    + PADDING
)


def test_cues_mate_and_closing_words() -> None:
    titles = check(script(MATE, "1. e4 e5 2. Qh5 Nc6 3. Bc4 Nf6 4. Qxf7#", result="1-0"))
    assert titles[0] == "Introduction"
    assert "The critical moment: 3...Nf6" in titles
    assert "Checkmate: 4.Qxf7#" in titles
    assert titles[-1] == "Closing words"


def test_judgements_name_their_chapters_and_a_lost_piece_is_no_sacrifice() -> None:
    record = script(MATE, "1. e4 e5 2. Qh5 Nc6 3. Bc4 Nf6 4. Qxf7#", result="1-0")
    game = record.games[0]
    judged = tuple(replace(node, nags=(4,)) if node.san == "Nf6" else node for node in game.nodes)
    words = tuple(replace(word, text=word.text.replace("critical", "quiet")) for word in record.words)
    titles = check(replace(record, words=words, games=(replace(game, nodes=judged),)))
    assert "The blunder 3...Nf6" in titles
    assert not any("sacrifice" in title for title in titles)


def test_lessons_are_found_in_the_closing_words() -> None:
    talk = MATE + "So the lesson is to look at f7 before anything else in the world, always, my friends. " + PADDING
    assert check(script(talk, "1. e4 e5 2. Qh5 Nc6 3. Bc4 Nf6 4. Qxf7#", result="1-0"))[-1] == "Lessons"


def test_an_endgame_from_a_position_is_called_by_its_pieces() -> None:
    talk = PADDING + "We begin with {Ke4|king e4}. " + PADDING + "{Ra6|Rook a6}. " + PADDING * 3
    titles = check(script(talk, "1. Ke4 Ra6", fen="8/8/6r1/8/k7/4PK2/1p6/5R2 w - - 0 1"))
    assert titles[:2] == ["Introduction", "Rook endgame"]


def test_tiny_talks() -> None:
    assert check(script("{e4|e4}", "1. e4")) == ["The opening"]
    silent = Record(Recording("x.vtt", "Hello", None, 4.0, 1), (bare_game(),), (SpokenWord("hello", 0.0, 4.0),))
    assert check(silent) == ["Hello"]
    nothing = Record(Recording("x.vtt", None, None, 0.0, 0), (bare_game(),), ())
    assert choose(nothing) == ()


def bare_game() -> Game:
    return Game("rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1", {"Result": "*"}, (Node(0, None, None),), ())


def test_two_games_part_the_talk() -> None:
    record = script(MATE, "1. e4 e5 2. Qh5 Nc6 3. Bc4 Nf6 4. Qxf7#", result="1-0")
    middle = record.recording.seconds / 2
    first = replace(record.games[0], end=middle)
    second = replace(bare_game(), headers={"White": "Ola Rask", "Black": "Mei Tan", "Result": "*"}, start=middle)
    assert "Ola Rask \u2013 Mei Tan" in check(replace(record, games=(first, second)))


def long_record(name: str, times: int) -> Record:
    """A talk many times over, as one: the same words and mentions again and again, later each time."""
    record = TALKS[name]
    game = record.games[0]
    size, seconds = len(record.words), record.recording.seconds
    words = tuple(
        replace(word, start=word.start + turn * seconds, end=word.end + turn * seconds)
        for turn in range(times)
        for word in record.words
    )
    mentions = tuple(
        replace(
            mention,
            start=mention.start + turn * seconds,
            end=mention.end + turn * seconds,
            words=(mention.words[0] + turn * size, mention.words[1] + turn * size),
            kind="again" if turn and mention.nodes else mention.kind,
        )
        for turn in range(times)
        for mention in game.mentions
    )
    recording = replace(record.recording, seconds=times * seconds, words=len(words))
    longer = replace(game, mentions=mentions, end=times * seconds)
    return replace(record, recording=recording, words=words, games=(longer,))


@pytest.mark.parametrize(("name", "times", "limit"), [("b-ticker", 4, 0.5), ("b-ticker", 36, 6.0)])
def test_speed(name: str, times: int, limit: float) -> None:
    # twenty minutes, and three hours, without punctuation
    record = long_record(name, times)
    choose(TALKS[name])  # tables are read once
    began = time.process_time()
    check(record)
    assert time.process_time() - began < limit


@settings(max_examples=15, deadline=None)
@given(st.integers(1, 60), st.floats(0.2, 30.0))
def test_any_length_and_number(at_most: int, slower: float) -> None:
    record = TALKS["b-horse"]
    game = record.games[0]
    stretched = replace(
        record,
        recording=replace(record.recording, seconds=record.recording.seconds * slower),
        words=tuple(replace(w, start=w.start * slower, end=w.end * slower) for w in record.words),
        games=(
            replace(
                game,
                nodes=tuple(replace(n, times=tuple((a * slower, b * slower) for a, b in n.times)) for n in game.nodes),
                mentions=tuple(replace(m, start=m.start * slower, end=m.end * slower) for m in game.mentions),
            ),
        ),
    )
    check(stretched, at_most)

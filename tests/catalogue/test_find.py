"""Answers: the same in SQLite and PostgreSQL, and the same as a scan of the records with python-chess."""

from __future__ import annotations

import random
import textwrap
from collections.abc import Callable
from pathlib import Path

import chess
import pytest
from scan import Said, moments, plain_words, same, scan

import aligner.catalogue
from aligner.catalogue import fulltext, sources, streams
from aligner.catalogue.find import find
from aligner.catalogue.nearest import nearest
from aligner.catalogue.passages import passages
from aligner.catalogue.question import ask
from aligner.catalogue.store import Catalogue, open_catalogue
from aligner.catalogue.words import timed_words
from aligner.record.model import Record

ALL = 1000


def found(catalogue: Catalogue, **conditions: object) -> set[tuple[str, int, str]]:
    answers = find(catalogue, ask(**conditions, limit=ALL))  # type: ignore[arg-type]
    return {(one.talk, round(1000 * one.start), one.line) for one in answers if one.kind != "unspoken"}


def test_moves(filled: Catalogue, archive: dict[str, Record]) -> None:
    def is_move(san: str) -> Callable[[Said], bool]:
        return lambda said: said.move is not None and said.before.san(said.move).rstrip("+#") == san

    for san in ("e4", "Nf3", "O-O", "O-O-O", "exd5", "Nf6", "Qd2", "Rfe8", "Bb4"):
        expected = scan(archive, is_move(san))
        if san in ("Qd2", "Rfe8", "Bb4", "Nf6", "Nf3"):  # with less said, also those that need more to be told apart
            piece, target = chess.PIECE_SYMBOLS.index(san[0].lower()), chess.parse_square(san[-2:])
            file = san[1] if len(san) == 4 else ""

            def fits(said: Said, piece: int = piece, target: int = target, file: str = file) -> bool:
                return (
                    said.move is not None
                    and said.move.to_square == target
                    and said.before.piece_type_at(said.move.from_square) == piece
                    and (not file or chess.square_name(said.move.from_square)[0] == file)
                )

            expected = scan(archive, fits)
        assert found(filled, move=san) == expected, san


@pytest.mark.parametrize(
    ("words", "san"),
    [
        ("knight to f3", "Nf3"),
        ("bishop b4", "Bb4"),
        ("castles short", "O-O"),
        ("pawn to e4", "e4"),
        ("e takes d5", "exd5"),
    ],
)
def test_a_move_may_be_asked_for_as_it_is_spoken(filled: Catalogue, words: str, san: str) -> None:
    assert found(filled, move=words) == found(filled, move=san)


def test_positions_by_whatever_order_of_moves(filled: Catalogue, archive: dict[str, Record]) -> None:
    draw = random.Random(7)
    everything = list(moments(archive))
    for said in draw.sample(everything, 25):
        wanted = said.board
        expected = scan(archive, lambda other, wanted=wanted: same(other.board, wanted))
        assert found(filled, fen=wanted.fen()) == expected
        if wanted.has_legal_en_passant():
            continue
        # an en passant square that nobody can use changes nothing
        assert found(filled, fen=wanted.fen(en_passant="fen")) == expected


def test_after_a_sequence_of_moves(filled: Catalogue, archive: dict[str, Record]) -> None:
    for moves in ("e4", "d4 Nf6", "e4 c5", "1. c4 e5", "e4 e5 Nf3 Nc6", "Nf3 d5 d4"):
        board = chess.Board()
        for san in moves.replace("1.", "").split():
            board.push_san(san)
        expected = scan(archive, lambda said, board=board: any(same(one, board) for one in said.line))
        assert len(expected) < ALL
        assert found(filled, after=moves) == expected, moves


PARTIAL: tuple[tuple[str, Callable[[chess.Board], bool]], ...] = (
    ("Nd5", lambda b: b.piece_at(chess.D5) == chess.Piece.from_symbol("N")),
    ("white knight d5, black pawn c5", lambda b: b.piece_at(chess.D5) == chess.Piece.from_symbol("N")
        and b.piece_at(chess.C5) == chess.Piece.from_symbol("p")),
    ("no light-squared bishops, white pawn e4", lambda b: not b.bishops & chess.BB_LIGHT_SQUARES
        and b.piece_at(chess.E4) == chess.Piece.from_symbol("P")),
    ("no queens", lambda b: not b.queens),
    ("no white knights, black queen on d8", lambda b: not b.pieces(chess.KNIGHT, True)
        and b.piece_at(chess.D8) == chess.Piece.from_symbol("q")),
    ("knight on the 6th rank, no pawn on the e-file", lambda b: bool(b.knights & chess.BB_RANK_6)
        and not b.pawns & chess.BB_FILE_E),
    ("two black rooks on the d-file", lambda b: len(b.pieces(chess.ROOK, False) & chess.BB_FILE_D) >= 2),
    ("exactly one white rook", lambda b: len(b.pieces(chess.ROOK, True)) == 1),
    ("qd8, no queens", lambda b: False),
    ("bc8, no white light-squared bishops", lambda b: b.piece_at(chess.C8) == chess.Piece.from_symbol("b")
        and not b.pieces(chess.BISHOP, True) & chess.BB_LIGHT_SQUARES),
    ("bc8, no dark-squared bishops", lambda b: b.piece_at(chess.C8) == chess.Piece.from_symbol("b")
        and not b.bishops & chess.BB_DARK_SQUARES),
    ("Pe4 pe5 Nf3", lambda b: [str(b.piece_at(s)) for s in (chess.E4, chess.E5, chess.F3)] == ["P", "p", "N"]),
)  # fmt: skip


@pytest.mark.parametrize(("text", "holds"), PARTIAL, ids=[text for text, _ in PARTIAL])
def test_partial_positions(
    filled: Catalogue, archive: dict[str, Record], text: str, holds: Callable[[chess.Board], bool]
) -> None:
    assert found(filled, partial=text) == scan(archive, lambda said: holds(said.board))


def test_partial_positions_drawn_at_random(filled: Catalogue, archive: dict[str, Record]) -> None:
    draw = random.Random(11)
    everything = list(moments(archive))
    for _ in range(30):
        board = draw.choice(everything).board
        some = draw.sample(sorted(board.piece_map().items()), 3)
        empty = draw.choice([square for square in chess.SQUARES if not board.piece_at(square)])
        text = " ".join(f"{piece.symbol()}{chess.square_name(square)}" for square, piece in some)
        text += f", no knight {chess.square_name(empty)}"

        def holds(said: Said, some: list[tuple[int, chess.Piece]] = some, empty: int = empty) -> bool:
            there = all(said.board.piece_at(square) == piece for square, piece in some)
            return there and said.board.piece_type_at(empty) != chess.KNIGHT

        assert found(filled, partial=text) == scan(archive, holds)


def test_kinds_and_confidence(filled: Catalogue, archive: dict[str, Record]) -> None:
    assert found(filled, kind=["game"]) == scan(archive, lambda said: said.kind == "game")
    assert found(filled, kind=["sideline"]) == scan(archive, lambda said: said.kind == "sideline")
    assert found(filled, kind=["idea"]) == scan(archive, lambda said: said.kind == "idea")
    assert found(filled, kind=["erratum"]) == scan(archive, lambda said: said.misnamed)
    expected = scan(archive, lambda said: said.kind == "sideline" and round(100 * said.confidence) >= 95)
    assert found(filled, kind=["sideline"], confidence=0.95) == expected


def test_headers(filled: Catalogue, archive: dict[str, Record]) -> None:
    name = next(iter(archive.values())).games[0].headers["White"]
    last = name.split()[1]
    assert found(filled, player=[last.upper()], move="Nf3") == scan(
        archive,
        lambda said: last in said.game.headers["White"] + said.game.headers["Black"] and _is(said, chess.KNIGHT, "f3"),
    )
    turned = f"{last}, {name.split()[0]}"  # as PGN writes names (standard, 8.1.1.4)
    assert found(filled, player=[turned], move="Nf3") == found(filled, player=[name], move="Nf3") != set()
    assert found(filled, event="league", kind=["game"]) == scan(
        archive, lambda said: "League" in said.game.headers["Event"] and said.kind == "game"
    )
    for since, until in (("2015", None), (None, "2018"), ("2012-06", "2020-03-05")):
        expected = scan(
            archive,
            lambda said, since=since, until=until: (
                said.kind == "sideline"
                and (since is None or said.game.headers["Date"].replace(".", "-")[: len(since)] >= since)
                and (until is None or said.game.headers["Date"].replace(".", "-")[: len(until)] <= until)
            ),
        )
        assert found(filled, since=since, until=until, kind=["sideline"]) == expected


def _is(said: Said, piece: int, target: str) -> bool:
    assert said.move is not None
    there = said.move.to_square == chess.parse_square(target)
    return there and said.before.piece_type_at(said.move.from_square) == piece


def test_words_are_found_wherever_they_are_said(filled: Catalogue, archive: dict[str, Record]) -> None:
    # Porter's stemmer joins "take" and "takes", "game" and "games"; these words it leaves alone or joins as told
    for phrase in ("knight f3", "pawn", "bishop takes", "queen d5"):
        parts = phrase.split()
        expected = set()
        for talk, record in archive.items():
            words = plain_words(record)
            if any(words[at : at + len(parts)] == parts for at in range(len(words))):
                expected.add(talk)
        answers = find(filled, ask(words=f'"{phrase}"', limit=ALL))
        stems = {"pawn": "pawns"}
        assert expected <= {one.talk for one in answers}
        for one in answers:
            said = " ".join(one.said.lower().split())
            assert phrase in said or phrase.replace("takes", "take") in said or stems.get(phrase, phrase) in said


def test_words_with_a_move_are_those_around_it(filled: Catalogue) -> None:
    answers = find(filled, ask(words="the", move="e4", limit=ALL))
    assert answers
    everywhere = find(filled, ask(move="e4", limit=ALL))
    assert {(a.talk, a.start) for a in answers} <= {(a.talk, a.start) for a in everywhere}
    assert len(answers) < len(everywhere)


def test_words_with_a_move_are_said_in_its_passage(filled: Catalogue, archive: dict[str, Record]) -> None:
    # "the", "of" and "and" are stems of nothing else
    for word, piece, target in (("the", chess.KNIGHT, "f3"), ("of", chess.KNIGHT, "c6"), ("and", chess.BISHOP, "b4")):
        heard = {}
        for talk, record in archive.items():
            words = plain_words(record)
            pieces = passages(timed_words(record.words))
            heard[talk] = [(one.first, one.past) for one in pieces if word in words[one.first : one.heard]]

        def near(said: Said, heard: dict[str, list[tuple[int, int]]] = heard) -> bool:
            return any(first <= said.words[0] < past for first, past in heard[said.talk])

        expected = scan(
            archive, lambda said, piece=piece, target=target, near=near: _is(said, piece, target) and near(said)
        )
        letter = chess.piece_symbol(piece).upper()
        assert expected and found(filled, words=word, move=f"{letter}{target}") == expected


COMBINED: tuple[dict[str, object], ...] = (
    {"words": "the", "move": "e4"}, {"words": "knight", "kind": ["sideline"]}, {"words": "of", "after": "d4"},
    {"after": "e4", "player": ["a"], "confidence": 0.9}, {"partial": "no queens", "since": "2012", "words": "it"},
    {"after": "e4 c5", "words": "queen", "event": "league"}, {"fen": chess.STARTING_FEN, "player": ["e"]},
    {"partial": "two black rooks on the d-file", "player": ["a"], "kind": ["game", "idea"]},
    {"words": "of", "move": "exd5"}, {"words": "the", "move": "Nf6", "player": ["a"], "after": "d4"},
    {"words": "and", "move": "Nf3", "kind": ["game"], "until": "2020"}, {"after": "e4", "words": "-queen the"},
)  # fmt: skip


@pytest.mark.parametrize("conditions", COMBINED, ids=str)
def test_a_combination_gives_the_same_by_whatever_way_it_is_found(
    filled: Catalogue, conditions: dict[str, object], monkeypatch: pytest.MonkeyPatch
) -> None:
    apart = [found(filled, **{name: value}) for name, value in conditions.items() if name not in ("words", "player")]
    question = ask(**conditions, limit=ALL)  # type: ignore[arg-type]
    expected = find(filled, question)
    assert all(
        {(m.talk, round(1000 * m.start), m.line) for m in expected if m.kind != "unspoken"} <= one for one in apart
    )
    for all_nodes, few_talks, gone_through, part, looked_up in (
        (0, 0, 0, 2, 0), (0, 2000, 9, 128, 1), (10**6, 0, 0.02, 3, 10**6), (50, 2, 2, 128, 2), (10**6, 2000, 0, 7, 0),
        (10**6, 2000, 0, 10**6, 0),
    ):  # fmt: skip
        monkeypatch.setattr(sources, "_ALL", all_nodes)
        monkeypatch.setattr(sources, "_FEW_TALKS", few_talks)
        monkeypatch.setattr(sources, "_GONE_THROUGH", gone_through)
        monkeypatch.setattr(sources, "FIRST_PART", part)
        monkeypatch.setattr(streams, "FIRST_PART", part)
        monkeypatch.setattr(streams, "_LATER_PART", part)
        monkeypatch.setattr(fulltext, "_LOOKED_UP", looked_up)
        assert find(filled, question) == expected


def test_answers_tell_where_and_what(filled: Catalogue, archive: dict[str, Record]) -> None:
    one = find(filled, ask(move="Nf3", kind=["game"], limit=1))[0]
    record = archive[one.talk]
    assert one.link == f"{record.recording.url}#t={one.start:.3f},{one.end:.3f}"  # W3C Media Fragments URI 1.0, 4.2.1
    assert one.title == record.recording.title
    assert one.said in " ".join(word.text for word in record.words)
    assert f"{one.before} {one.said} {one.after}".strip() in " ".join(word.text for word in record.words)
    assert one.move.endswith("Nf3") and one.line == "game"
    assert chess.Board(one.fen).is_valid()
    number = int(one.move.split(".")[0])
    node = next(n for n in record.games[0].nodes if any(n.id in m.nodes and abs(m.start - one.start) < 0.001
                for m in record.games[0].mentions))  # fmt: skip
    assert number == (node.ply + 1) // 2


def test_answers_are_ranked(filled: Catalogue) -> None:
    answers = find(filled, ask(after="e4", limit=ALL))
    places = [{"game": 0, "sideline": 1, "idea": 2}[one.line] for one in answers if one.kind != "unspoken"]
    assert places == sorted(places)
    assert find(filled, ask(after="e4", limit=7)) == answers[:7]


def test_both_databases_give_the_same_answers_in_the_same_order(
    filled: Catalogue, kind: str, archive: dict[str, Record], request: pytest.FixtureRequest
) -> None:
    texts = [
        {"words": "knight -bishop"}, {"words": '"takes d5" queen'}, {"words": "games playing"}, {"move": "Nf3"},
        {"partial": "no queens", "kind": ["sideline"]}, {"opening": "sicilian"}, {"opening": "C"},
        {"player": ["quill"], "words": "time"}, {"words": "the", "move": "Nf3"},
        {"words": "of", "move": "exd5"}, {"after": "d4", "words": "people", "confidence": 0.9},
    ]  # fmt: skip
    answers = [find(filled, ask(**conditions, limit=200)) for conditions in texts]  # type: ignore[arg-type]
    cache: dict[str, object] = request.session.__dict__.setdefault("_answers", {})
    for other in cache.values():
        assert answers == other
    cache[kind] = answers
    assert sum(map(bool, answers)) >= 7


def test_what_is_nearest_where_nothing_fits(filled: Catalogue, archive: dict[str, Record]) -> None:
    name = next(iter(archive.values())).games[0].headers["White"]
    near = nearest(filled, ask(player=[f"{name[:-1]}x"]))
    assert "no player" in near.sentence and name.lower() in near.sentence
    both = nearest(filled, ask(move="Nf3", words="zyzzyva"))
    assert "without the words" in both.sentence and both.answers
    board = next(iter(moments(archive))).board.copy()
    board.turn = not board.turn
    board.ep_square = None
    like = nearest(filled, ask(fen=board.fen()))
    assert like.answers and "same pieces" in like.sentence


def test_the_example_of_the_library_runs(
    archive: dict[str, Record], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = (aligner.catalogue.__doc__ or "").splitlines()
    example = textwrap.dedent("\n".join(line for line in lines if line.startswith("    ")))
    assert "find(catalogue, question)" in example
    monkeypatch.chdir(tmp_path)
    exec(example, {"record": next(iter(archive.values()))})
    with open_catalogue("talks.sqlite") as catalogue:
        assert [talk.name for talk in catalogue.talks()] == ["a talk"]


HOSTILE = ('"', '""', "'; DROP TABLE talk; --", 'text:"x" OR NEAR(a b)', "a* AND (b", "-", "NOT", "{x} : y", "%_", "\\",
           "knight\x00f3", "e4' & !(x|y) <-> z:*")  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE)
def test_text_never_becomes_syntax(filled: Catalogue, text: str) -> None:
    from aligner.errors import InputError

    for conditions in ({"words": text}, {"player": [text]}, {"event": text}, {"opening": text}, {"move": text},
                       {"partial": text}, {"after": text}, {"fen": text}, {"since": text}):  # fmt: skip
        try:
            find(filled, ask(**conditions))  # type: ignore[arg-type]
        except InputError as error:
            assert str(error).endswith((".", ")")) and "\n" not in str(error)
    assert len(filled.talks()) == 8

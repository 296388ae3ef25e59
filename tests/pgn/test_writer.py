"""The annotated PGN, against the PGN standard (S. J. Edwards, 1994; sections named) and python-chess as the reader."""

from __future__ import annotations

import io
import re
import time
from dataclasses import replace

import chess
import chess.pgn
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from invented_records import games, nasty_text, small_record

from aligner.errors import RecordError
from aligner.pgn.reader import parse_scores
from aligner.pgn.text import comment_text, media_command, seconds, tag_pair
from aligner.pgn.writer import END_OF_GAME, write_pgn
from aligner.record.model import Game, Node, Record, Recording
from aligner.record.tree import children, main_line

slow = settings(
    max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
MEDIA = re.compile(r"\[%media t=([0-9.]+),([0-9.]+)\] ?")
ROSTER = ["Event", "Site", "Date", "Round", "White", "Black", "Result"]


def record_of(*found: Game, url: str | None = None) -> Record:
    """A record of these games without words."""
    return Record(Recording("talk.vtt", None, url, 0.0, 0), found, ())


def game_of(*moves: str, fen: str = chess.STARTING_FEN, **fields: object) -> Game:
    """A game of these SAN moves, `fields` on its last node."""
    board = chess.Board(fen)
    nodes = [Node(0, None, None)]
    for ply, san in enumerate(moves, start=1):
        move = board.parse_san(san)
        nodes.append(Node(ply, ply - 1, move.uci(), board.san(move), ply))
        board.push(move)
    nodes[-1] = replace(nodes[-1], **fields)  # type: ignore[arg-type]
    return Game(fen, {"Result": "*"}, tuple(nodes), ())


def movetext(game: Game) -> str:
    """The movetext of one game, its lines joined."""
    return " ".join(write_pgn(record_of(game)).split("\n\n")[1].split("\n"))


def read_back(text: str) -> list[chess.pgn.Game]:
    """Every game in a text as python-chess reads it, without an error."""
    handle = io.StringIO(text)
    found = []
    while (game := chess.pgn.read_game(handle)) is not None:
        assert game.errors == []
        found.append(game)
    return found


def unescaped(value: str) -> str:
    """A header value as meant: python-chess 1.11 leaves the escapes of PGN standard, 7.1, as they stand."""
    return re.sub(r'\\(["\\])', r"\1", value)


def rebuilt(read: chess.pgn.Game) -> tuple[Game, str]:
    """The game of a record that a game read by python-chess amounts to, and its Media tag."""
    nodes: list[Node] = []
    waiting: list[tuple[chess.pgn.GameNode, int | None, int, bool]] = [(read, None, 0, True)]
    while waiting:
        at, parent, ply, main = waiting.pop()
        said = " ".join(at.comment.split())
        times = tuple((float(start), float(end)) for start, end in MEDIA.findall(said))
        uci = at.move.uci() if at.move else None
        san = at.san() if isinstance(at, chess.pgn.ChildNode) else ""
        nodes.append(
            Node(
                len(nodes),
                parent,
                uci,
                san,
                ply,
                main,
                times=times,
                comment=MEDIA.sub("", said),
                nags=tuple(sorted(at.nags)),
            )
        )
        number = len(nodes) - 1
        below = [(child, number, ply + 1, main and at.variations[0] is child) for child in at.variations]
        waiting.extend(reversed(below))
    headers = {name: unescaped(value) for name, value in read.headers.items() if name not in ("SetUp", "FEN", "Media")}
    fen = read.board().fen(en_passant="fen")
    return Game(fen, headers, tuple(nodes), ()), unescaped(read.headers["Media"])


def shape(game: Game, said_at_end: bool) -> list[object]:
    """Everything a PGN tells of a game's tree, in one fixed order."""
    below = children(game)
    main = main_line(game)
    last = main[-1].id if main and below[main[-1].id] else None
    found: list[object] = []
    waiting = [(game.nodes[0], 0)]
    while waiting:
        node, depth = waiting.pop()
        # Rebuilt games carry the remark in the comment already.
        remark = f" {END_OF_GAME}" if said_at_end and node.id == last else ""
        found.append((depth, node.uci, node.nags, node.times, comment_text(node.comment + remark)))
        waiting.extend((child, depth + 1) for child in reversed(below[node.id]))
    return found


@slow
@given(st.lists(games(), min_size=1, max_size=3), nasty_text.filter(lambda text: comment_text(text) != ""))
def test_python_chess_reads_the_same_tree(found: list[Game], url: str) -> None:
    text = write_pgn(record_of(*found, url=url))
    read = read_back(text)
    assert len(read) == len(found)
    again = [rebuilt(game) for game in read]
    for game, (copy, _) in zip(found, again, strict=True):
        assert shape(game, True) == shape(copy, False)
        assert copy.headers["Result"] == game.headers["Result"]
        assert chess.Board(copy.start_fen) == chess.Board(game.start_fen)
    # Written again, it is the same text, to the byte.
    assert write_pgn(record_of(*(copy for copy, _ in again), url=again[0][1])) == text


@slow
@given(st.lists(games(), min_size=1, max_size=2))
def test_form_of_the_export_format(found: list[Game]) -> None:
    """PGN standard: 8.2.1 lines under 80 characters without space at the ends; 6 no "%" in column 1; 4.2 no tabs."""
    text = write_pgn(record_of(*found))
    text.encode("utf-8")
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029]", text)
    sections = text.split("\n\n")
    assert len(sections) == 2 * len(found) + 1 and sections[-1] == ""
    for game, tags, moves in zip(found, sections[:-1:2], sections[1::2], strict=True):
        names = [line[1:].split(" ", 1)[0] for line in tags.split("\n")]
        assert all(re.fullmatch(r'\[[A-Za-z0-9_]+ "(?:[^"\\]|\\["\\])*"\]', line) for line in tags.split("\n"))
        # 8.1.1: the seven first and in order, the others in ASCII order.
        assert names[:7] == ROSTER and names[7:] == sorted(names[7:])
        lines = moves.split("\n")
        for line, after in zip(lines, [*lines[1:], None], strict=True):
            assert line and line == line.strip() and not line.startswith("%")
            assert len(line) < 80 or max(map(len, line.split())) > 70
            # As many tokens as fit: the first word below would have been too long, unless it clings to the next.
            assert after is None or len(line) + 1 + len(after) >= 80
        assert lines[-1].split()[-1] == game.headers["Result"]


@slow
@given(games())
def test_our_own_reader_reads_the_line_python_chess_reads(game: Game) -> None:
    text = write_pgn(record_of(game))
    (score,) = parse_scores(text, "talk.pgn")
    (read,) = read_back(text)
    assert score.moves == tuple(move.uci() for move in read.mainline_moves())
    assert score.headers == {
        name: unescaped(value) for name, value in read.headers.items() if name not in ("FEN", "SetUp")
    }
    assert chess.Board(score.start_fen) == read.board()


@settings(max_examples=300, deadline=None)
@given(nasty_text)
@example("[%[%clk 1]]")
@example("[\x00%clk 1]")
@example("[ % clk 1]")
@example("{[%x]}")
def test_no_text_is_a_command_or_ends_its_comment(text: str) -> None:
    clean = comment_text(text)
    assert not re.search(r"[{}\n\r]|\[%|\s%", clean)
    assert comment_text(clean) == clean
    read = read_back(write_pgn(record_of(game_of("e4", comment=text))))[0]
    assert " ".join(read.next().comment.split()) == clean  # type: ignore[union-attr]
    assert read.next().clock() is None  # type: ignore[union-attr]


def test_tag_roster() -> None:
    """PGN standard, 8.1.1 to 8.1.1.7: order, "?" for unknown, "????.??.??" for an unknown date, "*" for the result."""
    tags = write_pgn(
        record_of(Game(chess.STARTING_FEN, {"Black": "Quill, Ada", "Annotator": "Rook, B."}, game_of().nodes, ()))
    )
    assert tags.split("\n\n")[0].split("\n") == [
        '[Event "?"]', '[Site "?"]', '[Date "????.??.??"]', '[Round "?"]', '[White "?"]', '[Black "Quill, Ada"]',
        '[Result "*"]', '[Annotator "Rook, B."]', '[Media "talk.vtt"]',
    ]  # fmt: skip
    assert '[Media "https://talks.example/7"]' in write_pgn(record_of(game_of(), url="https://talks.example/7"))


def test_escapes_in_strings() -> None:
    """PGN standard, 7.1: quote and backslash follow a backslash; no newline or tab in a string."""
    assert tag_pair("White", 'A "B" \\ C\n\tD') == '[White "A \\"B\\" \\\\ C D"]'


@pytest.mark.parametrize(
    ("headers", "expected"),
    [({"Result": "White wins"}, "*"), ({}, "*"), ({"Result": "1/2-1/2"}, "1/2-1/2")],
)
def test_the_marker_matches_the_result_tag(headers: dict[str, str], expected: str) -> None:
    """PGN standard, 8.2.6: one of four values, the same in tag and movetext."""
    text = write_pgn(record_of(Game(chess.STARTING_FEN, headers, game_of("e4").nodes, ())))
    assert f'[Result "{expected}"]' in text and text.endswith(f"1. e4 {expected}\n\n")


def test_move_numbers() -> None:
    """PGN standard, 8.2.2.2: a black move has a number only after an annotation or where Black begins."""
    assert movetext(game_of("e4", "e5", "Nf3")) == "1. e4 e5 2. Nf3 *"
    black = "rnbqkbnr/pppppppp/8/8/4P3/8/PPPP1PPP/RNBQKBNR b KQkq - 0 1"
    assert movetext(game_of("e5", "Nf3", fen=black)) == "1... e5 2. Nf3 *"
    game = game_of("e4", "e5")
    annotated = replace(game, nodes=(game.nodes[0], replace(game.nodes[1], nags=(1,)), game.nodes[2]))
    assert movetext(annotated) == "1. e4 $1 1... e5 *"


def test_setup() -> None:
    """PGN standard, 9.7.1 and 9.7.2: SetUp "1" and FEN for another start, neither for the usual one."""
    fen = "4k3/8/8/8/8/8/4P3/4K3 w - - 0 1"
    text = write_pgn(record_of(game_of("e4", fen=fen)))
    assert '[SetUp "1"]' in text and f'[FEN "{fen}"]' in text
    assert "SetUp" not in write_pgn(record_of(game_of("e4")))


@pytest.mark.parametrize(
    ("fen", "uci", "san"),
    [
        # 8.2.3.4: knights on c3 and g1; a pinned one does not count.
        ("4k3/8/8/8/8/2N5/8/4K1N1 w - - 0 1", "g1e2", "Nge2"),
        ("4k3/8/8/8/1b6/2N5/8/4K1N1 w - - 0 1", "g1e2", "Ne2"),
        # 8.2.3.6: the longest, seven characters.
        ("7k/8/8/8/8/8/5p2/K5R1 b - - 0 1", "f2g1q", "fxg1=Q+"),
        # 8.2.3.3: the letter O; en passant as if the pawn stood there.
        ("4k3/8/8/8/8/8/8/4K2R w K - 0 1", "e1g1", "O-O"),
        ("4k3/8/8/3pP3/8/8/8/4K3 w - d6 0 2", "e5d6", "exd6"),
    ],
)
def test_algebraic_notation(fen: str, uci: str, san: str) -> None:
    """PGN standard, 8.2.3, whatever the record calls the move."""
    game = Game(fen, {"Result": "*"}, (Node(0, None, None), Node(1, 0, uci, "?", 1)), ())
    assert movetext(game).split()[1] == san


def test_glyphs() -> None:
    """PGN standard, 8.2.4: 0 to 255; 10: $0 has no place in a file."""
    assert movetext(game_of("e4", nags=(139, 1, 1, 0, 256, -4, 255))) == "1. e4 $1 $139 $255 *"


def test_sidelines() -> None:
    """PGN standard, 8.2.5: a sideline stands right after the move it replaces, and may nest."""
    nodes = (
        Node(0, None, None),
        Node(1, 0, "e2e4", "e4", 1, True, comment="best by test"),
        Node(2, 0, "d2d4", "d4", 1, False),
        Node(3, 2, "d7d5", "d5", 2, False),
        Node(4, 2, "g8f6", "Nf6", 2, False),
        Node(5, 4, "c2c4", "c4", 3, False),
        Node(6, 3, "c2c4", "c4", 3, False),
        Node(7, 1, "e7e5", "e5", 2, True),
    )
    assert movetext(Game(chess.STARTING_FEN, {"Result": "*"}, nodes, ())) == (
        "1. e4 { best by test } ( 1. d4 d5 ( 1... Nf6 2. c4 ) 2. c4 ) 1... e5 *"
    )


def test_what_was_shown_after_the_game_is_not_passed_off_as_the_game() -> None:
    game = game_of("e4", "e5")
    after = replace(game, nodes=(*game.nodes, Node(3, 2, "g1f3", "Nf3", 3, False)))
    assert movetext(after) == f"1. e4 e5 {{ {END_OF_GAME} }} 2. Nf3 *"
    assert END_OF_GAME not in movetext(game)


def test_media_fragments() -> None:
    """W3C Media Fragments URI 1.0, 4.2.1: t=start,end in seconds, start before end; its test cases call t=3,3, t=7,3,
    t=-1,3 and t=1e-1 invalid."""
    assert media_command(12.4, 13.1) == "[%media t=12.4,13.1]"
    assert media_command(3, 3) == "[%media t=3,3.001]"
    assert media_command(7, 3) == "[%media t=7,7.001]"
    assert media_command(-1, 3) == "[%media t=0,3]"
    assert media_command(0.00001, 1e-1) == "[%media t=0,0.1]"
    assert media_command(59.9996, 3599.9999) == "[%media t=60,3600]"
    assert media_command(float("nan"), 3) == media_command(0, float("inf")) == ""


@given(st.integers(0, 10**10))
def test_seconds_are_exact(milliseconds: int) -> None:
    """W3C Media Fragments, 4.2.1: npt-sec = 1*DIGIT [ "." *DIGIT ]."""
    text = seconds(milliseconds)
    assert re.fullmatch(r"[0-9]+(\.[0-9]{1,3})?", text)
    assert round(float(text) * 1000) == milliseconds


def test_each_mention_has_its_time_before_the_words() -> None:
    game = game_of("e4", times=((12.4, 13.1), (61.0, 62.5)), comment="the old favourite")
    assert movetext(game) == "1. e4 { [%media t=12.4,13.1] [%media t=61,62.5] the old favourite } *"


def test_odd_headers_still_give_legal_pgn() -> None:
    headers = {"": "x", "White Elo": "2400", "Variant": "Atomic", "FEN": "rubbish", "SetUp": "1", "Event": "\n"}
    (read,) = read_back(write_pgn(record_of(Game(chess.STARTING_FEN, headers, game_of("e4").nodes, ()))))
    assert list(read.headers) == [*ROSTER, "Media", "WhiteElo"]
    assert read.headers["Event"] == "?"


def test_moves_that_cannot_be_written() -> None:
    bad = Game(chess.STARTING_FEN, {}, (Node(0, None, None), Node(1, 0, "e2e5", "e5", 1)), ())
    with pytest.raises(RecordError, match="game 1 of the record: the move 'e2e5' of node 1 is not legal"):
        write_pgn(record_of(bad))
    adrift = Game(chess.STARTING_FEN, {}, (Node(0, None, None), Node(1, 8, "e2e4", "e4", 1)), ())
    with pytest.raises(RecordError, match="1 of its moves hang in no line"):
        write_pgn(record_of(adrift))
    with pytest.raises(RecordError, match="is no FEN"):
        write_pgn(record_of(Game("rubbish", {}, (Node(0, None, None),), ())))


def test_thousands_of_nested_sidelines() -> None:
    """Every ply of a long line has an alternative, nested in the one before."""
    nodes = [Node(0, None, None)]
    going = ("g1f3", "g8f6", "f3g1", "f6g8")
    other = ("b1c3", "b8c6", "b1c3", "b8c6")
    at = 0
    for ply in range(1500):
        nodes.append(Node(len(nodes), at, going[ply % 4], "", ply + 1, False))
        nodes.append(
            Node(len(nodes), at, other[ply % 4] if ply < 4 else "a2a3" if ply % 2 == 0 else "a7a6", "", ply + 1, False)
        )
        at = len(nodes) - 2
    text = write_pgn(record_of(Game(chess.STARTING_FEN, {"Result": "*"}, tuple(nodes), ())))
    assert text.count("(") == 1500
    assert len(parse_scores(text, "deep.pgn")[0].moves) == 1500


def test_a_long_talk_is_written_quickly() -> None:
    """400 nodes with comments; a generous bound, in the processor's time."""
    game = game_of(*["Nf3", "Nf6", "Ng1", "Ng8"] * 100, comment="word " * 200)
    game = replace(
        game, nodes=tuple(replace(node, times=((1.0, 2.0),), comment="what was said " * 4) for node in game.nodes)
    )
    taken = []
    for _ in range(5):
        before = time.process_time()
        write_pgn(record_of(game))
        taken.append(time.process_time() - before)
    assert min(taken) < 0.15


def test_the_small_record() -> None:
    assert write_pgn(small_record()).split("\n\n")[1].split("\n") == [
        "1. e4 $1 { [%media t=1,1.5] a fine move } 1... e5 ( 1... c5",
        "{ [%media t=3,3.25] [%media t=9,9.5] } 2. Nf3 ) 2. Nf3 1-0",
    ]

"""Records of any shape, for property tests: legal moves drawn at random, nested at random, with unfriendly text."""

from __future__ import annotations

import chess
from hypothesis import strategies as st

from aligner.record.model import (
    Alternative,
    Finding,
    Game,
    Meant,
    Mention,
    Node,
    Record,
    Recording,
    SpokenWord,
    Times,
)

# Invented positions: promotions, castling both ways, Black to move, en passant on the board, a late move number.
START_FENS = (
    chess.STARTING_FEN,
    "r3k2r/pPpp1ppp/8/8/3Pp3/8/PPP2PpP/R3K2R b KQkq d3 0 1",
    "4k3/PPP5/8/8/8/8/ppp5/4K3 w - - 0 97",
    "8/8/1k6/8/8/1K6/8/QQQ2qqq b - - 12 140",
)

_TROUBLE = st.sampled_from(
    [
        "}",
        "{",
        "%",
        "[%media t=1,2]",
        "[%clk 0:00:01]",
        "[ %x",
        "[",
        "]",
        ";",
        "(",
        ")",
        "$3",
        "\n",
        "\r\n%",
        "\u2028",
        "\x85",
        "\x0b",
        "\x00",
        "\ufeff",
        "\\",
        '"',
        '[Event "x"]',
        "1-0",
        "*",
        "e4",
        "2.",
        " ",
        "\t",
        "\xa0",
        "0000",
        "Ωmega",
        "🎙",
        "x" * 90,
        "the knight goes to f3, of course",
    ]
)
causes = st.sampled_from(["speaker", "caption", "unsure"])
nasty_text = st.one_of(
    st.text(max_size=30), st.lists(_TROUBLE, max_size=12).map("".join), st.lists(_TROUBLE, max_size=40).map(" ".join)
)

milliseconds = st.integers(0, 100 * 3600 * 1000)
confidences = st.floats(0, 1)


@st.composite
def times(draw: st.DrawFn) -> Times:
    """Start and end in seconds, whole milliseconds."""
    start = draw(milliseconds)
    return start / 1000, (start + draw(st.integers(1, 100_000))) / 1000


@st.composite
def trees(draw: st.DrawFn, start_fen: str, most: int = 25) -> tuple[Node, ...]:
    """Nodes of a game; no two children of a node are the same move."""
    nodes = [Node(0, None, None, times=tuple(sorted(draw(st.lists(times(), max_size=1)))), comment=draw(nasty_text))]
    boards = [chess.Board(start_fen)]
    ids = draw(st.permutations(range(1, most + 1)))
    for _ in range(draw(st.integers(0, most))):
        parent = draw(st.one_of(st.just(len(nodes) - 1), st.integers(0, len(nodes) - 1)))
        taken = {node.uci for node in nodes if node.parent == nodes[parent].id}
        free = [move for move in boards[parent].legal_moves if move.uci() not in taken]
        if not free:
            continue
        # Promotions and castling are rare among all moves, so they are drawn more often.
        rare = [move for move in free if move.promotion or boards[parent].is_castling(move)]
        move = draw(st.sampled_from(rare or free) if draw(st.booleans()) else st.sampled_from(free))
        has_main = any(node.main for node in nodes if node.parent == nodes[parent].id)
        nodes.append(
            Node(
                ids[len(nodes) - 1],
                nodes[parent].id,
                move.uci(),
                boards[parent].san(move),
                nodes[parent].ply + 1,
                nodes[parent].main and not has_main and draw(st.booleans()),
                draw(st.sampled_from(["spoken", "score", "inferred"])),
                draw(confidences),
                tuple(sorted(draw(st.lists(times(), max_size=3)))),
                draw(nasty_text),
                tuple(sorted(draw(st.sets(st.integers(1, 255), max_size=3)))),
            )
        )
        board = boards[parent].copy(stack=False)
        board.push(move)
        boards.append(board)
    return tuple(nodes)


@st.composite
def games(draw: st.DrawFn, words: int = 0) -> Game:
    """One game with mentions and findings that fit its tree."""
    start_fen = draw(st.sampled_from(START_FENS))
    nodes = draw(trees(start_fen))
    names = st.one_of(st.sampled_from(["Event", "Date", "White", "Annotator", "ECO"]), nasty_text)
    headers = draw(st.dictionaries(names, nasty_text, max_size=4))
    headers["Result"] = draw(st.sampled_from(["1-0", "0-1", "1/2-1/2", "*"]))
    ids = st.sampled_from([node.id for node in nodes])
    spans = st.lists(st.integers(0, words), min_size=2, max_size=2).map(lambda pair: (min(pair), max(pair)))
    rivals = st.lists(
        st.builds(Alternative, st.none(), st.just(""), confidences, st.one_of(st.none(), ids), st.just("none")),
        max_size=2,
    ).map(tuple)
    mentions = [
        Mention(start, end, draw(nasty_text), draw(spans), draw(st.sampled_from(["move", "again", "slip", "idea"])),
                tuple(draw(st.lists(ids, max_size=2))), draw(confidences), draw(rivals), draw(nasty_text))
        for start, end in sorted(draw(st.lists(times(), max_size=3)))
    ]  # fmt: skip
    findings = [
        Finding(start, end, draw(nasty_text), draw(spans), "square", draw(causes),
                draw(st.one_of(st.just(Meant()), ids.map(lambda node: Meant("g1f3", "Nf3", node)))), draw(confidences),
                draw(nasty_text), start_fen)
        for start, end in sorted(draw(st.lists(times(), max_size=2)))
    ]  # fmt: skip
    return Game(start_fen, headers, nodes, tuple(mentions), tuple(findings), 0.0, draw(st.floats(0, 1e5)))


@st.composite
def records(draw: st.DrawFn) -> Record:
    """A whole record of one to three games."""
    starts = sorted(draw(st.lists(milliseconds, max_size=6)))
    names = st.one_of(st.none(), nasty_text)
    words = tuple(
        SpokenWord(draw(nasty_text), at / 1000, at / 1000 + 0.25, draw(names), n) for n, at in enumerate(starts)
    )
    recording = Recording("talk.vtt", draw(names), draw(names), 1e4, len(words), "0" * 64)
    found = draw(st.lists(games(len(words)), min_size=1, max_size=2))
    return Record(recording, tuple(found), words, notes=tuple(draw(st.lists(nasty_text, max_size=2))))


def small_record() -> Record:
    """An invented talk about four moves and one sideline."""
    nodes = (
        Node(0, None, None),
        Node(1, 0, "e2e4", "e4", 1, True, times=((1.0, 1.5),), comment="a fine move", nags=(1,)),
        Node(2, 1, "e7e5", "e5", 2, True),
        Node(
            4,
            1,
            "c7c5",
            "c5",
            2,
            False,
            times=((3.0, 3.25), (9.0, 9.5)),
            alternatives=(Alternative("c7c6", "c6", 0.1, 1),),
        ),
        Node(3, 2, "g1f3", "Nf3", 3, True),
        Node(5, 4, "g1f3", "Nf3", 3, False),
    )
    words = tuple(SpokenWord(word, n, n + 0.5, None, 0) for n, word in enumerate(["we", "have", "e4", "c5"]))
    mention = Mention(1.0, 1.5, "e4", (2, 3), "move", (1,), 0.9, (Alternative("d2d4", "d4", 0.1, 0),), "heard")
    finding = Finding(3.0, 3.25, "c5", (3, 4), "square", "speaker", Meant("c7c5", "c5", 4), 0.8, "c6 was said.", "")
    game = Game(chess.STARTING_FEN, {"White": "Ada Quill", "Result": "1-0"}, nodes, (mention,), (finding,))
    return Record(Recording("talk.vtt", None, None, 9.5, 4), (game,), words)

"""A talk made up for these tests: a game of nine half-moves, sidelines three deep, one erratum, one move unsaid."""

from __future__ import annotations

from dataclasses import replace

import chess

from aligner.record.model import Finding, Game, Meant, Mention, Node, Record, Recording, SpokenWord

WORD = 0.5
"""Seconds that each word takes."""

MAIN = "e4 e5 Nf3 Nc6 Bb5 a6 Ba4 Nf6 O-O"

# Words and, after a bar, the line that leads to the move they speak of.
TALK = """
Welcome to the harbour, everyone.
We begin with e4,|e4
and Black answers e5.|e4 e5
Knight f3|e4 e5 Nf3
attacks the pawn, knight c6|e4 e5 Nf3 Nc6
defends it.
Instead d6|e4 e5 Nf3 d6
is solid. d4|e4 e5 Nf3 d6 d4
and now the pin, bishop g4,|e4 e5 Nf3 d6 d4 Bg4
or else exd4,|e4 e5 Nf3 d6 d4 exd4
knight takes,|e4 e5 Nf3 d6 d4 exd4 Nxd4
and if you prefer, queen takes|e4 e5 Nf3 d6 d4 exd4 Qxd4
with an easy game. Back to the game: bishop b4,!|e4 e5 Nf3 Nc6 Bb5
and the bishop goes home to a4.|e4 e5 Nf3 Nc6 Bb5 a6 Ba4
Knight f6|e4 e5 Nf3 Nc6 Bb5 a6 Ba4 Nf6
and White castles.|e4 e5 Nf3 Nc6 Bb5 a6 Ba4 Nf6 O-O
Remember knight f3|e4 e5 Nf3
from before. That is all, goodbye.
"""


def talk() -> Record:
    """The record of the talk; every word takes half a second."""
    boards = [chess.Board()]
    nodes = [Node(0, None, None)]
    known: dict[tuple[str, ...], int] = {(): 0}

    def reach(line: tuple[str, ...], main: bool, source: str) -> int:
        if line not in known:
            parent = reach(line[:-1], main, "score")
            board = boards[parent].copy()
            move = board.push_san(line[-1])
            known[line] = len(nodes)
            nodes.append(Node(len(nodes), parent, move.uci(), line[-1], len(line), main, source))
            boards.append(board)
        return known[line]

    main = tuple(MAIN.split())
    words: list[SpokenWord] = []
    mentions: list[Mention] = []
    findings: list[Finding] = []
    for row in TALK.strip().splitlines():
        text, _, path = row.partition("|")
        wrong = text.endswith("!")
        first = len(words)
        for word in text.rstrip("!").split():
            at = len(words) * WORD
            words.append(SpokenWord(word, at, at + WORD, "Ines Varga", 0))
        if not path:
            continue
        line = tuple(path.split())
        node = reach(line, line == main[: len(line)], "spoken")
        start = max(first, len(words) - (1 if text.split()[-1].strip(",.") in ("e4", "e5", "d4", "d6") else 2))
        span = (words[start].start, words[-1].end)
        kind = "slip" if wrong else "again" if nodes[node].times else "move"
        nodes[node] = replace(nodes[node], times=(*nodes[node].times, span), source="spoken")
        spoken = " ".join(word.text for word in words[start:])
        mentions.append(Mention(*span, spoken, (start, len(words)), kind, (node,), 0.95))
        if wrong:
            meant = Meant(nodes[node].uci, nodes[node].san, node)
            message = "\u201cbishop b4\u201d was said; 3.Bb5 is meant."
            findings.append(Finding(*span, spoken, (start, len(words)), "rank", "speaker", meant, 0.9, message))
    headers = {"White": "Ada Quill", "Black": "Bo Reed", "Result": "1-0", "Event": "Harbour Cup (invented)"}
    game = Game(chess.STARTING_FEN, headers, tuple(nodes), tuple(mentions), tuple(findings))
    return Record(Recording("harbour.vtt", "The pin", None, len(words) * WORD, len(words)), (game,), tuple(words))


ATTACKS = (
    "</script><script>window.stolen=1</script>",
    "<img src=x onerror=window.stolen=1>",
    '"><svg onload=window.stolen=1>',
    "' onclick='window.stolen=1",
    "<!--<script>",
    "]]>",
    "{{7*7}}{% raw %}",
    "javascript:window.stolen=1",
    "\u202eesrever\u202c",
    "\u2066isolated\u2069",
    "nul\x00byte",
    "esc\x1b[31m",
    "line\u2028separator\u2029",
    "half\ud83dsurrogate",
    "&lt;b&gt;&#0;",
    "</title></style></textarea>",
)
"""Text that would break out of a page that took it for markup, or steer how it is read."""


def attacked() -> Record:
    """The talk with an attack in every text that is free."""
    record = talk()
    attacks = " ".join(ATTACKS)
    words = tuple(
        replace(word, text=ATTACKS[at % len(ATTACKS)], speaker=ATTACKS[at // 20 % len(ATTACKS)])
        for at, word in enumerate(record.words)
    )
    game = record.games[0]
    nodes = tuple(replace(node, comment=attacks) for node in game.nodes)
    mentions = tuple(replace(mention, text=attacks, why=attacks) for mention in game.mentions)
    findings = tuple(replace(found, said=attacks, message=attacks, kind=attacks) for found in game.findings)
    headers = {"White": attacks, "Black": attacks, "Event": attacks, "Site": attacks, "Result": "1-0", attacks: "x"}
    games = (replace(game, nodes=nodes, mentions=mentions, findings=findings, headers=headers),)
    recording = replace(record.recording, captions=attacks, title=attacks, url="https://harbour.example/</script>")
    return replace(record, recording=recording, games=games, words=words, notes=(attacks,))

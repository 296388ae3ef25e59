"""Records as a faultless alignment would give them, from talk scripts whose truth is marked (tests/measure)."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

import chess

from aligner.record.model import Finding, Game, Meant, Mention, Node, Record, Recording, SpokenWord

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests" / "measure"))
import talkscript  # noqa: E402

SCRIPTS = ROOT / "fixtures" / "talks" / "fit"

PROLOGUE = """Title: {title}
White: Ada Brandt
Black: Ines Falk
Event: Harbour Cup, invented
Result: {result}
{fen}Game: {game}
Mode: game
Captions: {captions}
Rate: 160
Seed: 5
===
{talk}
"""


def from_script(text: str, name: str = "talk", url: str | None = None) -> Record:
    """The record of a talk script in the markup of tests/measure/talkscript.py."""
    talk = talkscript.parse(text, name)
    talkscript.clock(talk)
    style = talk.head.get("Captions", "clean")
    lower = style in ("auto", "rolling", "words")
    texts = [(talkscript.bare(word) or "-") if lower else word for word in talk.words]
    timed = enumerate(zip(texts, talk.times, strict=True))
    words = tuple(SpokenWord(text, start, end, None, at // 9) for at, (text, (start, end)) in timed)
    fen = talk.head.get("FEN") or chess.STARTING_FEN
    paths: list[tuple[str, ...]] = [tuple(talk.main[:size]) for size in range(len(talk.main) + 1)]
    main = set(paths)
    for mention in talk.mentions:
        for path in mention.paths:
            for size in range(len(path) + 1):
                if tuple(path[:size]) not in paths:
                    paths.append(tuple(path[:size]))
    ids = {path: at for at, path in enumerate(paths)}
    spoken: dict[int, list[tuple[float, float]]] = {}
    mentions: list[Mention] = []
    findings: list[Finding] = []
    for mention in talk.mentions:
        if mention.kind in ("none", "claim"):
            continue
        nodes = tuple(ids[tuple(path)] for path in mention.paths)
        for node in nodes:
            spoken.setdefault(node, []).append((mention.start, mention.end))
        said = " ".join(texts[mention.w0 : mention.w1])
        where = (mention.w0, mention.w1)
        mentions.append(Mention(mention.start, mention.end, said, where, mention.kind, nodes, 0.95))
        if mention.kind == "slip":
            uci = mention.paths[-1][-1]
            meant = Meant(uci, "", nodes[-1])
            message = f'"{said}" is not the move here.'
            findings.append(
                Finding(mention.start, mention.end, said, where, "square", "speaker", meant, 0.9, message, fen)
            )
    nodes_made = tuple(_node(path, ids, path in main, spoken, fen) for path in paths)
    headers = {key: talk.head[key] for key in ("White", "Black", "Event", "Result") if key in talk.head}
    headers.setdefault("Result", "*")
    seconds = talk.times[-1][1] if talk.times else 0.0
    game = Game(fen, headers, nodes_made, tuple(mentions), tuple(findings), 0.0, seconds)
    recording = Recording(f"{name}.vtt", talk.head.get("Title"), url, seconds, len(words))
    return Record(recording, (game,), words)


def _node(
    path: tuple[str, ...],
    ids: dict[tuple[str, ...], int],
    main: bool,
    spoken: dict[int, list[tuple[float, float]]],
    fen: str,
) -> Node:
    if not path:
        return Node(0, None, None)
    board = chess.Board(fen)
    for uci in path[:-1]:
        board.push_uci(uci)
    san = board.san(chess.Move.from_uci(path[-1]))
    times = tuple(sorted(spoken.get(ids[path], ())))
    source = "spoken" if times else "score" if main else "inferred"
    return Node(ids[path], ids[path[:-1]], path[-1], san, len(path), main, source, times=times)


def script(
    talk: str, game: str, *, title: str = "A talk", result: str = "*", fen: str = "", captions: str = "clean"
) -> Record:
    """A record from a few marked sentences."""
    head = f"FEN: {fen}\n" if fen else ""
    return from_script(PROLOGUE.format(title=title, result=result, fen=head, game=game, captions=captions, talk=talk))


def scripted(names: Sequence[str]) -> dict[str, Record]:
    """Records of scripts in the project's fixtures, by name."""
    return {name: from_script((SCRIPTS / f"{name}.talk").read_text(encoding="utf-8"), name) for name in names}

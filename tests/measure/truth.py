"""Marked-up talks as training and measuring material: the words as captions give them, and which decisions are true."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from pathlib import Path
from zlib import crc32

import chess
import talkscript

from aligner.captions import parse_captions
from aligner.reconstruction.setup import without_setup
from aligner.search.lines import LineNode, Lines
from aligner.search.state import Decision, State
from aligner.speech.leanings import read_leaning_model, with_leanings
from aligner.speech.listen import Speech, listen


@dataclass(eq=False)
class Talk:
    """A marked-up talk, heard.

    Attributes:
        name: stem of its file.
        mode: "game" (a score is given) or "talk".
        start_fen: of the game.
        main: the game's moves, UCI.
        speech: what the program hears in its captions.
        script: the compiled script.
    """

    name: str
    mode: str
    start_fen: str
    main: tuple[str, ...]
    speech: Speech
    script: talkscript.Talk = field(repr=False)


FOLDS = 8
"""Parts of the talks that weights are fitted without, each in its turn."""


def fold_of(name: str) -> int:
    """The part that a talk belongs to, by its name, so that it stays there when talks are added."""
    return crc32(name.encode()) % FOLDS


def read_talk(path: Path, unseen: Path | None = None, style: str | None = None) -> Talk:
    """Compile a talk script and hear its captions.

    Args:
        path: of the script.
        unseen: a folder of fit_leanings.py, whose weights that have not seen this talk are to be taken for the
            leanings of its phrases; None for those of the program.
        style: of the captions, instead of the script's own.
    """
    script = talkscript.parse(path.read_text(encoding="utf-8"), path.name)
    talkscript.clock(script)
    style = style or script.head.get("Captions", "clean")
    captions = parse_captions(talkscript.vtt(script.words, script.times, style), path.stem + ".vtt")
    said = [talkscript.bare(word) if style != "clean" else word for word in script.words]
    # signs of another speaker are no words
    kept = [index for index, word in enumerate(said) if word and word != "&gt;&gt;"]
    heard = [word.text for word in captions.words]
    if len(heard) != len(kept):
        raise ValueError(f"{path.name}: captions have {len(heard)} words, the script {len(kept)}")
    place = {old: new for new, old in enumerate(kept)}
    for mention in script.mentions:
        inside = [place[index] for index in range(mention.w0, mention.w1) if index in place]
        mention.w0, mention.w1 = (inside[0], inside[-1] + 1) if inside else (0, 0)
    speech = listen(captions.words, [script.head.get("White", ""), script.head.get("Black", "")])
    fen = script.head.get("FEN") or chess.STARTING_FEN
    speech = without_setup(speech, chess.Board(fen))
    model = read_leaning_model(unseen / f"{fold_of(path.stem)}.txt") if unseen is not None else None
    speech = with_leanings(speech, model)
    return Talk(path.stem, script.head.get("Mode", "game"), fen, tuple(script.main), speech, script)


class Oracle:
    """Tells which decisions are true, for one search over one talk."""

    def __init__(self, talk: Talk, lines: Lines) -> None:
        self.talk = talk
        self.lines = lines
        self.astray: LineNode | None = None  # where the search may stand besides, until it has found back
        self.mentions = [
            (m.w0, m.w1, m.kind, tuple(self._node(path) for path in m.paths if path))
            for m in talk.script.mentions
            if m.kind in ("move", "slip", "again") and any(m.paths) and m.w1 > m.w0
        ]
        moves = [(w0, w1, nodes) for w0, w1, kind, nodes in self.mentions if kind != "again"]
        self.move_ends = [w1 for _, w1, _ in moves]
        self.cursors = [nodes[-1] for _, _, nodes in moves]
        self.heads: list[LineNode] = []
        main = self._line(talk.main)
        furthest = 0
        for _, _, nodes in moves:
            for node in nodes:
                if node.ply < len(main) and main[node.ply] is node:
                    furthest = max(furthest, node.ply)
            self.heads.append(main[furthest])
        self.main = main

    def _node(self, path: list[str]) -> LineNode:
        return self._line(path)[-1]

    def _line(self, path: tuple[str, ...] | list[str]) -> list[LineNode]:
        nodes = [self.lines.root]
        for uci in path:
            nodes.append(self.lines.after(nodes[-1], chess.Move.from_uci(uci)))
        return nodes

    def place(self, stretch: int) -> tuple[LineNode, LineNode]:
        """The true cursor and head at the beginning of a stretch."""
        word = self.talk.speech.tokens[self.talk.speech.stretches[stretch].start].word
        before = bisect_right(self.move_ends, word) - 1
        if before < 0:
            return self.lines.root, self.lines.root
        return self.cursors[before], self.heads[before]

    def allows(self, at: int, state: State, decision: Decision, head: LineNode) -> bool:
        """Whether a decision is true where the search stands."""
        tokens = self.talk.speech.tokens
        stretch = self.talk.speech.stretches[at]
        phrase = (decision.spoken or stretch.spoken[0]).phrase
        first, last = tokens[phrase.start].word, tokens[phrase.end - 1].word + 1
        over = [m for m in self.mentions if m[0] < last and m[1] > first]
        expected, _ = self.place(at)
        inside = {id(node) for m in over for node in m[3]}
        if state.cursor is not expected and id(state.cursor) not in inside and state.cursor is not self.astray:
            return False
        if decision.spoken is None:
            return True
        if not decision.nodes:
            return all(self._done(m, state, last) for m in over)
        for _, w1, kind, nodes in over:
            if decision.kind == "again":
                if decision.nodes[0] in nodes and (kind == "again" or state.cursor.follows(decision.nodes[0])):
                    return True
                continue
            if kind == "again":
                continue
            for k in range(len(nodes)):
                if decision.nodes == nodes[k : k + len(decision.nodes)]:
                    if k and state.cursor is not nodes[k - 1]:
                        continue
                    head_now = self.heads[
                        next(i for i, c in enumerate(self.cursors) if c is nodes[-1] and self.move_ends[i] == w1)
                    ]
                    if head.ply > head_now.ply or not head_now.follows(head):
                        continue
                    on_main = any(node.ply < len(self.main) and self.main[node.ply] is node for node in decision.nodes)
                    if on_main and len(decision.nodes) + k == len(nodes) and head is not head_now:
                        continue
                    if not on_main and head is not state.head:
                        continue
                    return True
        return False

    def _done(self, mention: tuple[int, int, str, tuple[LineNode, ...]], state: State, last: int) -> bool:
        _, w1, kind, nodes = mention
        if kind == "again":
            return last < w1
        return state.cursor is nodes[-1] or last < w1

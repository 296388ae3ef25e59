"""A reading of the talk into the game of the record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import chess

from aligner.reconstruction.closing import Candidate
from aligner.record.model import Alternative, Finding, Game, Meant, Mention, Node, Times
from aligner.search.lines import LineNode
from aligner.search.reading import Choice, Reading, Rival
from aligner.speech.lexicon import lexicon
from aligner.speech.listen import Speech
from aligner.speech.sounds import how_alike
from aligner.tree.plans import plan
from aligner.tree.remarks import judgements, remark
from aligner.tree.wording import misnamed, numbered, san, why

_SOUNDS_ALIKE, _SOUNDS_UNLIKE = 0.75, 1.6
"""Phoneme distances below which the captioner misheard, and above which the speaker misspoke."""


def build_game(
    speech: Speech,
    reading: Reading,
    start_fen: str,
    headers: Mapping[str, str],
    belief: Sequence[float] | None,
    candidates: Sequence[Sequence[Candidate]] = (),
) -> Game:
    """The game of a reading.

    Args:
        speech: the talk as heard.
        reading: what the search made of it.
        start_fen: position of node 0.
        headers: PGN tag pairs.
        belief: where the game was found in the talk, for each of its plies the probability that it came so far in
            this way; None where the score was given, or the talk is read without one.
        candidates: for each ply that nobody spoke, what it may have been, its own move first.
    """
    ids: dict[int, int] = {}
    order: list[LineNode] = []

    def keep(node: LineNode) -> int:
        chain = []
        at: LineNode | None = node
        while at is not None and at.number not in ids:
            chain.append(at)
            at = at.parent
        for new in reversed(chain):
            ids[new.number] = len(order)
            order.append(new)
        return ids[node.number]

    keep(reading.lines.root)
    known = bool(reading.lines.score_moves)
    last = reading.lines.score[-1] if known else reading.head
    keep(last)
    spoken = [choice for choice in reading.choices if choice.decision.nodes]
    for choice in spoken:
        for node in choice.decision.nodes:
            keep(node)

    times: dict[int, list[Times]] = {}
    confidence: dict[int, float] = {}
    mentions: list[Mention] = []
    findings: list[Finding] = []
    remarks: dict[int, list[str]] = {}
    glyphs: dict[int, list[int]] = {}
    words = lexicon()
    entries = [entry for entry in speech.entries if entry.kind == "judgement"]
    for place, choice in enumerate(spoken):
        decision = choice.decision
        first, past = choice.words
        start, end = speech.words[first].start / 1000, speech.words[past - 1].end / 1000
        nodes = tuple(ids[node.number] for node in decision.nodes)
        for number in nodes:
            times.setdefault(number, []).append((start, end))
            confidence[number] = max(confidence.get(number, 0.0), choice.probability)
        text = " ".join(word.text for word in speech.words[first:past])
        kind = "slip" if decision.slips or _heard_wrong(choice) else "again" if decision.kind == "again" else "move"
        rivals = tuple(_alternative(rival, ids) for rival in choice.rivals)
        sure = round(choice.probability, 4)
        mentions.append(Mention(start, end, text, (first, past), kind, nodes, sure, rivals, why(choice)))
        if kind == "slip":
            findings.append(_finding(choice, text, start, end, nodes[-1]))
        until = spoken[place + 1].words[0] if place + 1 < len(spoken) else len(speech.words)
        said = remark(speech, past, until)
        if said:
            remarks.setdefault(nodes[-1], []).append(said)
        for glyph in judgements(speech, entries, first, until, dict(words.judgements)):
            same = [old for old in glyphs.get(nodes[-1], []) if (old < 10) == (glyph < 10)]
            if not same:
                glyphs.setdefault(nodes[-1], []).append(glyph)

    main = {reading.lines.root.number} | {node.number for node in last.ancestors()} | {last.number}
    made = []
    for number, line_node in enumerate(order):
        on_main = line_node.number in main
        seen = tuple(times.get(number, ()))
        sure = reading.presence.get(line_node.number, confidence.get(number, 1.0))
        if on_main and known:
            sure = 1.0 if belief is None or not line_node.ply else belief[line_node.ply - 1]
        others: tuple[Alternative, ...] = ()
        if on_main and line_node.ply and not seen:
            own, others = _unspoken(line_node, sure, candidates[line_node.ply - 1 : line_node.ply], ids)
            sure *= own
        made.append(
            Node(
                id=number,
                parent=None if line_node.parent is None else ids[line_node.parent.number],
                uci=line_node.move.uci() if line_node.move else None,
                san=san(line_node),
                ply=line_node.ply,
                main=on_main,
                source="spoken"
                if seen or number == 0
                else "score"
                if known and belief is None and on_main
                else "inferred",
                confidence=1.0 if number == 0 else round(min(max(sure, 0.0), 1.0), 4),
                times=seen,
                comment=" ".join(remarks.get(number, ())),
                nags=tuple(glyphs.get(number, ())),
                alternatives=others,
            )
        )
    ideas = (plan(speech, choice, ids) for choice in reading.choices if not choice.decision.nodes)
    mentions = sorted([*mentions, *(idea for idea in ideas if idea is not None)], key=lambda told: told.words)
    ordered = _in_order(made)
    end_of_talk = speech.words[-1].end / 1000 if speech.words else 0.0
    tags = dict(headers)
    if belief is not None or not known:  # a score's own result stays as it is given
        tags["Result"] = _result(last, tags.get("Result", "*"))
    return Game(start_fen, tags, ordered, tuple(mentions), tuple(findings), 0.0, end_of_talk)


def _result(last: LineNode, told: str) -> str:
    """The result of a game, which its last position decides where the rules do: mate, stalemate, no mating material."""
    return last.board.result() if told == "*" else told


def _unspoken(
    node: LineNode, so_far: float, candidates: Sequence[Sequence[Candidate]], ids: Mapping[int, int]
) -> tuple[float, tuple[Alternative, ...]]:
    """The share of an unspoken move among those it may have been, and the others, as sure as the game is so far."""
    own, rivals = 1.0, list[Alternative]()
    assert node.parent is not None and node.move is not None
    for candidate in candidates[0] if candidates else ():
        if candidate.uci == node.move.uci():
            own = candidate.share
        else:
            name = node.parent.board.san(chess.Move.from_uci(candidate.uci))
            rivals.append(Alternative(candidate.uci, name, round(so_far * candidate.share, 4), ids[node.parent.number]))
    return own, tuple(rivals)


def _in_order(nodes: Sequence[Node]) -> tuple[Node, ...]:
    """Parents before children; of siblings the game's own first, else in order of time."""
    below: dict[int, list[Node]] = {}
    for node in nodes:
        if node.parent is not None:
            below.setdefault(node.parent, []).append(node)
    ordered: list[Node] = []
    stack = [nodes[0]]
    while stack:
        node = stack.pop()
        ordered.append(node)
        children = sorted(
            below.get(node.id, ()), key=lambda n: (not n.main, n.times[0] if n.times else (0.0, 0.0), n.id)
        )
        stack += reversed(children)
    return tuple(ordered)


def _heard_wrong(choice: Choice) -> bool:
    return any(name == "sound" for name, _ in (choice.decision.spoken.phrase.terms if choice.decision.spoken else ()))


def _alternative(rival: Rival, ids: Mapping[int, int]) -> Alternative:
    if not rival.nodes:
        return Alternative(None, "", round(rival.probability, 4), None, "none")
    node = rival.nodes[-1]
    parent = ids.get(node.parent.number) if node.parent is not None else None
    kind = "slip" if rival.slips else "again" if rival.kind == "again" else "move"
    return Alternative(node.move.uci() if node.move else None, san(node), round(rival.probability, 4), parent, kind)


def _finding(choice: Choice, said: str, start: float, end: float, node: int) -> Finding:
    meant = choice.decision.nodes[-1]
    slips = choice.decision.slips
    kind = slips[0] if slips else "garble"
    if kind == "captured":
        kind = "piece"
    assert meant.parent is not None
    return Finding(
        start=start,
        end=end,
        said=said,
        words=choice.words,
        kind=kind,
        cause=_cause(said, meant, slips),
        meant=Meant(meant.move.uci() if meant.move else None, san(meant), node),
        confidence=round(choice.probability, 4),
        message=misnamed(said, meant, slips) if slips else f'"{said}" sounds like {numbered(meant)}, which is meant.',
        fen=meant.parent.board.fen(),
    )


def _cause(said: str, meant: LineNode, slips: tuple[str, ...]) -> str:
    if not slips:
        return "caption"
    assert meant.move is not None
    target = meant.move.uci()[2:4]
    distance = how_alike(said.lower().split()[-1], target)
    if set(slips) <= {"file", "rank"}:
        return "caption" if distance < _SOUNDS_ALIKE else "speaker" if distance > _SOUNDS_UNLIKE else "unsure"
    return "speaker"

"""What a run says when it is done: what was found, what is wrong, what is doubtful."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from aligner.record.model import Alternative, Finding, Game, Mention, Node, Record
from aligner.record.printing import clean, clock

DOUBTFUL = 0.8
"""Mentions below this confidence are listed."""

WRONG_RATHER_THAN_RIGHT = 0.5
"""A move of the game below this confidence is warned of."""

LISTED = 12
"""So many findings, doubts and notes are listed; the record has them all."""

_WORDS_SHOWN = 60
_RIVALS_SHOWN = 2


@dataclass(frozen=True, slots=True)
class Sidelines:
    """How far a talk leaves its game.

    Attributes:
        number: of sidelines, those inside others counted too.
        depth: of the deepest, 1 for a sideline of the game itself; 0 where there is none.
        moves: half-moves in all sidelines.
    """

    number: int
    depth: int
    moves: int


def summarise(record: Record) -> str:
    """A few readable lines about an alignment, free of control characters, without a line end at the end."""
    lines = [_heading(record)]
    for number, game in enumerate(record.games, start=1):
        if len(record.games) > 1:
            lines.append(f"game {number}, from {clock(game.start)}:")
        lines.extend(_about_game(game))
    lines.extend(_listed([f"note: {note}" for note in record.notes], "notes"))
    return "\n".join(_clean_line(line) for line in lines)


def _clean_line(line: str) -> str:
    """The line without control characters, its indent kept."""
    return " " * (len(line) - len(line.lstrip(" "))) + clean(line)


def count_sidelines(game: Game) -> Sidelines:
    """The sidelines as the PGN nests them: each begins where a move stands beside another of its parent."""
    depths: dict[int, int] = {}
    continued: set[int] = set()
    number = moves = 0
    for node in game.nodes:
        if node.parent is None or node.main:
            depths[node.id] = 0
            continue
        depth = depths[node.parent]
        # the first move after a sideline's move goes on in it; any other begins a new one
        if depth == 0 or node.parent in continued:
            depth, number = depth + 1, number + 1
        else:
            continued.add(node.parent)
        depths[node.id] = depth
        moves += 1
    return Sidelines(number, max(depths.values(), default=0), moves)


def move_name(game: Game, ply: int, san: str) -> str:
    """A move with its number, "12.Bxd2" or "12...Bxd2"; plies count from 1 at the game's start position."""
    fields = game.start_fen.split()
    black = len(fields) > 1 and fields[1] == "b"
    first = int(fields[5]) if len(fields) > 5 and fields[5].isdigit() else 1
    moves, second = divmod(ply - 1 + black, 2)
    return f"{first + moves}{'...' if second else '.'}{san}"


def _heading(record: Record) -> str:
    recording = record.recording
    minutes = clock(recording.seconds)
    return f"{recording.title or recording.captions}: {_count(recording.words, 'word')} in {minutes}"


def _about_game(game: Game) -> Iterator[str]:
    nodes = {node.id: node for node in game.nodes}
    white, black = game.headers.get("White", "?"), game.headers.get("Black", "?")
    if (white, black) != ("?", "?"):
        yield f"  {white} - {black}, {game.headers.get('Result', '*')}"
    yield f"  {_count(len(game.mentions), 'mention')}{_kinds(game.mentions)}"
    yield f"  {_own_line(game)}"
    yield from _unspoken(game, nodes)
    yield from _in_doubt(game)
    sidelines = count_sidelines(game)
    deep = f", {sidelines.depth} deep" if sidelines.depth > 1 else ""
    yield f"  {_count(sidelines.number, 'sideline')}{deep}, {_count(sidelines.moves, 'move')} in them"
    findings = [f"    {_finding(finding)}" for finding in game.findings]
    yield f"  {_count(len(findings), 'finding')}"
    yield from _listed(findings, "findings")
    doubts = [f"    {_doubt(game, mention, nodes)}" for mention in _doubtful(game.mentions)]
    yield f"  {_count(len(doubts), 'doubtful mention')}{', the likeliest rivals after each' if doubts else ''}"
    yield from _listed(doubts, "doubtful mentions")


def _kinds(mentions: tuple[Mention, ...]) -> str:
    names = {"move": "first spoken", "again": "spoken again", "slip": "misnamed", "idea": "only planned"}
    counts = {name: sum(mention.kind == kind for mention in mentions) for kind, name in names.items()}
    told = [f"{count} {name}" for name, count in counts.items() if count]
    return f": {', '.join(told)}" if told else ""


def _own_line(game: Game) -> str:
    line = [node for node in game.nodes if node.main and node.parent is not None]
    spoken = [at for at, node in enumerate(line) if node.times]
    reached = spoken[-1] + 1 if spoken else 0
    silent = [node for node in line[:reached] if not node.times]
    inferred = [node for node in silent if node.source == "inferred"]
    passed = [node for node in silent if node.source != "inferred"]
    told = [f"{_count(len(line), 'game move')}: {len(spoken)} spoken of"]
    if passed:
        told.append(f"{len(passed)} passed over ({_moves(game, passed)})")
    if inferred:
        told.append(f"{len(inferred)} inferred ({_moves(game, inferred)})")
    if reached < len(line):
        told.append(f"{len(line) - reached} after the talk leaves the game")
    return ", ".join(told)


def _unspoken(game: Game, nodes: Mapping[int, Node]) -> Iterator[str]:
    """Moves of the game that nobody spoke and that may have been others."""
    open_still = [node for node in game.nodes if node.main and node.alternatives]
    if open_still:
        yield f"  of the inferred ones {len(open_still)} may have been others (settle them with `aligner desk`)"
    yield from _listed([f"    {_inferred(game, node, nodes)}" for node in open_still], "inferred moves")


def _inferred(game: Game, node: Node, nodes: Mapping[int, Node]) -> str:
    rivals = [_rival(game, rival, nodes) for rival in node.alternatives[:_RIVALS_SHOWN]]
    return f"{move_name(game, node.ply, node.san)} {node.confidence:.2f}; or {', '.join(rivals)}"


def _in_doubt(game: Game) -> Iterator[str]:
    """From where on a game that was found in the talk is more likely wrong than right."""
    told = (node for node in game.nodes if node.main and not node.alternatives)
    doubtful = next((node for node in told if node.confidence < WRONG_RATHER_THAN_RIGHT), None)
    if doubtful is not None:
        move = move_name(game, doubtful.ply, doubtful.san)
        yield (
            f"  the game is in doubt from {move} on ({doubtful.confidence:.2f}): "
            "give its score with --game, or settle it with `aligner desk`"
        )


def _moves(game: Game, nodes: list[Node]) -> str:
    shown = [move_name(game, node.ply, node.san) for node in nodes[:LISTED]]
    return " ".join(shown) + (" ..." if len(nodes) > LISTED else "")


def _finding(finding: Finding) -> str:
    return f"{clock(finding.start)} [{finding.cause}, {finding.confidence:.2f}] {finding.message}"


def _doubtful(mentions: tuple[Mention, ...]) -> list[Mention]:
    return [mention for mention in mentions if mention.confidence < DOUBTFUL]


def _doubt(game: Game, mention: Mention, nodes: Mapping[int, Node]) -> str:
    words = clean(mention.text).rstrip(",.;:!?")
    if len(words) > _WORDS_SHOWN:
        words = words[:_WORDS_SHOWN].rsplit(" ", 1)[0] + " ..."
    decided = " ".join(move_name(game, nodes[node].ply, nodes[node].san) for node in mention.nodes if node in nodes)
    rivals = [_rival(game, rival, nodes) for rival in mention.alternatives[:_RIVALS_SHOWN]]
    line = f'{clock(mention.start)} "{words}": {decided or "a plan, no move"} {mention.confidence:.2f}'
    return f"{line}; or {', '.join(rivals)}" if rivals else line


def _rival(game: Game, rival: Alternative, nodes: Mapping[int, Node]) -> str:
    if rival.uci is None:
        return f"no move {rival.confidence:.2f}"
    before = nodes.get(rival.parent) if rival.parent is not None else None
    name = move_name(game, before.ply + 1, rival.san) if before is not None else f"{rival.san} elsewhere"
    return f"{name} {rival.confidence:.2f}"


def _listed(lines: list[str], what: str) -> Iterable[str]:
    yield from lines[:LISTED]
    if len(lines) > LISTED:
        yield f"    and {len(lines) - LISTED} more {what} in the record (--json)"


def _count(number: int, name: str) -> str:
    return f"{number:,} {name}{'' if number == 1 else 's'}"

"""How well captions are put right: `python tests/measure/restore.py TALKS... [--share 0.15] [--seed 4] [--detail]`.

Breaks a share of the moves in the captions of marked-up talks with words that sound alike (the table of sounds, each
as often as exp(-cost), fixed seed); with --heard FOLDER they are broken as a recogniser misheard them
(`recogniser.py`). Corrects the captions, and counts how many broken moves are restored word for word, how many words
that were not broken are changed, and who is blamed for what is misnamed: the captions, the speaker, or neither for
sure. The speaker's own slips are neither broken nor changed.
"""

from __future__ import annotations

import argparse
import difflib
import json
import math
import random
import tempfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from itertools import accumulate
from pathlib import Path

import chess
import talkscript

from aligner.captions import parse_captions
from aligner.captions.words import Captions
from aligner.errata.correct import correct
from aligner.pgn.reader import read_scores
from aligner.pgn.score import Score
from aligner.pipeline import align
from aligner.record.model import Finding, Game, Meant, Mention, Node, Record, Recording
from aligner.speech.sounds import sound_table

FARTHEST = 0.75
"""Sounds farther off than this are not what a recogniser writes."""


def alike(farthest: float) -> dict[str, list[tuple[str, float]]]:
    """Part of a move, as it is said, to the words that sound like it, with weights."""
    table = sound_table()
    found: dict[str, list[tuple[str, float]]] = {}
    digits = {digit: said for digit, said in table.digits.items()}
    for word, readings in table.alike.items():
        for reading in readings:
            if reading.cost <= farthest and reading.kind != "piece_file" and word != reading.target:
                found.setdefault(reading.target, []).append((word, math.exp(-2 * reading.cost)))
    for digit, said in digits.items():
        found.setdefault(said, []).extend(found.get(digit, []))
    return found


def break_word(word: str, table: dict[str, list[tuple[str, float]]], draw: random.Random) -> str | None:
    """The word as a recogniser might have misheard it; None where it has no such word."""
    core = word.strip(".,;:!?").lower()
    tail = word[len(word.rstrip(".,;:!?")) :]
    options = list(table.get(core, ()))
    if len(core) == 2 and core[0] in "abcdefgh" and core[1] in "12345678":
        files = [f for f in table.get(core[0], ()) if f[0].isalpha()]
        ranks = [r for r in table.get(core[1], ()) if r[0].isalpha()]
        said = sound_table().digits.get(core[1], core[1])
        options += [(f"{name} {said}", weight) for name, weight in files]
        options += [(f"{core[0]} {name}", weight) for name, weight in ranks]
    if not options or not core:
        return None
    new = draw.choices([o for o, _ in options], [w for _, w in options])[0]
    return (new[:1].upper() + new[1:] if word[:1].isupper() else new) + tail


def break_moves(
    script: talkscript.Talk, table: dict[str, list[tuple[str, float]]], share: float, draw: random.Random
) -> tuple[list[str], list[tuple[int, int]]]:
    """The words with a share of their moves misheard in one word, and the words of these moves, half-open."""
    noisy = list(script.words)
    broken: list[tuple[int, int]] = []
    for m in script.mentions:
        if m.kind in ("move", "again") and draw.random() < share:
            good = script.words
            places = [index for index in range(m.w0, m.w1) if break_word(good[index], table, random.Random(0))]
            if places:
                place = draw.choice(places)
                noisy[place] = break_word(good[place], table, draw) or good[place]
                broken.append((m.w0, m.w1))
    return noisy, broken


def heard_moves(script: talkscript.Talk, heard: list[str]) -> list[tuple[int, int]]:
    """The moves that a recogniser misheard, as words, half-open; those of which it heard nothing are left whole."""
    broken: list[tuple[int, int]] = []
    for m in script.mentions:
        places = range(m.w0, m.w1)
        if m.kind in ("move", "again") and any(heard[index] != script.words[index] for index in places):
            if not any(heard[index] for index in places):
                heard[m.w0 : m.w1] = script.words[m.w0 : m.w1]
            else:
                broken.append((m.w0, m.w1))
    return broken


def blamed(record: Record, spans: Sequence[tuple[int, int]], starts: Sequence[int]) -> Counter[str]:
    """Whom the findings about some words blame; the words are those of the script, and where each starts is given."""
    told = [(starts[first], starts[last]) for first, last in spans]
    return Counter(
        finding.cause
        for game in record.games
        for finding in game.findings
        if finding.meant.uci and any(finding.words[0] < last and first < finding.words[1] for first, last in told)
    )


def scores_of(script: talkscript.Talk) -> tuple[Score, ...]:
    """The talk's game, where its score is given."""
    if script.head.get("Mode", "game") != "game":
        return ()
    with tempfile.TemporaryDirectory() as folder:
        score = Path(folder) / "score.pgn"
        score.write_text(talkscript.full_pgn(script, True), encoding="utf-8")
        return tuple(read_scores(score))


def plain(words: list[str]) -> list[str]:
    """Words without case and punctuation, squares in one piece."""
    said = {said: digit for digit, said in sound_table().digits.items()}
    found: list[str] = []
    for word in words:
        core = word.strip(".,;:!?\"'()[]").lower()
        core = said.get(core, core)
        if found and len(found[-1]) == 1 and found[-1] in "abcdefgh" and core in tuple("12345678"):
            found[-1] += core
        elif core:
            found.append(core)
    return found


def true_record(script: talkscript.Talk, noisy: list[str], captions: Captions, style: str) -> Record:
    """The record as the marks have it, with every move that is not worded as usual a garble."""
    sizes = [len((talkscript.bare(word) if style != "clean" else word).split()) for word in noisy]
    starts = [0, *accumulate(sizes)]
    nodes = [Node(0, None, None)]
    ids: dict[tuple[str, ...], int] = {(): 0}
    times: dict[int, list[tuple[float, float]]] = {}

    def keep(path: tuple[str, ...]) -> int:
        if path not in ids:
            parent = keep(path[:-1])
            board = chess.Board(script.head.get("FEN") or chess.STARTING_FEN)
            for uci in path[:-1]:
                board.push_uci(uci)
            ids[path] = len(nodes)
            san = board.san(chess.Move.from_uci(path[-1]))
            nodes.append(Node(ids[path], parent, path[-1], san, len(path), tuple(script.main[: len(path)]) == path))
        return ids[path]

    mentions, findings = [], []
    for m in script.mentions:
        first, last = starts[m.w0], starts[m.w1]
        found = tuple(keep(tuple(path)) for path in m.paths if path)
        if m.kind not in ("move", "slip", "again") or not found or last <= first:
            continue
        spoken = captions.words[first].start / 1000, captions.words[last - 1].end / 1000
        for number in found:
            times.setdefault(number, []).append(spoken)
        text = " ".join(word.text for word in captions.words[first:last])
        mentions.append(Mention(*spoken, text, (first, last), m.kind, found, 1.0))
        if noisy[m.w0 : m.w1] != script.words[m.w0 : m.w1]:
            node = nodes[found[-1]]
            meant = Meant(node.uci, node.san, node.id)
            findings.append(Finding(*spoken, text, (first, last), "garble", "caption", meant, 1.0, ""))
    nodes = [replace(node, times=tuple(times.get(node.id, ()))) for node in nodes]
    fen = script.head.get("FEN") or chess.STARTING_FEN
    game = Game(fen, {}, tuple(nodes), tuple(mentions), tuple(findings))
    return Record(Recording(captions.name, None, None, captions.duration / 1000, len(captions.words)), (game,), ())


def texts(captions: Captions) -> list[str]:
    return [word.text for word in captions.words]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("talks", nargs="+", type=Path)
    parser.add_argument("--share", type=float, default=0.15)
    parser.add_argument("--farthest", type=float, default=FARTHEST)
    parser.add_argument("--seed", type=int, default=4)
    parser.add_argument("--heard", type=Path, help="folder with what a recogniser heard; talks without it are left out")
    parser.add_argument("--true", action="store_true", help="take the alignment from the marks")
    parser.add_argument("--detail", action="store_true")
    arguments = parser.parse_args()
    files = [f for path in arguments.talks for f in (sorted(path.glob("*.talk")) if path.is_dir() else [path])]
    table = alike(arguments.farthest)
    all_broken = all_restored = all_words = all_changed = 0
    captioner: Counter[str] = Counter()
    speaker: Counter[str] = Counter()
    for file in files:
        recognised = arguments.heard / f"{file.stem}.json" if arguments.heard else None
        if recognised is not None and not recognised.exists():
            continue
        draw = random.Random(f"{arguments.seed} {file.stem}")
        script = talkscript.parse(file.read_text(encoding="utf-8"), file.name)
        talkscript.clock(script)
        style = script.head.get("Captions", "clean")
        good = list(script.words)
        slips = [(m.w0, m.w1) for m in script.mentions if m.kind == "slip"]
        if recognised is not None:
            noisy = list(json.loads(recognised.read_text(encoding="utf-8")))
            broken = heard_moves(script, noisy)
        else:
            noisy, broken = break_moves(script, table, arguments.share, draw)
        captions = parse_captions(talkscript.vtt(noisy, script.times, style), file.stem + ".vtt")
        scores = scores_of(script)
        if arguments.true:
            record = true_record(script, noisy, captions, style)
        else:
            record = align(captions, scores, start_fen=script.head.get("FEN") or None, force=True)
        sizes = [len((talkscript.bare(word) if style != "clean" else word).split()) for word in noisy]
        starts = [0, *accumulate(sizes)]
        captioner += blamed(record, broken, starts)
        speaker += blamed(record, slips, starts)
        text, changes = correct(captions, record)
        fixed = plain(texts(parse_captions(text, captions.name)))
        restored = 0
        # where each word of the good captions is found again in the corrected ones
        original: list[str] = []
        owner: list[int] = []
        for index, word in enumerate(good):
            if word == "&gt;&gt;":  # the sign of another speaker is no word of the captions
                continue
            before = len(original)
            joined = plain([*original[-1:], word])
            if original and len(joined) == 1 and len(original[-1]) == 1:
                original[-1] = joined[0]
            else:
                original += plain([word])
                owner += [index] * (len(original) - before)
        matcher = difflib.SequenceMatcher(None, original, fixed, autojunk=False)
        kept = set()
        for a, _, size in matcher.get_matching_blocks():
            kept.update(range(a, a + size))
        lost = [owner[index] for index in range(len(original)) if index not in kept]
        for first, last in broken:
            ok = not any(first <= index < last for index in lost)
            restored += ok
            if arguments.detail and not ok:
                print(f"    not restored: {' '.join(good[first:last])!r} as {' '.join(noisy[first:last])!r}")
        spans = [*broken, *slips]
        changed = sum(not any(first <= index < last for first, last in spans) for index in lost)
        words = len(good) - sum(last - first for first, last in broken)
        if arguments.detail:
            for change in changes:
                print(f"    {change.start / 1000:7.1f} {change.before!r} -> {change.after!r}")
        print(f"{file.stem}: {restored} of {len(broken)} moves restored; {changed} of {words} other words changed")
        all_broken, all_restored = all_broken + len(broken), all_restored + restored
        all_words, all_changed = all_words + words, all_changed + changed
    for name, blames in (("misheard moves", captioner), ("speakers' slips", speaker)):
        print(f"{name}, findings by cause: " + ", ".join(f"{cause} {count}" for cause, count in sorted(blames.items())))
    print(
        f"restored {all_restored / max(all_broken, 1):.3f} of {all_broken}; "
        f"changed {all_changed} of {all_words} other words (1 in {all_words / max(all_changed, 1):.0f})"
    )


if __name__ == "__main__":
    main()

"""Corrected captions: misheard moves spelt right, everything else byte for byte as it was.

Times, order, settings, markup and line ends stay; a spoken slip stays as said, and is marked where that is asked.
"""

from __future__ import annotations

import html
import re
from bisect import bisect_left
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import chess

from aligner.captions.naming import Meaning, meaning
from aligner.captions.reading import parse_captions
from aligner.captions.words import Captions, Span, Word
from aligner.errata.beside import beside
from aligner.errata.spelling import Part, again, broken, mended, misheard, misnamed, named_plainly, plural, whole
from aligner.errata.unheard import unheard
from aligner.record.model import Finding, Mention, Node, Record
from aligner.record.tree import Positions, by_id, positions
from aligner.speech.atoms import Atoms
from aligner.speech.lexicon import lexicon
from aligner.speech.listen import Speech, listen

SURE = 0.3
"""Confidence from which a word of the captions is changed."""
MOST_ROUNDS = 4
"""Times that captions are aligned again to see whether their correction has changed anything else."""

_EDGES = re.compile(r"^(\W*)(.*?)(\W*)$", re.DOTALL)
_TAGS = re.compile(r"<[^<>]*>")


@dataclass(frozen=True, slots=True)
class Change:
    """One place where the captions were changed.

    Attributes:
        start: milliseconds.
        words: half-open range of indices into the captions' words.
        before: the words as they were.
        after: the words as they are.
    """

    start: int
    words: tuple[int, int]
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Edit:
    """New texts of words, by index; "" takes a word out."""

    texts: tuple[tuple[int, str], ...]


def corrected(
    captions: Captions,
    align: Callable[[Captions], Record],
    *,
    spelling: str = "spoken",
    note_slips: bool = False,
    at_least: float = SURE,
) -> tuple[str, list[Change]]:
    """The captions put right, and what was changed; correcting the result again changes nothing.

    Args:
        captions: as read.
        align: makes the record of captions.
        spelling: "spoken" ("knight takes e5") or "symbols" ("Nxe5").
        note_slips: mark what the speaker misnamed with the move that was meant.
        at_least: confidence from which a word is changed.

    Raises:
        AlignerError: whatever `align` raises.
    """
    changes: list[Change] = []
    for _ in range(MOST_ROUNDS):
        text, more = correct(captions, align(captions), spelling=spelling, note_slips=note_slips, at_least=at_least)
        if not more:
            break
        changes += more
        captions = parse_captions(text, captions.name)
    return captions.source, sorted(changes, key=lambda change: change.start)


def correct(
    captions: Captions, record: Record, *, spelling: str = "spoken", note_slips: bool = False, at_least: float = SURE
) -> tuple[str, list[Change]]:
    """The captions put right as far as one record shows.

    Args: as for `corrected`, with the record of these very captions.
    """
    names = [game.headers.get(side, "") for game in record.games for side in ("White", "Black")]
    speech = listen(captions.words, names)
    atoms = speech.atoms()
    edits: dict[int, Edit] = {}
    for game in record.games:
        findings = {finding.words: finding for finding in game.findings if finding.meant.uci}
        boards, nodes = positions(game), by_id(game)
        spoken = [m for m in game.mentions if m.nodes and m.words[1] <= len(captions.words)]
        sure = [mention for mention in spoken if _sure(mention, nodes[mention.nodes[-1]].san) >= at_least]
        sure.sort(key=lambda mention: mention.words)
        covered = [mention.words for mention in sure]
        for mention in sure:
            finding = findings.get(mention.words)
            meanings = _meanings(mention, boards, nodes)
            start, end = map(speech.first_token, mention.words)
            place = bisect_left(covered, mention.words)
            bounds = (
                speech.first_token(covered[place - 1][1]) if place else 0,
                speech.first_token(covered[place + 1][0]) if place + 1 < len(covered) else len(speech.tokens),
            )
            parts = _parts(speech, atoms, start, end, bounds, meanings, finding, spelling)
            for part in parts:
                _put(edits, _edit(captions, speech, part))
            if not parts:
                for index, text in _mended(captions, mention, meanings):
                    _put(edits, Edit(((index, text),)))
            if note_slips and finding is not None and finding.cause == "speaker" and finding.confidence >= at_least:
                _put(edits, _note(captions, finding))
        for found in unheard(speech, atoms, game, sure):
            for part in found:
                _put(edits, _edit(captions, speech, part))
    return _apply(captions, edits)


def _sure(mention: Mention, san: str) -> float:
    """Confidence that the words name a move of this name, wherever in the tree it stands."""
    return mention.confidence + sum(rival.confidence for rival in mention.alternatives if rival.san == san)


def _meanings(mention: Mention, boards: Positions, nodes: Mapping[int, Node]) -> list[Meaning]:
    found = []
    for number in mention.nodes:
        node = nodes[number]
        if node.parent is not None and node.uci:
            found.append(meaning(boards[node.parent], chess.Move.from_uci(node.uci)))
    return found


def _parts(
    speech: Speech, atoms: Atoms, start: int, end: int, bounds: tuple[int, int], meanings: list[Meaning],
    finding: Finding | None, spelling: str,
) -> list[Part]:  # fmt: skip
    """What to write in place of tokens `start` up to `end`."""
    tokens = speech.tokens
    parts: list[Part] = []
    caption = finding is not None and finding.cause == "caption"
    for meant in meanings:
        parts += [part for part in misheard(tokens, atoms, start, end, meant, caption) if not _overlaps(part, parts)]
        parts += [part for part in broken(tokens, start, end, meant) if not _overlaps(part, parts)]
        if len(meanings) == 1:
            parts += [part for part in plural(tokens, atoms, start, end, meant) if not _overlaps(part, parts)]
    if len(meanings) == 1:
        taken = {part.slot for part in parts} | named_plainly(tokens, atoms, start, end, meanings[0])
        parts += beside(tokens, atoms, lexicon(), start, end, bounds, meanings[0], taken)
    if len(meanings) > 1:
        parts += [part for part in again(tokens, atoms, start, end, meanings) if not _overlaps(part, parts)]
    if caption and finding is not None and finding.kind != "garble" and meanings:
        parts += [p for p in misnamed(tokens, atoms, start, end, meanings[-1], finding.kind) if not _overlaps(p, parts)]
    if parts and spelling == "symbols" and len(meanings) == 1:
        first, last = min(start, *(p.start for p in parts), end), max(end, *(p.end for p in parts), start)
        one = whole(tokens, first, last, parts, atoms, meanings[0])
        if one is not None:
            return [one]
    return parts


def _overlaps(part: Part, others: list[Part]) -> bool:
    return any(part.start < other.end and other.start < part.end for other in others)


def _edit(captions: Captions, speech: Speech, part: Part) -> Edit | None:
    """A part as new texts of words; None where it shares a word with what is no part of it."""
    tokens, words = speech.tokens, captions.words
    first, last = tokens[part.start].word, tokens[part.end - 1].word
    if part.start and tokens[part.start - 1].word == first:
        return None
    if part.end < len(tokens) and tokens[part.end].word == last:
        return None
    lead, core, _ = _edges(words[first].text)
    tail = _edges(words[last].text)[2]
    text = part.text
    if core[:1].isupper() and part.slot != "whole":
        text = text[:1].upper() + text[1:]
    new = lead + text + tail
    texts = [(first, new), *((index, "") for index in range(first + 1, last + 1))]
    return Edit(tuple(texts)) if new != words[first].text or last > first else None


def _edges(text: str) -> tuple[str, str, str]:
    match = _EDGES.match(text)
    return (match[1], match[2], match[3]) if match else ("", text, "")


def _mended(captions: Captions, mention: Mention, meanings: list[Meaning]) -> list[tuple[int, str]]:
    found = []
    for index in range(*mention.words):
        lead, core, tail = _edges(captions.words[index].text)
        for meant in meanings:
            text = mended(core, meant)
            if text is not None and text != core:
                found.append((index, lead + text + tail))
                break
    return found


def _note(captions: Captions, finding: Finding) -> Edit | None:
    """The last word of a slip with the move that was meant in brackets; None where that stands there already."""
    last = finding.words[1] - 1
    following = captions.words[last + 1].text if last + 1 < len(captions.words) else ""
    if following.startswith("[") or "[" in captions.words[last].text or not finding.meant.san:
        return None
    lead, core, tail = _edges(captions.words[last].text)
    return Edit(((last, f"{lead}{core} [{finding.meant.san}]{tail}"),))


def _put(edits: dict[int, Edit], edit: Edit | None) -> None:
    if edit is not None and not any(index in edits for index, _ in edit.texts):
        edits.update((index, edit) for index, _ in edit.texts)


def _apply(captions: Captions, edits: dict[int, Edit]) -> tuple[str, list[Change]]:
    """The source with the edits made that can be made without harm to its markup."""
    made: list[tuple[Span, str]] = []
    changes: list[Change] = []
    for index in sorted(edits):
        edit = edits[index]
        if edit.texts[0][0] != index:
            continue
        places = _places(captions, edit)
        if places is None:
            continue
        made += places
        first, last = edit.texts[0][0], edit.texts[-1][0] + 1
        before = " ".join(word.text for word in captions.words[first:last])
        after = " ".join(text for _, text in edit.texts if text)
        changes.append(Change(captions.words[first].start, (first, last), before, after))
    source, at, parts = captions.source, 0, []
    for (start, end), text in sorted(made):
        parts += [source[at:start], text]
        at = end
    return "".join([*parts, source[at:]]), changes


def _places(captions: Captions, edit: Edit) -> list[tuple[Span, str]] | None:
    found: list[tuple[Span, str]] = []
    for index, text in edit.texts:
        word = captions.words[index]
        for span in (word.span, *word.echoes):
            place = _place(captions.source, word, span, text)
            if place is None:
                return None
            found.append(place)
    return found


def _place(source: str, word: Word, span: Span, text: str) -> tuple[Span, str] | None:
    """One span and its new text; None where the word's own markup, or an empty line, would come of it."""
    start, end = span
    raw = source[start:end]
    if raw != word.text:
        if html.unescape(raw) != word.text:
            return None
        text = html.escape(text, quote=False)
    if text:
        return span, text
    line_start = max(source.rfind("\n", 0, start), source.rfind("\r", 0, start)) + 1
    line_end = min((at for at in (source.find("\n", end), source.find("\r", end)) if at >= 0), default=len(source))
    if not _TAGS.sub("", source[line_start:start] + source[end:line_end]).strip():
        return None
    if start > line_start and source[start - 1] == " ":
        return (start - 1, end), ""
    return (start, end + 1 if source[end : end + 1] == " " else end), ""

"""The words of a talk in paragraphs, with the moves in them and the errata that belong to them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from aligner.page.places import Course, milliseconds
from aligner.page.text import printable, word_text
from aligner.record.model import Finding, Record, SpokenWord

PAUSE = 2000
"""Milliseconds of silence after which a paragraph may begin."""

FULL = 70
"""Words after which a paragraph ends with the next sentence."""

FULLEST = 140
"""Words after which a paragraph ends anywhere but inside a mention: captions may know no sentences."""

_FEW = 12
_SENTENCE_ENDS = (".", "?", "!", ".\u201d", '."', "?\u201d", '?"', "!\u201d", '!"')


@dataclass(frozen=True, slots=True)
class Run:
    """Words of one kind.

    Attributes:
        text: one space between two words, none at the ends.
        spoken: index of the mention they belong to; -1 for none.
        erratum: index of the erratum they belong to; -1 for none.
        noted: whether the erratum's sign follows them.
    """

    text: str
    spoken: int
    erratum: int
    noted: bool


@dataclass(frozen=True, slots=True)
class Erratum:
    """A finding where it is printed.

    Attributes:
        index: 0-based place among all.
        time: milliseconds.
        said: the words.
        message: one sentence.
        cause: "the speaker", "the captions" or "" where it is not sure.
        place: index of the position that was meant; -1 where none is known.
    """

    index: int
    time: int
    said: str
    message: str
    cause: str
    place: int


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph of the talk.

    Attributes:
        first: index of its first word.
        time: milliseconds at which it begins.
        speaker: name where it is another than before, else "".
        runs: its words.
        errata: that end in it.
    """

    first: int
    time: int
    speaker: str
    runs: tuple[Run, ...]
    errata: tuple[Erratum, ...]


def word_times(words: Sequence[SpokenWord]) -> list[int]:
    """Milliseconds at which each word begins, never falling."""
    times: list[int] = []
    latest = 0
    for word in words:
        latest = max(latest, milliseconds(word.start))
        times.append(latest)
    return times


def errata(record: Record, course: Course) -> tuple[Erratum, ...]:
    """All findings of a record, in order of games and times."""
    found: list[Erratum] = []
    for root, game in zip(course.roots, record.games, strict=True):
        index = {node.id: root + at for at, node in enumerate(game.nodes)}
        for finding in game.findings:
            place = -1 if finding.meant.node is None else index[finding.meant.node]
            cause = {"speaker": "the speaker", "caption": "the captions"}.get(finding.cause, "")
            said, message = printable(finding.said), printable(finding.message)
            found.append(Erratum(len(found), milliseconds(finding.start), said, message, cause, place))
    return tuple(found)


def paragraphs(record: Record, course: Course, notes: Sequence[Erratum]) -> Iterator[Paragraph]:
    """The talk in paragraphs: a new speaker, a pause or enough sentences begin one, never inside a mention.

    Args:
        record: the record.
        course: of the record.
        notes: `errata` of the record.
    """
    words = record.words
    spoken = [-1] * len(words)
    for number, mention in enumerate(course.spoken):
        _mark(spoken, mention.mention.words, number)
    findings: list[Finding] = [finding for game in record.games for finding in game.findings]
    marked = [-1] * len(words)
    for number, finding in enumerate(findings):
        _mark(marked, finding.words, number)
    # A finding whose words another one covers is printed all the same.
    last = [min(max(finding.words[1] - 1, finding.words[0]), len(words) - 1) for finding in findings]
    ends: dict[int, list[int]] = {}
    for number, word in enumerate(last):
        ends.setdefault(word, []).append(number)

    def joined(at: int) -> bool:
        before, here = at - 1, at
        return (spoken[here] >= 0 and spoken[before] == spoken[here]) or (
            marked[here] >= 0 and marked[before] == marked[here]
        )

    times = word_times(words)
    name = ""
    for first, after in _borders(words, joined):
        speaker = printable(words[first].speaker or "")
        runs = tuple(_runs(words, spoken, marked, ends, first, after))
        here = tuple(notes[number] for word in range(first, after) for number in ends.get(word, ()))
        yield Paragraph(first, times[first], speaker if speaker != name else "", runs, here)
        name = speaker


def _mark(row: list[int], span: tuple[int, int], number: int) -> None:
    for word in range(max(0, span[0]), min(span[1], len(row))):
        if row[word] < 0:
            row[word] = number


def _borders(words: Sequence[SpokenWord], joined: Callable[[int], bool]) -> Iterator[tuple[int, int]]:
    first = 0
    for at in range(1, len(words)):
        before, here, length = words[at - 1], words[at], at - first
        ends = before.text.endswith(_SENTENCE_ENDS)
        if before.speaker == here.speaker and (
            joined(at)
            or length < _FEW
            or not (
                (ends and (length >= FULL or milliseconds(here.start) - milliseconds(before.end) >= PAUSE))
                or length >= FULLEST
            )
        ):
            continue
        yield first, at
        first = at
    if words:
        yield first, len(words)


def _runs(
    words: Sequence[SpokenWord],
    spoken: Sequence[int],
    marked: Sequence[int],
    ends: dict[int, list[int]],
    first: int,
    after: int,
) -> Iterator[Run]:
    start = first
    for at in range(first, after):
        closes = at + 1 == after or at in ends or (spoken[at], marked[at]) != (spoken[at + 1], marked[at + 1])
        if closes:
            text = " ".join(word_text(word.text) for word in words[start : at + 1])
            erratum = ends[at][-1] if at in ends else marked[at]
            yield Run(text, spoken[at], erratum, at in ends)
            start = at + 1

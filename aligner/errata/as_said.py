"""Slips that are none, as the words name another move just as they stand: "bishop takes d5? Queen takes"."""

from __future__ import annotations

from aligner.errata.discussion import Discussion
from aligner.errata.playable import can_be_played
from aligner.record.model import Finding
from aligner.speech.description import Description
from aligner.speech.listen import Speech

_AT_ONCE = 3
"""Words between a move and its answer, where the two are told as a line."""


def told_as_said(finding: Finding, speech: Speech, discussion: Discussion) -> bool:
    """Whether a move that could be played is answered at once, and not as it was in the game.

    Then a line was shown that the record has no place for, and nothing was misnamed.
    """
    node = discussion.nodes.get(finding.meant.node) if finding.meant.node is not None else None
    following = discussion.next(finding.words[0])
    if finding.kind == "garble" or node is None or node.parent is None or following is None:
        return False
    after = discussion.nodes[following.nodes[0]]
    if after.main or after.parent != node.id or following.words[0] - finding.words[1] > _AT_ONCE:
        return False
    said = _description(finding, speech)
    return said is not None and can_be_played(discussion.boards[node.parent], said)


def _description(finding: Finding, speech: Speech) -> Description | None:
    """What the finding's words say of a move, in the reading that takes nothing for granted."""
    start = speech.first_token(finding.words[0])
    for stretch in speech.stretches:
        if stretch.start == start:
            for phrase in (spoken.phrase for spoken in stretch.spoken):
                if speech.span(phrase) == finding.words and len(phrase.moves) == 1 and not phrase.terms:
                    return phrase.moves[0]
    return None

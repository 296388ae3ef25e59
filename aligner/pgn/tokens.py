"""The tokens of PGN movetext and tag pairs (PGN standard, 5 to 8), line by line, sidelines and comments left out."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from aligner.errors import ScoreError

_TAG = re.compile(r'\[\s*([A-Za-z0-9][A-Za-z0-9_+#=:-]*)\s*"((?:[^"\\]|\\.)*)"\s*\]')
# Values with a bare quote or a lone backslash in them are common in hand-made files.
_CARELESS_TAG = re.compile(r'\[\s*([A-Za-z0-9][A-Za-z0-9_+#=:-]*)\s*"(.*)"\s*\]\s*$')
_TAG_LINE = re.compile(r'\[\s*[A-Za-z0-9_]+\s+".*"\s*\]\s*$')
_ESCAPED = re.compile(r'\\(["\\])')
_TOKEN = re.compile(
    r"""
    (?P<result>1-0|0-1|1/2-1/2|½-½|1/2(?![\d/-])|\*)
    |(?P<null>--|Z0|0000|@@@@)
    |(?P<number>[0-9]+(?=[\s.A-Za-z]|$))
    |(?P<passed>\s+|e\.p\.?|\.+|…|\$[0-9]*|[!?]+|[-+=<>/±∓∞⩲⩱□⇄→↑⟳N](?![\w])(?:[-+=/]*))
    |(?P<open>\()
    |(?P<close>\))
    |(?P<brace>\{)
    |(?P<rest>;)
    |(?P<tag>\[)
    |(?P<move>(?:(?!e\.p)[^\s(){}\[\];$!?.*])+)
    """,
    re.VERBOSE,
)
# What matters inside a sideline: where it ends, and comments, in which brackets mean nothing.
_IN_SIDELINE = re.compile(r"[(){;]")


@dataclass(frozen=True, slots=True)
class Token:
    """One token outside sidelines and comments.

    Attributes:
        kind: "tag", "move", "number", "null", "result" or "blank" (an empty line).
        text: as in the file; the value of a tag pair, unescaped.
        line: 1-based line of the file.
        name: of a tag pair, else "".
    """

    kind: str
    text: str
    line: int
    name: str = ""


def tokens(lines: Iterable[str], name: str) -> Iterator[Token]:
    """The tokens of a PGN file.

    Args:
        lines: of the file, with or without their ends; read one at a time.
        name: what to call the file in a message.

    Raises:
        ScoreError: a comment that never ends, or a tag pair that cannot be read.
    """
    depth = 0
    comment_from = 0
    for number, line in enumerate(lines, start=1):
        at = 0
        if comment_from:
            at = line.find("}") + 1
            if not at:
                continue
            comment_from = 0
        elif line.startswith("%"):
            # PGN standard, 6: the escape mechanism.
            continue
        elif not line.strip():
            yield Token("blank", "", number)
            continue
        elif depth and line.startswith("[") and _TAG_LINE.match(line):
            # A sideline that was never closed ends with its game.
            depth = 0
        while at < len(line):
            match = (_IN_SIDELINE.search if depth else _TOKEN.match)(line, at)
            if match is None:
                if depth:
                    break
                at += 1
                continue
            at = match.end()
            kind = match.lastgroup or match.group()
            if kind in ("rest", ";"):
                break
            if kind in ("brace", "{"):
                at = line.find("}", at) + 1
                if not at:
                    comment_from = number
                    break
            elif kind in ("open", "("):
                depth += 1
            elif kind in ("close", ")"):
                depth = max(0, depth - 1)
            elif kind == "tag":
                token, at = _tag(line, match.start(), number, name)
                yield token
            elif kind != "passed":
                yield Token(kind, match.group(), number)
    if comment_from:
        raise ScoreError(
            "the comment that begins here with '{' is never closed; put a '}' where it ends.",
            f"{name}, line {comment_from}",
        )


def _tag(line: str, at: int, number: int, name: str) -> tuple[Token, int]:
    match = _TAG.match(line, at) or _CARELESS_TAG.match(line, at)
    if match is None:
        raise ScoreError(
            'this tag pair cannot be read; one looks like [White "Name"], on one line.', f"{name}, line {number}"
        )
    return Token("tag", _ESCAPED.sub(r"\1", match.group(2)), number, match.group(1)), match.end()

"""Text made fit for PGN: comments that cannot be left, header values, media times, lines of movetext."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

RESULTS = ("1-0", "0-1", "1/2-1/2", "*")
"""The game termination markers: PGN standard, 8.2.6."""

WIDTH = 79
"""Characters in a line of movetext: PGN standard, 8.2.1, "less than 80 printing characters"."""

# Control characters (C0, DEL, C1), line and paragraph separators, byte order marks, halves of surrogate pairs.
_UNPRINTABLE = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\ufeff\ud800-\udfff]")
_BEFORE_PERCENT = re.compile(r"\s+(?=%)")
_COMMAND = re.compile(r"\[%([^\[\]]*)\]")
_TAG_NAME = re.compile(r"[^A-Za-z0-9_]")


def comment_text(text: str) -> str:
    """Text as it may stand in a brace comment, on one line, single spaces between its words.

    Braces become parentheses, for a comment has no way to hold a closing brace (PGN standard, 5). A `%` clings to
    the word before it, so that no line can begin with one (6). `[%name ...]` becomes `(%name ...)`, so that
    nobody's words are taken for a command.
    """
    words = _UNPRINTABLE.sub(" ", text).replace("{", "(").replace("}", ")").split()
    joined = _BEFORE_PERCENT.sub("", " ".join(words))
    return _COMMAND.sub(r"(%\1)", joined).replace("[%", "(%")


def tag_name(name: str) -> str:
    """A tag name of letters, digits and underscores (PGN standard, 8.1); "" where nothing is left."""
    return _TAG_NAME.sub("", name).lstrip("_")


def tag_value(value: str) -> str:
    """What of a tag's value can be printed."""
    return " ".join(_UNPRINTABLE.sub(" ", value).split())


def tag_pair(name: str, value: str) -> str:
    """One tag pair in export format; quotes and backslashes escaped (PGN standard, 7.1 and 8.1)."""
    escaped = tag_value(value).replace("\\", "\\\\").replace('"', '\\"')
    return f'[{name} "{escaped}"]'


def media_command(start: float, end: float) -> str:
    """The command for one mention: a temporal fragment of W3C Media Fragments URI 1.0 (4.2.1), in seconds.

    An end that does not follow the start makes a fragment invalid, so a mention lasts at least a millisecond.
    "" where a time is not finite.
    """
    if not (math.isfinite(start) and math.isfinite(end)):
        return ""
    first = max(0, round(start * 1000))
    return f"[%media t={seconds(first)},{seconds(max(first + 1, round(end * 1000)))}]"


def seconds(milliseconds: int) -> str:
    """Whole milliseconds as seconds, with no more decimals than they need: 12.4, 13."""
    whole, thousandths = divmod(milliseconds, 1000)
    return f"{whole}.{thousandths:03}".rstrip("0").rstrip(".")


def comment_tokens(commands: Iterable[str], text: str) -> list[str]:
    """A brace comment as tokens between which a line may break; [] for a comment with nothing in it.

    The braces cling to what they enclose. A word that begins with a percent sign clings to the word before it, for
    a line must not begin with one (PGN standard, 6); so does, where both fit in a line, one that begins with a
    bracket, for such a line looks like a tag pair.
    """
    words = [*commands]
    for word in comment_text(text).split():
        # Only the first word of the text may begin with a percent sign.
        if word.startswith("%") and words:
            words[-1] += f" {word}"
        else:
            words.append(word)
    tokens: list[str] = []
    for word in words:
        if word.startswith("[") and tokens and len(tokens[-1]) + len(word) < WIDTH - 4:
            tokens[-1] += f" {word}"
        else:
            tokens.append(word)
    if tokens:
        tokens[0] = "{ " + tokens[0]
        tokens[-1] += " }"
    return tokens


def justified(tokens: Iterable[str]) -> str:
    """Tokens in lines as full as they can be, one space between two tokens (PGN standard, 8.2.1)."""
    lines: list[str] = []
    line = ""
    for token in tokens:
        if not line:
            line = token
        elif len(line) + 1 + len(token) <= WIDTH:
            line += f" {token}"
        else:
            lines.append(line)
            line = token
    lines.append(line)
    return "\n".join(lines)

"""Damage as files suffer it: cut, doubled, swapped, overwritten, spliced; always the same for the same seed."""

from __future__ import annotations

import random

PIECES = (
    b"\x00", b"\xff", b"\xc3", b"\xef\xbb\xbf", b"\r", b"\n\n", b"\r\n", b"\t", b" " * 50, b"-->", b" --> ", b"<",
    b">", b"00:00:01.000", b"</c>", b"<c.yellow>", b"<00:00:01.000>", b"&amp;", b"&#0;", b"&lrm;", b"WEBVTT",
    b"NOTE ", b"STYLE\n", b"99:99:99.999", b"-1", b"1" * 400, b"[0:00]", b"[99:99:99]", b"{", b"}", b"(", b")",
    b"((((", b"$255", b"$-1", b";", b"%", b'"', b"\\", b"[FEN \"", b"[Event \"x\"]\n", b"1-0", b"*", b"...",
    b"O-O-O", b"e8=Q", b"e4", b"Nf3", b"knight f3", b"castles", b"takes takes takes", b"\xe2\x80\xae",
    b"\xf0\x9f\x99\x82", b"\xed\xa0\x80", b"\x1b[2J", b"\xe2\x80\xa8",
)  # fmt: skip
"""What confuses readers of captions and of PGN."""


def mutated(data: bytes, source: random.Random, others: tuple[bytes, ...] = ()) -> bytes:
    """The bytes after one to four accidents."""
    for _ in range(source.randint(1, 4)):
        at, past = sorted((source.randrange(len(data) + 1), source.randrange(len(data) + 1)))
        past = min(past, at + source.choice((1, 4, 40, 4000)))
        kind = source.randrange(9)
        if kind == 0:
            data = data[:at] + data[past:]
        elif kind == 1:
            data = data[:at] + data[at:past] * source.choice((2, 2, 50)) + data[past:]
        elif kind == 2:
            data = data[:at] + source.choice(PIECES) + data[past:]
        elif kind == 3:
            data = data[:at] + source.choice(PIECES) * source.choice((1, 1, 30)) + data[at:]
        elif kind == 4:
            data = data[:at] + bytes(source.randrange(256) for _ in range(past - at)) + data[past:]
        elif kind == 5:
            lines = data.split(b"\n")
            one, other = source.randrange(len(lines)), source.randrange(len(lines))
            lines[one], lines[other] = lines[other], lines[one]
            data = b"\n".join(lines)
        elif kind == 6:
            data = data[:at]
        elif kind == 7 and others:
            other = source.choice(others)
            data = data[:at] + other[source.randrange(len(other) + 1) :]
        elif at < len(data):
            data = data[:at] + bytes([data[at] ^ (1 << source.randrange(8))]) + data[at + 1 :]
    return data[:40_000]

"""Whole files, invented, that damage begins from: every kind of captions, and scores."""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
_FOLDER = ROOT / "fixtures/captions"

CAPTIONS: tuple[bytes, ...] = tuple(
    path.read_bytes()[:1500] for path in sorted(_FOLDER.iterdir()) if path.suffix in (".vtt", ".srt", ".sbv", ".txt")
)

SCORES: tuple[bytes, ...] = (
    b'[Event "Lantern Quay"]\n[White "Wren, T."]\n[Black "Osei, A."]\n[Result "1-0"]\n\n'
    b"1. e4 {best by test} e5 2. Nf3 (2. f4 exf4 (2... d5 $1 3. exd5) 3. Nf3) 2... Nc6 $6 3. Bb5 a6 4. Bxc6 dxc6\n"
    b"5. O-O f6 ; to the end of the line\n6. d4 exd4 7. Nxd4 c5 8. Nb3 Qxd1 9. Rxd1 1-0\n",
    b'[SetUp "1"]\n[FEN "8/P6k/8/8/8/8/7K/8 w - - 0 1"]\n\n1. a8=Q Kg6 2. Qe4+ *\n\n[Event "two"]\n\n1. d4 d5 *\n',
)

SHORT_TALK = (
    b"WEBVTT\n\n00:01.000 --> 00:04.000\nwhite begins with e4, black answers e5\n\n"
    b"00:05.000 --> 00:09.000\nknight f3 knight c6 and bishop b5, <c>not</c> bishop c4\n\n"
    b"00:10.000 --> 00:12.000\n<v Tobias>a6, bishop takes, d takes c6 &amp; castles\n"
)

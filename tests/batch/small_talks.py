"""Invented talks of a few moves, told apart by a number, and what a worker does with talks that misbehave."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

from aligner.batch.work import Outcome, Task, work

SAID = (
    "welcome to the Lantern Quay club, this is talk {number}",
    "white begins with e4 and black answers e5",
    "knight f3, knight c6",
    "and now bishop b5, the old move",
    "black plays a6 and the bishop goes back, bishop a4",
)
SCORE = """[Event "Invented"]
[White "Wren, T."]
[Black "Osei, {number}"]
[Result "*"]

1. e4 e5 2. Nf3 Nc6 3. Bb5 a6 4. Ba4 Nf6 5. O-O *
"""


def captions(number: int = 0) -> str:
    cues = [
        f"00:00:{4 * at:02d}.000 --> 00:00:{4 * at + 3:02d}.500\n{line.format(number=number)}"
        for at, line in enumerate(SAID)
    ]
    return "WEBVTT\n\n" + "\n\n".join(cues) + "\n"


def write_talks(folder: Path, number: int, *, scores: bool = True) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for at in range(number):
        (folder / f"talk-{at:03d}.vtt").write_text(captions(at), encoding="utf-8")
        if scores:
            (folder / f"talk-{at:03d}.pgn").write_text(SCORE.format(number=at), encoding="utf-8")


BAD = {
    "empty.vtt": b"",
    "no-captions.txt": b"just prose, no times\n",
    "recording.srt": b"\x00\x01\x02\x03" * 50,
    "header-only.vtt": b"WEBVTT\n\n",
    "no-game.sbv": b"0:00:01.000,0:00:02.000\nlovely weather today\n",
}
"""Files that cannot be aligned, each for another reason."""


def write_bad(folder: Path) -> None:
    for name, data in BAD.items():
        (folder / name).write_bytes(data)


def quick(task: Task, database: object) -> Outcome:
    """Work that takes no time: the record is a word."""
    return Outcome(task.name, task.key, "done", texts={"json": f"{task.name}\n"})


def deadly(task: Task, database: object) -> Outcome:
    """Some talks kill the process they are worked on in, some hang."""
    if "kill" in task.name:
        os.kill(os.getpid(), signal.SIGKILL)
    if "once" in task.name and not os.path.exists(task.path):
        Path(task.path).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    if "hang" in task.name:
        time.sleep(60)
    return quick(task, database)


def true_work(task: Task, database: object) -> Outcome:
    """The program's own work."""
    return work(task)

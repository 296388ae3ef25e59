"""SIGKILL at any moment: no decision that was answered is lost, and no file is half-written."""

from __future__ import annotations

import http.client
import json
import os
import random
import signal
import threading
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from aligner.desk.opening import open_talk
from aligner.desk.serving import serve
from aligner.pins.sidecar import read_pins, sidecar_of, tidy

ROUNDS = 100
SEED = 6


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_a_hundred_crashes_lose_nothing(captions: Path) -> None:
    talk = open_talk(captions, captions.with_suffix(".pgn"))
    count = len(talk.alignment.speech.words)
    chance = random.Random(SEED)
    expected: dict[int, str] = {}
    doubtful: tuple[int, str | None] | None = None
    crashed_while_deciding = 0
    for round_number in range(ROUNDS):
        found = {_word(pin.anchor.at, talk): pin.decision for pin in read_pins(sidecar_of(captions))}
        if doubtful is not None:
            # the decision on the way when it crashed is there or not, whole in either case
            word, decision = doubtful
            if found.get(word) == decision:
                expected[word] = found[word]
        assert found == expected, f"round {round_number}"
        tidy(captions)  # as every desk does when it begins
        names = {path.name for path in captions.parent.iterdir()}
        assert names <= {"evening.vtt", "evening.pgn", "evening.settled.toml"}
        talk.pins = read_pins(talk.sidecar)
        address, process = _start(talk)
        timer = threading.Timer(chance.uniform(0.0, 0.12), os.kill, (process, signal.SIGKILL))
        timer.start()
        doubtful = None
        parts = urlsplit(address)
        headers = {"Origin": f"http://{parts.netloc}", "Content-Type": "application/json"}
        connection = http.client.HTTPConnection(parts.hostname or "", parts.port or 0, timeout=10)
        try:
            while True:
                word, decision = chance.randrange(count), chance.choice(("no move", "back in the game"))
                # one place has one kind of decision here, so that what replaces what is plain
                decision = "no move" if word % 2 else "back in the game"
                doubtful = (word, decision)
                data = {"first": word, "past": word + 1, "decision": decision}
                connection.request("POST", f"{parts.path}decide", json.dumps(data), headers)
                if json.loads(connection.getresponse().read()).get("settled"):
                    expected[word] = decision
                    doubtful = None
        except (OSError, http.client.HTTPException, ValueError):
            crashed_while_deciding += doubtful is not None
        timer.join()
        os.waitpid(process, 0)
    assert crashed_while_deciding > ROUNDS // 2


def _word(at: int, talk: object) -> int:
    words = talk.alignment.speech.words  # type: ignore[attr-defined]
    return next(index for index, word in enumerate(words) if word.start == at)


def _start(talk: object) -> tuple[str, int]:
    """The desk in a fork of this process, so that a hundred starts take seconds."""
    reading, writing = os.pipe()
    process = os.fork()
    if process == 0:
        try:
            os.close(reading)

            def opened(address: str) -> None:
                os.write(writing, address.encode())
                os.close(writing)

            serve(talk, None, 0, lambda done: "", opened)  # type: ignore[arg-type]
        finally:
            os._exit(0)
    os.close(writing)
    with open(reading, encoding="ascii") as pipe:
        address = pipe.read()
    assert address
    return address, process

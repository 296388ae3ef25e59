#!/usr/bin/env python3
"""Speaks as much UCI as the tests need, and thinks what the environment says.

FAKE_ENGINE_LIKES: moves that are worth nothing lost; every other is worth nine pawns less.
FAKE_ENGINE_FAULT: "silent" never answers "go", "dies" ends at "go", "mute" says nothing at all.
FAKE_ENGINE_ALONE: where it is set, the engine has no MultiPV and tells of one move.
FAKE_ENGINE_LOG: a file that gets every line the engine is told.
"""

import os
import sys

likes = os.environ.get("FAKE_ENGINE_LIKES", "").split()
fault = os.environ.get("FAKE_ENGINE_FAULT", "")
alone = "FAKE_ENGINE_ALONE" in os.environ
log = os.environ.get("FAKE_ENGINE_LOG", "")


def say(line: str) -> None:
    print(line, flush=True)


for line in sys.stdin:
    if log:
        with open(log, "a", encoding="utf-8") as file:
            file.write(line)
    words = line.split()
    command = words[0] if words else ""
    if fault == "mute":
        continue
    if command == "uci":
        say("id name a fake of the tests")
        if not alone:
            say("option name MultiPV type spin default 1 min 1 max 500")
        say("uciok")
    elif command == "isready":
        say("readyok")
    elif command == "go" and fault == "dies":
        sys.exit(3)
    elif command == "go" and fault != "silent":
        moves = words[words.index("searchmoves") + 1 :] if "searchmoves" in words else ["0000"]
        moves.sort(key=lambda move: move not in likes)
        for place, move in enumerate(moves[: 1 if alone else None], 1):
            number = "" if alone else f" multipv {place}"
            say(f"info depth 1{number} score cp {20 if move in likes else -880} pv {move}")
        say(f"bestmove {moves[0]}")
    elif command == "quit":
        break

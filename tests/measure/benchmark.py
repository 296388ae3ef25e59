"""Speed and memory on invented talks: `python tests/measure/benchmark.py [--without-score] [--seed N] [--longer N]`.

Prints figures and asserts nothing. The talk is generated: a long legal game of moves drawn at random with a fixed seed
(pieces move about, captures are rare, so that the board stays full), told in plain words with sidelines and ordinary
talk between: 20 minutes, about 3,000 words and 300 mentions. "Ten times longer" is a game and a talk of ten times that
length by the same rules. Such moves fit more places than a real game's, so this is a hard talk of its length. Seconds
of the processor stand in brackets: on a machine with other work only they can be compared.
"""

from __future__ import annotations

import argparse
import random
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import chess
import chess.pgn

WORDS, MENTIONS, SECONDS = 3000, 300, 1200
_NAMES = {"K": "king", "Q": "queen", "R": "rook", "B": "bishop", "N": "knight"}
_TALK = """The crowd has gone very quiet by now. Somebody opens a window and the clocks tick on. She takes a long sip
of tea first. You can see from his face that he had not looked at this at home. I was sitting in the third row and could
not believe my eyes. Nobody spoke. It looks natural, and it is what most of us would do on a Sunday afternoon. Both of
them were using a lot of time here. There is tension in the centre and nobody wants to be the one who gives way. The
pieces are all looking at each other. My old trainer used to say that patience wins more games than courage. That was a
good decision, I think. It is roughly equal. The dark squares are a little weak and the king is not entirely safe."""
_ON = ("", "", "", "And now", "Then", "He plays", "She answered with", "So", "Here came", "Black goes")
_ASIDE = ("What if", "Instead", "Why not", "Better was", "Suppose")
_BACK = ("But back to the game.", "That is not what happened.", "Okay.", "In the game", "")


@dataclass(frozen=True, slots=True)
class Material:
    """A talk in WebVTT, the game's score, and how much of it there is."""

    captions: str
    score: str
    words: int
    mentions: int
    seconds: float


def said(san: str) -> str:
    """A move in SAN as it is read aloud."""
    plain = san.rstrip("+#")
    if plain.startswith("O-O"):
        return "castles queenside" if plain == "O-O-O" else "castles kingside"
    plain, _, promoted = plain.partition("=")
    piece = _NAMES.get(plain[0], "")
    origin = plain[1 if piece else 0 : -2].rstrip("x")
    parts = [piece, origin, "takes" if "x" in plain else "", plain[-2:]]
    parts += ["equals", _NAMES[promoted]] if promoted else []
    return " ".join(part for part in [*parts, "check" if san[-1] in "+#" else ""] if part)


def next_move(board: chess.Board, chance: random.Random, quiet: bool) -> chess.Move:
    """A legal move after which the game goes on; a capture or a pawn's move only now and then."""
    moves = sorted(board.legal_moves, key=chess.Move.uci)
    calm = [move for move in moves if not board.is_zeroing(move)]
    chosen = calm if calm and (quiet or chance.random() < 0.9) else moves
    for move in chance.sample(chosen, len(chosen)) + moves:
        board.push(move)
        over = not any(board.legal_moves)
        board.pop()
        if not over:
            return move
    raise SystemExit("the drawn game ended too soon; choose another --seed")


def material(words: int, seed: int) -> Material:
    """A talk of about so many words, and its game."""
    chance = random.Random(seed)
    sentences = [sentence.strip() + "." for sentence in " ".join(_TALK.split()).split(".") if sentence.strip()]
    mentions_wanted = words * MENTIONS // WORDS
    plies = mentions_wanted * 6 // 10
    game = chess.pgn.Game({"Event": "Invented", "White": "Marl", "Black": "Fenn", "Result": "*"})
    node: chess.pgn.GameNode = game
    board = chess.Board()
    spoken: list[str] = []
    mentions = 0
    for ply in range(plies):
        move = next_move(board, chance, quiet=ply > 30 and ply % 12 != 0)
        san = board.san(move)
        if mentions < mentions_wanted and chance.random() < 0.2 and ply:
            aside = board.copy(stack=False)
            spoken.append(chance.choice(_ASIDE))
            for _ in range(chance.randint(2, 4)):
                other = next_move(aside, chance, quiet=False)
                spoken.append(f"{said(aside.san(other))},")
                aside.push(other)
                mentions += 1
            spoken.append(f"and so on. {chance.choice(_BACK)}")
        spoken.append(f"{chance.choice(_ON)} {said(san)}.")
        mentions += 1
        board.push(move)
        node = node.add_variation(move)
        total = sum(len(part.split()) for part in spoken)
        while total < words * (ply + 1) // plies:
            spoken.append(chance.choice(sentences))
            total += len(spoken[-1].split())
    text = " ".join(spoken).split()
    step = SECONDS / WORDS
    cues = [text[at : at + 12] for at in range(0, len(text), 12)]
    lines = ["WEBVTT\n"]
    for number, cue in enumerate(cues):
        start = number * 12 * step
        lines.append(f"{clock(start)} --> {clock(start + len(cue) * step)}\n{' '.join(cue)}\n")
    return Material("\n".join(lines), f"{game}\n", len(text), mentions, len(text) * step)


def clock(seconds: float) -> str:
    """hh:mm:ss.ttt, as WebVTT writes it."""
    whole = round(seconds * 1000)
    return f"{whole // 3600000:02}:{whole // 60000 % 60:02}:{whole // 1000 % 60:02}.{whole % 1000:03}"


def run(arguments: list[str]) -> tuple[float, float, float]:
    """A process of its own: (seconds by the clock, of the processor, peak memory in MB of all processes so far)."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    began = time.perf_counter()
    done = subprocess.run([sys.executable, *arguments], capture_output=True, text=True, check=False)
    took = time.perf_counter() - began
    if done.returncode:
        raise SystemExit(done.stderr)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return took, used, after.ru_maxrss / 1024


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--without-score", action="store_true", help="the talk alone, without the game's score")
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--longer", type=int, default=10, help="how many times longer the long talk is; 0 for none")
    options = parser.parse_args()

    for what, code in (
        ("python alone", "pass"),
        ("with chess", "import chess"),
        ("with the pipeline", "import aligner.pipeline"),
        ("with spaCy and the lexicon", "from aligner.speech.lexicon import lexicon; lexicon()"),
    ):
        took, used, _ = run(["-c", code])
        print(f"start, {what}: {took:.2f} s ({used:.2f} s of the processor)")

    from aligner.captions import parse_captions
    from aligner.pgn.reader import parse_scores
    from aligner.pipeline import align

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        warm: list[float] = []
        align(parse_captions("WEBVTT\n\n00:00.000 --> 00:01.000\ne4 e5\n", "warm.vtt"))
        for times in (1, options.longer) if options.longer else (1,):
            talk = material(WORDS * times, options.seed)
            captions, score = folder / f"talk{times}.vtt", folder / f"game{times}.pgn"
            captions.write_text(talk.captions, encoding="utf-8")
            score.write_text(talk.score, encoding="utf-8")
            given = [] if options.without_score else ["--game", str(score)]
            outputs = ["-o", str(folder / f"out{times}.pgn"), "--json", str(folder / f"out{times}.json"), "--quiet"]
            took, used, memory = run(["-m", "aligner", "align", str(captions), *given, *outputs])
            read = parse_captions(talk.captions, captions.name)
            scores = () if options.without_score else parse_scores(talk.score, score.name)
            began, begun = time.perf_counter(), time.process_time()
            record = align(read, scores)
            again, warm_used = time.perf_counter() - began, time.process_time() - begun
            warm.append(warm_used)
            found = len(record.games[0].mentions)
            print(f"{talk.seconds / 60:.0f} minutes, {talk.words} words, {talk.mentions} mentions told, {found} found:")
            print(f"  process {took:.2f} s ({used:.2f}), warm {again:.2f} s ({warm_used:.2f}), memory {memory:.0f} MB")
        if len(warm) == 2:
            print(f"{options.longer} times longer takes {warm[1] / warm[0]:.1f} times as long")


if __name__ == "__main__":
    main()

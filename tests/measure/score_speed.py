"""Measures how a talk's score is found among many games, and prints it beside what it should reach.

    python tests/measure/score_speed.py [--games 100000] [--talks 100] [--folder DIR]

The games are invented (archive.py): half of them begin like another game of the file, for up to 40 plies. The talks
name 70 in 100 of their game's moves, leave the others out, and show other moves in between; as many talks are about
games that are not in the file. A talk is heard first (`listen`), which is timed by itself.
"""

from __future__ import annotations

import argparse
import os
import random
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from functools import lru_cache
from pathlib import Path

import chess

sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parents[2])]
from archive import spoken

from aligner.captions.words import Word
from aligner.catalogue.scores import which_score
from aligner.catalogue.scores_index import open_index
from aligner.pgn.score import Score
from aligner.speech.listen import Speech, listen


@lru_cache(maxsize=2)
def invented_score(seed: int) -> Score:
    """A game; every second one begins like the game before it."""
    draw = random.Random(seed)
    board = chess.Board()
    moves: list[str] = []
    if seed % 2:
        shared = invented_score(seed - 1).moves[: draw.randint(4, 40)]
        for uci in shared:
            board.push_uci(uci)
            moves.append(uci)
    for _ in range(draw.randint(40, 110)):
        move = _any_move(board, draw)
        if move is None:
            break
        moves.append(move.uci())
        board.push(move)
    headers = {"White": f"Player {seed}", "Black": f"Player {seed + 1}", "Round": str(seed), "Result": "*"}
    return Score(chess.STARTING_FEN, tuple(moves), headers, seed + 1)


def _any_move(board: chess.Board, draw: random.Random) -> chess.Move | None:
    """A legal move of a piece drawn at random, half of the time a capture if it has one; quickly found."""
    own = list(chess.scan_forward(board.occupied_co[board.turn]))
    draw.shuffle(own)
    for square in own:
        moves = list(board.generate_pseudo_legal_moves(chess.BB_SQUARES[square]))
        draw.shuffle(moves)
        if draw.random() < 0.5:
            moves.sort(key=lambda move: not board.occupied >> move.to_square & 1)
        for move in moves:
            if board.is_legal(move):
                return move
    return None


def as_text(seed: int) -> str:
    """The game as PGN, each move with its square of departure (more than PGN asks for, and easier to write)."""
    score = invented_score(seed)
    board = chess.Board()
    words = [f'[{tag} "{value}"]\n' for tag, value in score.headers.items()] + ["\n"]
    for number, uci in enumerate(score.moves):
        move = chess.Move.from_uci(uci)
        if number % 2 == 0:
            words.append(f"{number // 2 + 1}. ")
        piece = board.piece_type_at(move.from_square) or chess.PAWN
        if board.is_castling(move):
            words.append("O-O " if chess.square_file(move.to_square) > 4 else "O-O-O ")
        else:
            letter = "" if piece == chess.PAWN else chess.PIECE_SYMBOLS[piece].upper()
            words.append(f"{letter}{uci[:2]}{uci[2:4]}{'=' + uci[4].upper() if uci[4:] else ''} ")
        board.push(move)
    return "".join(words) + "*\n\n"


def talk_about(score: Score, seed: int) -> list[Word]:
    """A talk about a game."""
    draw = random.Random(seed)
    board = chess.Board(score.start_fen)
    texts: list[str] = []
    for uci in score.moves:
        move = chess.Move.from_uci(uci)
        if draw.random() < 0.2:
            for _ in range(draw.randint(1, 3)):
                texts += ["or", *spoken(board, draw.choice(list(board.legal_moves))).split()]
        if draw.random() < 0.7:
            texts += spoken(board, move).split()
            texts += draw.choice(["and then", "of course", "a natural move", "so", "which I like", ""]).split()
        board.push(move)
    return [Word(text, 400 * number, 400 * number + 300, 0) for number, text in enumerate(texts)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--games", type=int, default=100_000)
    parser.add_argument("--talks", type=int, default=100)
    parser.add_argument("--folder", type=Path)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=options.folder) as name:
        measure(Path(name), options.games, options.talks)


def measure(folder: Path, games: int, talks: int) -> None:
    print(f"load of the machine at the beginning: {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
    database = folder / "games.pgn"
    with ProcessPoolExecutor(os.cpu_count()) as pool, database.open("w", encoding="utf-8") as file:
        for text in pool.map(as_text, range(games), chunksize=100):
            file.write(text)
    start = time.perf_counter()
    index = open_index(database, folder)
    size = sum(path.stat().st_size for path in folder.glob("scores-*.sqlite"))
    print(
        f"index of {index.games:,} games made in {time.perf_counter() - start:.0f} s, "
        f"{size / index.games:.0f} bytes a game"
    )
    draw = random.Random(1)
    right = wrong = refused = 0
    seconds: list[float] = []
    own: list[float] = []
    hearing: list[float] = []
    for number in range(talks):
        seed = draw.randrange(games)
        speech = timed_listen(talk_about(invented_score(seed), number), hearing)
        start, busy = time.perf_counter(), time.process_time()
        found = which_score(speech, index)
        seconds.append(time.perf_counter() - start)
        own.append(time.process_time() - busy)
        right += found.best is not None and found.best.game.number == seed + 1
        wrong += found.best is not None and found.best.game.number != seed + 1
        stranger = timed_listen(talk_about(invented_score(games + 2 * number), number), hearing)
        refused += which_score(stranger, index).best is None
    print(f"right in {right} of {talks} talks (wanted: 95 of 100), {wrong} wrong, {talks - right - wrong} found none")
    print(f"said that none fits, where the game is not there: {refused} of {talks}")
    for whose, times in (("by the clock", sorted(seconds)), ("of the processor", sorted(own))):
        middle, most = times[len(times) // 2], times[int(0.95 * (talks - 1))]
        print(f"found in {middle:.2f} s {whose}, 95th percentile {most:.2f} s (wanted: 2 s)")
    print(f"hearing the talk before that: {sum(hearing) / len(hearing):.2f} s on average")
    print(f"load of the machine at the end: {os.getloadavg()[0]:.1f}")


def timed_listen(words: list[Word], seconds: list[float]) -> Speech:
    start = time.perf_counter()
    speech = listen(words)
    seconds.append(time.perf_counter() - start)
    return speech


if __name__ == "__main__":
    main()

"""An index of a file of many games: which games have two moves close after each other, and the games themselves.

The index is a SQLite file. Where the file of games has grown at its end only the new games are read; where it has
changed otherwise all are.
"""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
from array import array
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from itertools import islice, pairwise
from pathlib import Path

import chess

from aligner.catalogue.faults import CatalogueError
from aligner.catalogue.positions import CASTLE_LONG, CASTLE_SHORT, move_code
from aligner.errors import ScoreError
from aligner.pgn.reader import parse_scores
from aligner.pgn.score import Score

_VERSION = 1
_CODES = 400
"""More than there are move codes."""
_CHUNK = 200
"""Games that one process reads at a time."""
_SEGMENT = 20_000
"""Games whose lists are in memory together."""

_SCHEMA = """
CREATE TABLE about (name TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE game (id INTEGER PRIMARY KEY, number INTEGER NOT NULL, start_fen TEXT NOT NULL, moves BLOB NOT NULL,
                   headers TEXT NOT NULL);
CREATE TABLE pair (key INTEGER NOT NULL, segment INTEGER NOT NULL, games BLOB NOT NULL, PRIMARY KEY (key, segment))
    WITHOUT ROWID;
"""


def pair_key(first: int, second: int) -> int:
    """Two move codes (`positions.move_code`) as one number."""
    return first * _CODES + second


@dataclass(frozen=True, slots=True)
class IndexedGame:
    """A game of the file as the index has it.

    Attributes:
        number: 1-based place in the file.
        score: the game.
    """

    number: int
    score: Score


def index_path(database: Path, folder: Path) -> Path:
    """Where the index of a file of games is kept.

    Args:
        database: the file of games.
        folder: of the catalogue.
    """
    name = hashlib.sha256(str(database.resolve()).encode("utf-8", "surrogateescape")).hexdigest()[:16]
    return folder / f"scores-{name}.sqlite"


class ScoresIndex:
    """The index of one file of games, up to date."""

    def __init__(self, connection: sqlite3.Connection, skipped: int) -> None:
        self._connection = connection
        self.skipped = skipped  # games that could not be read
        self.games: int = connection.execute("SELECT count(*) FROM game").fetchone()[0]

    def close(self) -> None:
        """Gives the file back."""
        self._connection.close()

    def with_pair(self, key: int) -> array[int]:
        """Ids of the games that have the two moves."""
        found = array("I")
        for (block,) in self._connection.execute("SELECT games FROM pair WHERE key = ? ORDER BY segment", (key,)):
            found.frombytes(block)
        return found

    def game(self, number: int) -> IndexedGame:
        """A game by its id."""
        place, fen, moves, headers = self._connection.execute(
            "SELECT number, start_fen, moves, headers FROM game WHERE id = ?", (number,)
        ).fetchone()
        return IndexedGame(place, Score(fen, _unpack(moves), json.loads(headers), place))


def open_index(database: Path, folder: Path, progress: Callable[[int], None] | None = None) -> ScoresIndex:
    """The index of a file of games, made or brought up to date first where it must be.

    Args:
        database: the file of games.
        folder: where the index is kept.
        progress: told the number of games read.

    Raises:
        ScoreError: the file cannot be read or holds no game.
        CatalogueError: the index cannot be written.
    """
    path = index_path(database, folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        try:
            return _opened(database, path, progress)
        except sqlite3.DatabaseError as error:
            if isinstance(error, sqlite3.OperationalError):
                raise
            path.unlink()  # damaged: it can be made again from the games
            return _opened(database, path, progress)
    except (sqlite3.Error, OSError) as error:
        raise CatalogueError(f"the index of the games cannot be written ({error}).", str(path)) from None


def _opened(database: Path, path: Path, progress: Callable[[int], None] | None) -> ScoresIndex:
    try:
        status = database.stat()
        if not database.is_file():
            raise ScoreError("this is no file; name a PGN file of many games.", str(database))
    except OSError as error:
        raise ScoreError(f"the file cannot be read ({error.strerror}).", str(database)) from None
    connection = sqlite3.connect(path, timeout=60, isolation_level=None)
    try:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA mmap_size = 1073741824")
        connection.execute("BEGIN IMMEDIATE")
        known = _about(connection)
        stamp = f"{status.st_size} {status.st_mtime_ns}"
        if known.get("stamp") != stamp:
            known = _update(connection, database, known, stamp, progress)
        connection.execute("COMMIT")
    except BaseException:
        connection.close()
        raise
    index = ScoresIndex(connection, int(known.get("skipped", "0")))
    if not index.games:
        index.close()
        path.unlink()
        raise ScoreError("no game was found in this file; name a PGN file of many games.", str(database))
    return index


def _about(connection: sqlite3.Connection) -> dict[str, str]:
    tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if "about" in tables:
        known = dict(connection.execute("SELECT name, value FROM about").fetchall())
        if known.get("version") == str(_VERSION):
            return known
        for table in sorted(tables):
            connection.execute(f'DROP TABLE "{table}"')
    for statement in _SCHEMA.split(";"):
        connection.execute(statement)
    return {}


def _update(
    connection: sqlite3.Connection,
    database: Path,
    known: dict[str, str],
    stamp: str,
    progress: Callable[[int], None] | None,
) -> dict[str, str]:
    """Reads what is new in the file; all of it where more than its end has changed."""
    size = int(known.get("size", "0"))
    with closing(database.open("rb")) as file:
        digest = hashlib.sha256()
        left = size
        while left and (block := file.read(min(left, 1 << 20))):
            digest.update(block)
            left -= len(block)
        if left or (size and digest.hexdigest() != known.get("digest")):
            connection.execute("DELETE FROM game")
            connection.execute("DELETE FROM pair")
            known, digest = {}, hashlib.sha256()
            file.seek(0)
        number, skipped, segment = (int(known.get(name, "0")) for name in ("number", "skipped", "segment"))
        texts = _texts(file, digest)
        while part := list(islice(texts, _SEGMENT)):
            segment += 1
            bad = _add(connection, database.name, part, number, segment)
            number += len(part)
            skipped += bad
            if progress is not None:
                progress(number)
        size = file.tell()
    known = {
        "version": str(_VERSION), "stamp": stamp, "size": str(size), "digest": digest.hexdigest(),
        "number": str(number), "skipped": str(skipped), "segment": str(segment),
    }  # fmt: skip
    connection.execute("DELETE FROM about")
    connection.executemany("INSERT INTO about VALUES (?, ?)", known.items())
    return known


def _texts(file: Iterator[bytes], digest: hashlib._Hash) -> Iterator[str]:
    """The text of each game: a new one begins with the first tag pair after moves (PGN standard, 8.1)."""
    lines: list[bytes] = []
    moves = False
    for line in file:
        digest.update(line)
        tag = line.startswith(b"[") and b'"' in line
        if tag and moves:
            yield _decoded(lines)
            lines, moves = [], False
        moves = moves or bool(lines and line.strip() and not tag and not line.startswith(b"%"))
        if lines or line.strip():
            lines.append(line)
    if any(line.strip() for line in lines):
        yield _decoded(lines)


def _decoded(lines: Sequence[bytes]) -> str:
    data = b"".join(lines).removeprefix(b"\xef\xbb\xbf")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _add(connection: sqlite3.Connection, name: str, texts: Sequence[str], before: int, segment: int) -> int:
    """Adds games; returns how many could not be read."""
    chunks = [(name, texts[start : start + _CHUNK], before + start) for start in range(0, len(texts), _CHUNK)]
    pairs: dict[int, array[int]] = {}
    bad = 0
    processes = min(os.cpu_count() or 1, 8)
    if len(chunks) < 4 or processes < 2:
        read = [_read(*chunk) for chunk in chunks]
    else:
        with ProcessPoolExecutor(processes) as pool:
            read = list(pool.map(_read, *zip(*chunks, strict=True)))
    for games in read:
        for number, game in games:
            if game is None:
                bad += 1
                continue
            fen, moves, headers, keys = game
            connection.execute("INSERT INTO game VALUES (?, ?, ?, ?, ?)", (number, number, fen, moves, headers))
            for key in keys:
                pairs.setdefault(key, array("I")).append(number)
    connection.executemany(
        "INSERT INTO pair VALUES (?, ?, ?)", ((key, segment, games.tobytes()) for key, games in sorted(pairs.items()))
    )
    return bad


_Read = tuple[int, tuple[str, bytes, str, list[int]] | None]


def _read(name: str, texts: Sequence[str], before: int) -> list[_Read]:
    found: list[_Read] = []
    for number, text in enumerate(texts, start=before + 1):
        try:
            score = parse_scores(text, name)[0]
        except ScoreError:
            found.append((number, None))
            continue
        headers = json.dumps(score.headers, ensure_ascii=False)
        found.append((number, (score.start_fen, _pack(score.moves), headers, sorted(pairs(move_codes(score))))))
    return found


_AT_FIRST = [chess.Board().piece_type_at(square) or 0 for square in chess.SQUARES]
_ROOKS = {
    (chess.E1, chess.G1): (chess.H1, chess.F1), (chess.E1, chess.C1): (chess.A1, chess.D1),
    (chess.E8, chess.G8): (chess.H8, chess.F8), (chess.E8, chess.C8): (chess.A8, chess.D8),
}  # fmt: skip
"""By the king's squares when it castles, those of its rook."""


def move_codes(score: Score) -> list[int]:
    """The code (`positions.move_code`) of each move of a score."""
    codes = []
    if score.start_fen != chess.STARTING_FEN:
        board = chess.Board(score.start_fen)
        for uci in score.moves:
            move = chess.Move.from_uci(uci)
            codes.append(move_code(board, move))
            board.push(move)
        return codes
    # the moves are known to be legal, so it is enough to know what stands where: four times as fast as on a board
    types = list(_AT_FIRST)
    for uci in score.moves:
        origin, target = chess.SQUARE_NAMES.index(uci[:2]), chess.SQUARE_NAMES.index(uci[2:4])
        piece = types[origin]
        rook = _ROOKS.get((origin, target)) if piece == chess.KING else None
        types[target] = chess.PIECE_SYMBOLS.index(uci[4]) if len(uci) == 5 else piece
        if rook is None:
            codes.append((piece - 1) * 64 + target)
        else:
            codes.append(CASTLE_SHORT if rook[0] > origin else CASTLE_LONG)
            types[rook[1]] = chess.ROOK
    return codes


def pairs(codes: Sequence[int]) -> set[int]:
    """The keys of moves that follow each other, at once or with one move between them."""
    found = {pair_key(one, two) for one, two in pairwise(codes)}
    found.update(pair_key(one, two) for one, two in zip(codes, codes[2:], strict=False))
    return found


def _pack(moves: Sequence[str]) -> bytes:
    return " ".join(moves).encode("ascii")


def _unpack(moves: bytes) -> tuple[str, ...]:
    return tuple(moves.decode("ascii").split())

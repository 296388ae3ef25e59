"""Measures the catalogue on an invented archive, and prints what it should reach beside what it reaches.

    python tests/measure/archive_speed.py [--talks 10000] [--small 1000] [--files 1000] [--folder DIR] [--again]

The archive is drawn with a seed (archive.py). Adding is timed in its two halves, preparing rows and writing them, and
once from JSON files with all processors. Questions are drawn from what the archive holds, each is asked twice and the
second time counts (warm). Where other work on the machine would disturb, the processor's seconds are told beside those
of the clock; with all processes' seconds added up, two processors do in one second what takes two of them. The same
questions are put, in the same run, to a table of the small archive's mentions by plain LIKE and comparisons without an
index, and to a scan of records in memory.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import shutil
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import chess

sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parents[2])]
sys.path.append(str(Path(__file__).resolve().parents[1] / "catalogue"))
from archive import invented_record
from scan import Said, moments, plain_words, same

from aligner.catalogue.find import find
from aligner.catalogue.intake import prepare_files
from aligner.catalogue.prepare import TalkRows, prepare
from aligner.catalogue.question import ask
from aligner.catalogue.store import Catalogue, open_catalogue
from aligner.catalogue.summary import summarise
from aligner.record.document import record_to_json
from aligner.record.model import Record

QUESTIONS = 40
"""Of each kind."""
SCANNED = 30
"""Talks that are scanned record by record."""


def made(seed: int) -> tuple[str, TalkRows, float]:
    """A talk's rows, and the processor's seconds that preparing them took."""
    record = invented_record(seed)
    start = time.process_time()
    rows = prepare(record, f"talk-{seed:06}")
    return f"talk-{seed:06}", rows, time.process_time() - start


def p95(seconds: list[float]) -> float:
    """The 95th percentile, in milliseconds."""
    return 1000 * sorted(seconds)[int(0.95 * (len(seconds) - 1))]


def questions(seed: int, talks: int) -> dict[str, list[dict[str, Any]]]:
    """Questions of each kind about things that are in the archive."""
    draw = random.Random(seed)
    found: dict[str, list[dict[str, Any]]] = {}

    def add(name: str, /, **conditions: Any) -> None:
        found.setdefault(name, []).append(conditions)

    for _ in range(QUESTIONS):
        record = invented_record(draw.randrange(talks))
        said = draw.choice(list(moments({"x": record})))
        assert said.move is not None
        san = said.before.san(said.move).rstrip("+#")
        headers = said.game.headers
        line = " ".join(_sans(said)[: draw.randint(1, 5)])
        some = draw.sample(sorted(said.board.piece_map().items()), 2)
        part = " ".join(f"{piece.symbol()}{chess.square_name(square)}" for square, piece in some)
        absent = draw.choice(["no light-squared bishops", "no white knights", "no queens"])
        words = [word for word in plain_words(record) if len(word) > 3]
        at = draw.randrange(len(words) - 2)
        player = headers[draw.choice(["White", "Black"])]
        add("move", move=san)
        add("position", fen=said.board.fen())
        add("after moves", after=line)
        add("partial position", partial=f"{part}, {absent}" if draw.random() < 0.5 else part)
        add("opening", opening=draw.choice(["sicilian", "C6", "B", "indian", "E2", "gambit"]))
        add("words", words=" ".join(words[at : at + draw.randint(1, 2)]))
        add("player", player=[player])
        add("event and date", event=headers["Event"], since="2015", until="2020-06")
        add("kind and confidence", kind=[draw.choice(["erratum", "idea", "sideline", "game"])], confidence=0.9)
        add("combined: move, player", move=san, player=[player])
        add("combined: partial, kind, dates", partial=part, kind=["sideline"], since="2018")
        add("combined: words, move", words=words[at], move=san)
        add("combined: after, words, confidence", after=line, words=words[at + 1], confidence=0.8)
        add("combined: opening, partial, player", opening="sicilian", partial=part, player=[player.split()[1]])
    return found


def _sans(said: Said) -> list[str]:
    sans = []
    for before, after in zip(said.line, said.line[1:], strict=False):
        move = next(move for move in before.legal_moves if _leads(before, move, after))
        sans.append(before.san(move))
    return sans


def _leads(before: chess.Board, move: chess.Move, after: chess.Board) -> bool:
    board = before.copy(stack=False)
    board.push(move)
    return board.fen() == after.fen()


@dataclass(frozen=True, slots=True)
class Asked:
    """How long questions of one kind took.

    Attributes:
        clock: 95th percentile by the clock, in milliseconds.
        own: the same, of the processor.
        answers: their mean number.
    """

    clock: float
    own: float
    answers: float


def ask_all(catalogues: Sequence[Catalogue], asked: Mapping[str, list[dict[str, Any]]]) -> dict[str, list[Asked]]:
    """By kind, for each catalogue; each question goes to all of them in turn, so that none has a quieter machine."""
    result = {}
    for kind, conditions in asked.items():
        seconds: list[list[float]] = [[] for _ in catalogues]
        own: list[list[float]] = [[] for _ in catalogues]
        answers = [0 for _ in catalogues]
        for one in conditions:
            question = ask(**one)
            for place, catalogue in enumerate(catalogues):
                find(catalogue, question)
                start, busy = time.perf_counter(), time.process_time()
                answers[place] += len(find(catalogue, question))
                seconds[place].append(time.perf_counter() - start)
                own[place].append(time.process_time() - busy)
        result[kind] = [
            Asked(p95(clock), p95(busy), number / len(conditions))
            for clock, busy, number in zip(seconds, own, answers, strict=True)
        ]
    return result


def plain_table(path: Path, talks: int) -> sqlite3.Connection:
    """Every mention with its words, move, position and headers in one table without an index."""
    table = sqlite3.connect(path)
    table.execute("PRAGMA synchronous = OFF")
    table.execute(
        "CREATE TABLE mention (talk, start, san, epd, line, kind, confidence, white, black, event, date, moves, text)"
    )
    for seed in range(talks):
        record = invented_record(seed)
        words = plain_words(record)
        rows = []
        for said in moments({f"talk-{seed:06}": record}):
            assert said.move is not None
            first, past = said.words
            tags = said.game.headers
            rows.append((said.talk, said.start, said.before.san(said.move).rstrip("+#"),
                         said.board.epd(en_passant="legal"), said.kind, said.misnamed, said.confidence,
                         tags["White"].lower(), tags["Black"].lower(), tags["Event"].lower(),
                         tags["Date"].replace(".", "-"), "",
                         " ".join(words[max(0, first - 20) : past + 20])))  # fmt: skip
        table.executemany(f"INSERT INTO mention VALUES ({','.join('?' * 13)})", rows)
    table.commit()
    return table


def plainly(table: sqlite3.Connection, one: Mapping[str, Any]) -> Callable[[], int]:
    """The question to the plain table; what SQL cannot tell is filtered with python-chess."""
    where, values = ["1"], []
    if "move" in one:
        where.append("san = ?")
        values.append(one["move"])
    if "fen" in one:
        where.append("epd = ?")
        values.append(chess.Board(one["fen"]).epd(en_passant="legal"))
    for word in one.get("words", "").split():
        where.append("text LIKE ?")
        values.append(f"%{word}%")
    for name in one.get("player", ()):
        where.append("(white LIKE ? OR black LIKE ?)")
        values += [f"%{name.lower()}%"] * 2
    if "event" in one:
        where.append("event LIKE ?")
        values.append(f"%{one['event'].lower()}%")
    if "since" in one:
        where.append("date >= ?")
        values.append(one["since"])
    if "confidence" in one:
        where.append("confidence >= ?")
        values.append(one["confidence"])
    if one.get("kind") and one["kind"][0] != "erratum":
        where.append("line = ?")
        values.append(one["kind"][0])
    if "partial" in one:  # a placement as text cannot be asked for a square: every row is set up
        pieces = [
            part for part in one["partial"].replace(",", " ").split() if len(part) == 3 and part[0] in "KQRBNPkqrbnp"
        ]

        def partly() -> int:
            count = 0
            for (epd,) in table.execute(f"SELECT epd FROM mention WHERE {' AND '.join(where)} LIMIT 20000", values):
                board = chess.Board(epd + " 0 1")
                count += all(str(board.piece_at(chess.parse_square(p[1:]))) == p[0] for p in pieces)
                if count == 20:
                    break
            return count

        return partly
    return lambda: len(
        table.execute(
            f"SELECT * FROM mention WHERE {' AND '.join(where)} ORDER BY confidence DESC LIMIT 20", values
        ).fetchall()
    )


def scanned(archive: Mapping[str, Record], one: Mapping[str, Any]) -> int:
    """The question as a walk through records in memory; only the parts that are about moves and positions."""
    count = 0
    board = chess.Board(one["fen"]) if "fen" in one else None
    for said in moments(archive):
        if "move" in one and (said.move is None or said.before.san(said.move).rstrip("+#") != one["move"]):
            continue
        if board is not None and not same(said.board, board):
            continue
        count += 1
    return count


def rows_made(first: int, past: int) -> Iterator[tuple[str, TalkRows, float]]:
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        yield from pool.map(made, range(first, past), chunksize=8)


def add(catalogue: Catalogue, first: int, past: int) -> tuple[int, float, float]:
    """Adds talks; mentions, seconds of preparing (one processor) and seconds of writing."""
    mentions, preparing, writing = 0, 0.0, 0.0
    batch: list[tuple[str, TalkRows]] = []

    def write() -> None:
        nonlocal writing, mentions
        start = time.process_time()
        mentions += sum(added.mentions for added in catalogue.add_rows(batch))
        writing += time.process_time() - start
        batch.clear()

    for name, rows, seconds in rows_made(first, past):
        preparing += seconds
        batch.append((name, rows))
        if len(batch) == 100:
            write()
    if batch:
        write()
    return mentions, preparing, writing


def grown(folder: Path, catalogue: Catalogue, seed: int) -> float:
    """How many times as long a talk takes to add to a catalogue as to an empty one, with its rows prepared for both.

    Both are given the same talks in turn, so that other work on the machine disturbs both alike; they are taken out
    again.
    """
    path = folder / "fresh.sqlite"
    path.unlink(missing_ok=True)
    rows = list(rows_made(seed, seed + 200))
    preparing = sum(seconds for _, _, seconds in rows)
    writing = [0.0, 0.0]
    with open_catalogue(str(path), make=True) as fresh:
        for start in range(0, len(rows), 50):
            batch = [(name, own) for name, own, _ in rows[start : start + 50]]
            for place, one in enumerate((fresh, catalogue)):
                begun = time.process_time()
                assert sum(1 for _ in one.add_rows(batch)) == len(batch)
                writing[place] += time.process_time() - begun
    catalogue.remove([name for name, _, _ in rows])
    return (preparing + writing[1]) / (preparing + writing[0])


def from_files(folder: Path, talks: int) -> tuple[int, float, float]:
    """Adds records from JSON files with all processors; mentions, seconds, and processors' seconds of all processes."""
    records = folder / "records"
    records.mkdir()
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        files = list(pool.map(partial(written, records), range(talks), chunksize=8))

    def failed(error: Exception) -> None:
        raise error

    with open_catalogue(str(folder / "files.sqlite"), make=True) as catalogue:
        start, busy = time.perf_counter(), all_processes()
        mentions = sum(added.mentions for added in catalogue.add_rows(prepare_files(files, failed)))
        return mentions, time.perf_counter() - start, all_processes() - busy


def written(folder: Path, seed: int) -> Path:
    """A record in a file."""
    path = folder / f"talk-{seed:06}.json"
    path.write_text(record_to_json(invented_record(seed)), encoding="utf-8")
    return path


def all_processes() -> float:
    """Processors' seconds of this process and of those that it started and that have ended."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


def told(what: str, reached: str, wanted: str = "") -> None:
    """One line of the report."""
    print(f"{what:<58} {reached:>16}  {wanted}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--talks", type=int, default=10_000)
    parser.add_argument("--small", type=int, default=1_000)
    parser.add_argument("--files", type=int, default=1_000)
    parser.add_argument("--folder", type=Path, help="where the archive is made and kept; else it is thrown away")
    parser.add_argument("--again", action="store_true", help="only ask the questions of the archive kept in --folder")
    options = parser.parse_args()
    if options.folder:
        options.folder.mkdir(parents=True, exist_ok=options.again)
        measure(options.folder, options.talks, options.small, options.files, options.again)
        return
    with tempfile.TemporaryDirectory() as name:
        measure(Path(name), options.talks, options.small, options.files, False)


def make(folder: Path, talks: int, small: int) -> None:
    """Adds all talks; the catalogue as it was with the first of them is kept beside."""
    path = folder / "catalogue.sqlite"
    with open_catalogue(str(path), make=True) as catalogue:
        mentions, preparing, writing = add(catalogue, 0, small)
    shutil.copy(path, folder / "small.sqlite")
    with open_catalogue(str(path)) as catalogue:
        more, more_preparing, more_writing = add(catalogue, small, talks)
    total, all_preparing, all_writing = mentions + more, preparing + more_preparing, writing + more_writing
    told(f"{talks:,} talks: mentions", f"{total:,}")
    told("preparing rows, mentions a second of one processor", f"{total / all_preparing:,.0f}")
    told("writing them, the same", f"{total / all_writing:,.0f}")
    told("both, on two processors", f"{2 * total / (all_preparing + all_writing):,.0f}", ">= 20,000")
    told("bytes a mention in the file", f"{path.stat().st_size / total:.0f}", "<= 250")
    told("memory at most, MB", f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f}")


def measure(folder: Path, talks: int, small: int, files: int, again: bool) -> None:
    print(f"load of the machine at the beginning: {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
    if not again:
        make(folder, talks, small)
    asked = questions(5, small)
    print(f"load before the questions: {os.getloadavg()[0]:.1f}")
    with (
        open_catalogue(str(folder / "small.sqlite")) as little,
        open_catalogue(str(folder / "catalogue.sqlite")) as catalogue,
    ):
        reached = ask_all([little, catalogue], asked)
        print(f"load after the questions: {os.getloadavg()[0]:.1f}")
        told("the summary, seconds", f"{_timed(lambda: summarise(catalogue)):.1f}")
        times = grown(folder, catalogue, 2_000_000)
        told("a talk takes so many times as long to add as to an empty one", f"{times:.2f} times", "<= 1.2")
    plain = folder / "plain.sqlite"
    table = sqlite3.connect(plain) if again and plain.exists() else plain_table(plain, small)
    archive = {f"talk-{seed:06}": invented_record(seed) for seed in range(SCANNED)}
    print(f"\n{'95th percentile in ms, warm':<34} {'by the clock':>17} {'of the processor':>17}", end="")
    print(f"    wanted {'LIKE':>8} {'scan':>8} {'answers':>8}")
    print(f"{'talks':<34}{2 * f' {small:>8,} {talks:>8,}'} {'':>9} {small:>8,} {SCANNED:>8,}")
    slower = []
    for kind, conditions in asked.items():
        wanted = 150 if kind.startswith("combined") else 50
        like = (
            p95([_timed(plainly(table, one)) for one in conditions[:5]])
            if "after" not in kind and "opening" not in kind
            else 0
        )
        scan = p95([_timed(lambda one=one: scanned(archive, one)) for one in conditions[:2]])
        few, many = reached[kind]
        slower.append(many.own / few.own)
        shown = f"{like:8.0f}" if like else f"{'-':>8}"
        times_told = f"{few.clock:8.1f} {many.clock:8.1f} {few.own:8.1f} {many.own:8.1f}"
        print(f"{kind:<34} {times_told}  <={wanted:>6} {shown} {scan:8.0f} {many.answers:8.1f}", flush=True)
    told("\nquestions slower with more talks, the median kind", f"{sorted(slower)[len(slower) // 2]:.2f} times", "<= 2")
    told("questions slower with more talks, the worst kind", f"{max(slower):.2f} times", "<= 2")
    if not again:
        mentions, seconds, busy = from_files(folder, files)
        told(f"{files:,} records from JSON files, mentions a second", f"{mentions / seconds:,.0f}", ">= 20,000")
        told("the same, two processors' worth of all processes", f"{2 * mentions / busy:,.0f}", ">= 20,000")
    print(f"load of the machine at the end: {os.getloadavg()[0]:.1f}")


def _timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


if __name__ == "__main__":
    main()

"""Talks go in, are replaced and taken out, whole or not at all; faults are told in one sentence."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import chess
import pytest
import sqlalchemy as sa
from archive import invented_record

from aligner.catalogue import tables as t
from aligner.catalogue.checking import captions_changed, damage
from aligner.catalogue.faults import CatalogueError
from aligner.catalogue.find import find
from aligner.catalogue.fulltext import SqliteFullText
from aligner.catalogue.intake import prepare_file, prepare_files, record_files
from aligner.catalogue.migrations import STEPS, migrate, version_of
from aligner.catalogue.prepare import prepare
from aligner.catalogue.question import ask
from aligner.catalogue.searched import searched
from aligner.catalogue.stemming import stemmed
from aligner.catalogue.store import Catalogue, open_catalogue
from aligner.catalogue.summary import picture, summarise
from aligner.errors import AlignerError, RecordError
from aligner.record.document import record_from_json, record_to_json
from aligner.record.model import Record

ROOT = Path(__file__).resolve().parents[2]


def test_adding_again_replaces(empty: Catalogue, archive: dict[str, Record]) -> None:
    first, second, third = list(archive.values())[:3]
    assert not empty.add(first, "a").replaced
    assert not empty.add(second, "b").replaced
    before = find(empty, ask(after="e4", limit=500))
    assert empty.add(third, "a").replaced
    assert {talk.name for talk in empty.talks()} == {"a", "b"}
    assert empty.add(first, "a").replaced
    assert {(m.talk, m.start, m.move) for m in find(empty, ask(after="e4", limit=500))} == {
        (m.talk, m.start, m.move) for m in before
    }
    assert not list(damage(empty))


def test_what_is_taken_out_is_gone_from_everywhere(empty: Catalogue, archive: dict[str, Record]) -> None:
    names = list(archive)[:3]
    for name in names:
        empty.add(archive[name], name)
    assert empty.remove([names[0], "nobody"]) == (names[0],)
    assert {m.talk for m in find(empty, ask(words="the", limit=900))} <= set(names[1:])
    assert {m.talk for m in find(empty, ask(kind=["game"], limit=900))} == set(names[1:])
    assert not list(damage(empty))
    empty.remove(names)
    with empty.reading() as connection:
        for table in (t.talk, t.talk_words, t.game, t.game_name, t.node, t.moment, t.finding, t.passage):
            assert connection.execute(sa.select(sa.func.count()).select_from(table)).scalar() == 0
        assert connection.execute(sa.select(sa.func.count()).select_from(t.name)).scalar() == 0
    assert not find(empty, ask(words="the")) and not find(empty, ask(partial="Pe4"))


def test_a_batch_is_whole_or_not_at_all(empty: Catalogue, archive: dict[str, Record]) -> None:
    first, second = list(archive.values())[:2]
    empty.add(first, "a")
    good = prepare(second, "b")
    bad = replace(good, nodes=(*good.nodes, good.nodes[0]))  # the same id twice
    with pytest.raises(CatalogueError):
        list(empty.add_rows([("b", good), ("c", bad)]))
    assert [talk.name for talk in empty.talks()] == ["a"]
    assert not list(damage(empty))


def test_the_summary_of_an_empty_catalogue_is_empty(empty: Catalogue) -> None:
    whole = summarise(empty)
    assert (whole.talks, whole.games, whole.positions, whole.discussed) == (0, 0, 0, ())


def test_the_summary_counts_what_is_there(filled: Catalogue, archive: dict[str, Record]) -> None:
    whole = summarise(filled)
    assert whole.talks == whole.games == len(archive)
    assert whole.mentions == sum(len(record.games[0].mentions) for record in archive.values())
    assert whole.words == sum(len(record.words) for record in archive.values())
    assert whole.hours == pytest.approx(sum(record.recording.seconds for record in archive.values()) / 3600)
    findings = [finding for record in archive.values() for finding in record.games[0].findings]
    assert sum(times for _, _, times in whole.misnamed) == len(findings)
    with filled.reading() as connection:
        nodes = connection.execute(sa.select(t.node.c.placement, t.node.c.state)).all()
    assert whole.positions == len({(bytes(placement), state) for placement, state in nodes})
    assert [times for _, times in whole.discussed] == sorted((times for _, times in whole.discussed), reverse=True)
    fen, talks = whole.discussed[0]
    spoken = {m.talk for m in find(filled, ask(fen=fen, limit=1000)) if m.kind not in ("unspoken", "idea")}
    assert talks >= len(spoken) > 1
    drawn = ElementTree.fromstring(picture(whole))  # well formed (XML 1.0)
    svg = "{http://www.w3.org/2000/svg}"
    boards = drawn.findall(f"{svg}svg")
    assert [board.findtext(f"{svg}title") for board in boards] == [fen for fen, _ in whole.discussed[:5]]
    for board, (fen, _) in zip(boards, whole.discussed, strict=False):
        assert len(board.findall(f"{svg}use")) == len(chess.Board(fen).piece_map())
    shapes = {shape.get("id") for shape in drawn.iter(f"{svg}symbol")}
    link = "{http://www.w3.org/1999/xlink}href"
    assert {use.get(link, "")[1:] for use in drawn.iter(f"{svg}use")} <= shapes


def test_a_record_with_an_illegal_move_is_refused(archive: dict[str, Record], tmp_path: Path) -> None:
    record = next(iter(archive.values()))
    game = record.games[0]
    nodes = (*game.nodes[:5], replace(game.nodes[5], uci="a1h8"), *game.nodes[6:])
    broken = replace(record, games=(replace(game, nodes=nodes),))
    with pytest.raises(RecordError, match="not legal"):
        prepare(broken, "broken")
    path = tmp_path / "broken.json"
    path.write_text(record_to_json(broken), encoding="utf-8")
    with pytest.raises(RecordError, match="damaged"):
        prepare_file(str(path))


def test_a_file_read_quickly_gives_the_rows_of_the_record_read_with_care(tmp_path: Path) -> None:
    record = invented_record(3, 60)
    odd = replace(record.words[5], text="\u00e9t\u00e9\u2028deux\u00a0mots", speaker="Ada Quill")
    text = record_to_json(replace(record, words=(*record.words[:5], odd, *record.words[6:])))
    path = tmp_path / "talk.json"
    expected = prepare(record_from_json(text, str(path)), str(path))
    for data in (text.encode(), b"\xef\xbb\xbf" + text.encode()):  # also with a byte order mark
        path.write_bytes(data)
        assert prepare_file(str(path)) == expected


def test_files_that_are_no_records_stop_nobody(tmp_path: Path) -> None:
    for seed in range(9):
        text = record_to_json(invented_record(seed, 20))
        (tmp_path / f"{seed}.json").write_text(text, encoding="utf-8")
    for name, data in (("empty", b""), ("list", b"[1, 2]"), ("bytes", b"\xff\xfe\x00"), ("cut", text.encode()[:900]),
                       ("newer", b'{"version": 99, "games": [{}]}'), ("deep", b"[" * 100_000)):  # fmt: skip
        (tmp_path / f"x-{name}.json").write_bytes(data)
    failures: list[AlignerError] = []
    names = [name for name, _ in prepare_files(record_files([tmp_path]), failures.append, processes=2)]
    assert len(names) == 9 and names == sorted(names)
    assert len(failures) == 6
    for failure in failures:
        assert str(failure).endswith(".") and "\n" not in str(failure) and "x-" in str(failure)


def test_captions_that_changed_are_told(empty: Catalogue, archive: dict[str, Record], tmp_path: Path) -> None:
    import hashlib

    source = "WEBVTT\n\n00:00.000 --> 00:01.000\nknight f3\n"
    for name in ("same", "other"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "talk.vtt").write_text(source, encoding="utf-8")
        record = next(iter(archive.values()))
        mark = hashlib.sha256((source if name == "same" else "something else").encode()).hexdigest()
        recording = replace(record.recording, captions="talk.vtt", fingerprint=mark)
        empty.add(replace(record, recording=recording), str(tmp_path / name / "talk.json"))
    empty.add(next(iter(archive.values())), str(tmp_path / "gone.json"))
    found = {Path(name).parent.name: how for name, how in captions_changed(empty)}
    assert found == {"other": "changed", tmp_path.name: "missing"}


def test_damaged_words_are_told_and_their_talk_is_not_replaced_by_half(
    empty: Catalogue, archive: dict[str, Record]
) -> None:
    first, second = list(archive.values())[:2]
    empty.add(first, "a")
    empty.add(second, "b")
    parts = t.talk_words.c
    with empty.writing() as connection:
        connection.execute(sa.update(t.talk_words).where(parts.talk_id == 1).values(block=b"rubbish"))
    assert any(fault.startswith("a: its words are damaged") for fault in damage(empty))
    for work in (
        lambda: find(empty, ask(words="the", limit=1000)),
        lambda: empty.add(first, "a"),
        lambda: empty.remove(["b", "a"]),
    ):
        with pytest.raises(CatalogueError, match="damaged; put back a copy") as told:
            work()
        assert told.value.where == empty.address
    assert {talk.name for talk in empty.talks()} == {"a", "b"}
    assert empty.remove(["b"]) == ("b",)


# what follows is about SQLite's one file


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "catalogue.sqlite"


def refused(address: Path, sentence: str) -> None:
    with (
        pytest.raises(CatalogueError, match=sentence) as told,
        open_catalogue(str(address), make=True, wait=0.2) as catalogue,
    ):
        catalogue.add(invented_record(1, 20), "one")
        find(catalogue, ask(words="the"))
    assert "\n" not in str(told.value) and str(told.value).endswith(".")


def test_it_keeps_a_journal_and_minds_foreign_keys(file: Path) -> None:
    with open_catalogue(str(file), make=True) as catalogue, catalogue.reading() as connection:
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1


def test_there_is_none(file: Path) -> None:
    with pytest.raises(CatalogueError, match="no catalogue here"):
        open_catalogue(str(file))
    with pytest.raises(CatalogueError, match="folder"):
        open_catalogue(str(file.parent))
    with pytest.raises(CatalogueError, match="begins postgresql"):
        open_catalogue("mysql://u:secret@h/d")


def test_it_is_no_catalogue(file: Path) -> None:
    file.write_bytes(b"this is text, and a good deal of it, but no database at all\n" * 200)
    refused(file, "damaged")
    file.unlink()
    with sqlite3.connect(file) as other:
        other.execute("CREATE TABLE recipes (name)")
    refused(file, "no catalogue")


def test_it_is_from_a_newer_program(file: Path) -> None:
    open_catalogue(str(file), make=True).close()
    with sqlite3.connect(file) as other:
        other.execute("UPDATE about SET value = '7'")
    refused(file, "version 7")


def test_it_is_damaged_in_the_middle(file: Path) -> None:
    with open_catalogue(str(file), make=True) as catalogue:
        for seed in range(6):
            catalogue.add(invented_record(seed, 60), str(seed))
    data = bytearray(file.read_bytes())
    draw = random.Random(3)
    for _ in range(60):
        at = draw.randrange(8192, len(data))
        data[at : at + 400] = draw.randbytes(400)
    file.write_bytes(data[: len(data)])
    with pytest.raises(CatalogueError) as told, open_catalogue(str(file)) as catalogue:
        faults = list(damage(catalogue))
        assert faults
        raise CatalogueError("; ".join(faults).replace("\n", " ") + ".")
    assert "\n" not in str(told.value)


def test_another_program_writes(file: Path) -> None:
    open_catalogue(str(file), make=True).close()
    other = sqlite3.connect(file, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    refused(file, "another program is writing")
    other.execute("ROLLBACK")
    other.close()
    with open_catalogue(str(file)) as catalogue:
        catalogue.add(invented_record(1, 20), "one")


def test_readers_go_on_while_another_writes(file: Path) -> None:
    with open_catalogue(str(file), make=True) as catalogue:
        catalogue.add(invented_record(1, 20), "one")
        with catalogue.writing():
            assert find(catalogue, ask(kind=["game"]))


def test_the_disk_is_full(file: Path) -> None:
    """SQLite's own limit on the number of pages gives the same error as a full disk (SQLITE_FULL)."""
    with open_catalogue(str(file), make=True) as catalogue:
        catalogue.add(invented_record(1, 60), "one")

        @sa.event.listens_for(catalogue.engine, "connect")
        def small(connection: sqlite3.Connection, _: object) -> None:
            pages = connection.execute("PRAGMA page_count").fetchone()[0]
            connection.execute(f"PRAGMA max_page_count = {pages + 8}")

        catalogue.engine.dispose()
        with pytest.raises(CatalogueError, match="disk is full"):
            catalogue.add(invented_record(2, 300), "two")
        assert [talk.name for talk in catalogue.talks()] == ["one"]
        assert not list(damage(catalogue))


def test_a_file_of_limited_size(file: Path) -> None:
    """The system refuses to let the file grow: `ulimit -f` of the shell (POSIX), in units of 512 bytes or 1 KiB."""
    code = (
        "import signal, sys; signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "from aligner.catalogue.store import open_catalogue\n"
        "from archive import invented_record\n"
        "from aligner.errors import AlignerError\n"
        "with open_catalogue(sys.argv[1], make=True) as catalogue:\n"
        "    try:\n"
        "        for seed in range(60):\n"
        "            catalogue.add(invented_record(seed, 60), str(seed)); print(seed, flush=True)\n"
        "    except AlignerError as error:\n"
        "        print('told:', error)\n"
    )
    command = f'ulimit -f 1500; exec "{sys.executable}" -c "$0" "$1"'
    shell = ["sh", "-c", command, code, str(file)]
    done = subprocess.run(shell, capture_output=True, text=True, check=False, env=_env())
    lines = done.stdout.splitlines()
    assert lines[-1].startswith("told:"), done.stderr
    with open_catalogue(str(file)) as catalogue:
        assert {talk.name for talk in catalogue.talks()} == set(lines[:-1])
        assert not list(damage(catalogue))


def _env() -> dict[str, str]:
    paths = [str(ROOT), str(ROOT / "tests" / "measure")]
    return {**os.environ, "PYTHONPATH": os.pathsep.join(paths)}


KILLS = 100 if os.environ.get("ALIGNER_LONG_TESTS") else 12
"""How often the process is killed."""


def test_killed_in_the_middle_nothing_is_lost_and_nothing_half_there(file: Path, tmp_path: Path) -> None:
    code = (
        "import sys\n"
        "from pathlib import Path\n"
        "from aligner.catalogue.intake import prepare_file\n"
        "from aligner.catalogue.store import open_catalogue\n"
        "with open_catalogue(sys.argv[1], make=True) as catalogue:\n"
        "    talks = [(path.stem, prepare_file(str(path))) for path in sorted(Path(sys.argv[2]).glob('*.json'))]\n"
        "    print('ready', flush=True)\n"
        "    while True:\n"
        "        for name, rows in talks:\n"
        "            for added in catalogue.add_rows([(name, rows)]):\n"
        "                print(added.name, flush=True)\n"
    )
    records = {f"t{seed}": invented_record(seed, 40) for seed in range(8)}
    folder = tmp_path / "records"
    folder.mkdir()
    for name, record in records.items():
        (folder / f"{name}.json").write_text(record_to_json(record), encoding="utf-8")
    draw = random.Random(100)
    reported: set[str] = set()
    for _ in range(KILLS):
        process = subprocess.Popen(
            [sys.executable, "-c", code, str(file), str(folder)], stdout=subprocess.PIPE, text=True, env=_env()
        )
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        time.sleep(draw.random() * 0.5)
        process.send_signal(signal.SIGKILL)
        lines = process.stdout.read().split("\n")
        process.wait()
        reported.update(line for line in lines[:-1] if line)
        with open_catalogue(str(file), make=True) as catalogue:
            there = {talk.name for talk in catalogue.talks()}
            assert reported <= there
            assert not list(damage(catalogue))
    with open_catalogue(str(file)) as catalogue:
        for name in there:
            expected = {round(1000 * m.start) for m in records[name].games[0].mentions}
            got = {round(1000 * m.start) for m in find(catalogue, ask(kind=["game", "sideline", "idea"], limit=1000))
                   if m.talk == name and m.kind != "unspoken"}  # fmt: skip
            assert got == expected


def test_an_old_schema_is_brought_up_to_date_a_step_at_a_time(file: Path) -> None:
    with open_catalogue(str(file), make=True) as catalogue:
        catalogue.add(invented_record(1, 20), "one")

        def second(connection: sa.Connection, _: object) -> None:
            connection.exec_driver_sql("ALTER TABLE talk ADD COLUMN note TEXT")

        def third(connection: sa.Connection, _: object) -> None:
            connection.exec_driver_sql("ALTER TABLE talk ADD COLUMN more TEXT")
            raise CatalogueError("it fails")

        with catalogue.engine.connect().execution_options(writing=True) as connection:
            with pytest.raises(CatalogueError, match="it fails"):
                migrate(connection, SqliteFullText(), {**STEPS, t.VERSION + 1: second, t.VERSION + 2: third})
            with connection.begin():
                assert version_of(connection) == t.VERSION + 1
                names = {column["name"] for column in sa.inspect(connection).get_columns("talk")}
        assert "note" in names and "more" not in names
    with pytest.raises(CatalogueError, match=f"version {t.VERSION + 1}"):
        open_catalogue(str(file))


def test_a_catalogue_of_version_1_learns_which_moves_stand_with_the_words(
    empty: Catalogue, archive: dict[str, Record]
) -> None:
    for name in list(archive)[:3]:
        empty.add(archive[name], name)
    questions = [ask(words="the", move="Nf3", limit=500), ask(words="of", limit=500), ask(move="Nf6", limit=500)]
    expected = [find(empty, question) for question in questions]
    assert all(expected)
    with empty.writing() as connection:
        told = [(number, text) for talk in (1, 2, 3) for number, text, _ in searched(connection, talk)]
        # the index as version 1 made and filled it
        if connection.dialect.name == "sqlite":
            connection.exec_driver_sql("DROP TABLE passage_words")
            connection.exec_driver_sql(
                "CREATE VIRTUAL TABLE passage_words USING fts5(text, content='', columnsize=0, "
                "tokenize='porter unicode61 remove_diacritics 2')"
            )
            connection.exec_driver_sql("INSERT INTO passage_words(rowid, text) VALUES (?, ?)", sorted(told))
        else:
            connection.exec_driver_sql("DELETE FROM passage_words")
            connection.execute(
                sa.text("INSERT INTO passage_words (id, words) VALUES (:id, to_tsvector('simple', :words))"),
                [{"id": number, "words": stemmed(text)} for number, text in told],
            )
        connection.execute(sa.update(t.about).values(value="1"))
    with empty.engine.connect().execution_options(writing=True) as connection:
        assert migrate(connection, empty.fulltext) == 1
        with connection.begin():
            assert version_of(connection) == 2
    assert [find(empty, question) for question in questions] == expected
    assert not list(damage(empty))
    empty.remove(list(archive)[:1])
    assert find(empty, questions[0]) == tuple(one for one in expected[0] if one.talk != next(iter(archive)))
    assert not list(damage(empty))


SMALL = ("VIRTUAL TABLE", "CONSTANT", "name", "game", "subquery", "anon", "node")
"""Names and games are small tables, nodes are streamed, and a subquery is a bounded count."""


def test_no_question_reads_more_than_it_must(file: Path) -> None:
    """Every statement uses an index, but for those that stream all nodes until there are answers enough."""
    with open_catalogue(str(file), make=True) as catalogue:
        for seed in range(3):
            catalogue.add(invented_record(seed, 60), str(seed))
        sent: list[tuple[str, object]] = []

        @sa.event.listens_for(catalogue.engine, "before_cursor_execute")
        def note(_c: object, _k: object, statement: str, values: object, _x: object, _m: object) -> None:
            sent.append((statement, values))

        find(catalogue, ask(move="Nf3", words="the", player=["a"], partial="Pe4", after="e4"))
        for question in (ask(kind=["game"]), ask(words="the"), ask(kind=["erratum"]), ask(fen=chess.STARTING_FEN)):
            assert find(catalogue, question)
        with catalogue.reading() as connection:
            for statement, values in list(sent):
                if statement.startswith("SELECT"):
                    for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", values):
                        step = row[3]
                        assert not step.startswith("SCAN") or any(word in step for word in SMALL), (step, statement)

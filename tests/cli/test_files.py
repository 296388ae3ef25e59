"""Outputs: refused before they destroy anything, replaced in one step."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

import pytest

from aligner.errors import InputError
from aligner.files import check_outputs, write_files


@pytest.fixture
def source(tmp_path: Path) -> Path:
    path = tmp_path / "talk.vtt"
    path.write_text("WEBVTT\n", encoding="utf-8")
    return path


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_an_input_in_any_spelling_is_refused(source: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = source.parent
    (folder / "link.pgn").symlink_to(source)
    os.link(source, folder / "hard.pgn")
    (folder / "sub").mkdir()
    (folder / "round").symlink_to(folder)
    monkeypatch.chdir(folder)
    spellings = ["talk.vtt", "./talk.vtt", "sub/../talk.vtt", "link.pgn", "hard.pgn", "round/talk.vtt", str(source)]
    for spelling in spellings:
        with pytest.raises(InputError, match="one of the inputs"):
            check_outputs([Path(spelling)], inputs=[source])


def test_an_output_that_would_be_the_missing_input_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="one of the inputs"):
        check_outputs([tmp_path / "new.pgn"], inputs=[tmp_path / "." / "new.pgn"])


@pytest.mark.parametrize("exists", [True, False])
def test_two_outputs_in_one_file_are_refused(tmp_path: Path, exists: bool) -> None:
    if exists:
        (tmp_path / "out").write_text("old", encoding="utf-8")
    (tmp_path / "other").symlink_to(tmp_path / "out")
    with pytest.raises(InputError, match="the same file"):
        check_outputs([tmp_path / "out", tmp_path / "other"])


def test_a_folder_and_a_missing_folder_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is a folder"):
        check_outputs([tmp_path])
    with pytest.raises(InputError, match="no such folder"):
        check_outputs([tmp_path / "nowhere" / "out.pgn"])
    with pytest.raises(InputError, match="is a folder"):
        check_outputs([Path("")])


def test_a_new_file_gets_the_users_own_mask(tmp_path: Path) -> None:
    old = os.umask(0o027)
    try:
        write_files({tmp_path / "out.pgn": "1-0\n"})
    finally:
        os.umask(old)
    assert mode(tmp_path / "out.pgn") == 0o640
    assert os.listdir(tmp_path) == ["out.pgn"]


def test_a_replaced_file_keeps_its_mode_and_a_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "real.pgn").write_text("old", encoding="utf-8")
    (tmp_path / "real.pgn").chmod(0o604)
    (tmp_path / "link.pgn").symlink_to("real.pgn")
    write_files({tmp_path / "link.pgn": "café\n"})
    assert (tmp_path / "link.pgn").is_symlink()
    assert (tmp_path / "real.pgn").read_bytes() == "café\n".encode()
    assert mode(tmp_path / "real.pgn") == 0o604


def test_half_a_surrogate_pair_does_not_stop_the_writing(tmp_path: Path) -> None:
    write_files({tmp_path / "out.pgn": "a\udc80b"})
    assert (tmp_path / "out.pgn").read_bytes() == b"a?b"


def test_when_one_file_cannot_be_written_none_is_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "one").write_text("old", encoding="utf-8")
    (tmp_path / "two").write_text("old", encoding="utf-8")
    calls = []

    def full(descriptor: int) -> None:
        calls.append(descriptor)
        if len(calls) == 2:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match=r"two: this file cannot be written \(No space left on device\)"):
        write_files({tmp_path / "one": "new", tmp_path / "two": "new"})
    assert {path.name: path.read_text() for path in tmp_path.iterdir()} == {"one": "old", "two": "old"}


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="this system has no /dev/full")
def test_a_device_is_written_to_as_it_is() -> None:
    null = Path(os.devnull)
    check_outputs([null, null], inputs=[null])
    write_files({null: "text"})
    assert stat.S_ISCHR(null.stat().st_mode)
    with pytest.raises(InputError, match="No space left"):
        write_files({Path("/dev/full"): "text"})


def test_a_name_the_system_refuses_is_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / ("n" * 300)
    check_outputs([path])
    with pytest.raises(InputError, match="File name too long"):
        write_files({path: "text"})

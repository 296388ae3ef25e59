"""A short invented talk on the desk."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from opened_desk import SCORE, Server, captions_text


@pytest.fixture
def captions(tmp_path: Path) -> Path:
    path = tmp_path / "evening.vtt"
    path.write_text(captions_text(), encoding="utf-8")
    (tmp_path / "evening.pgn").write_text(SCORE, encoding="utf-8")
    return path


@pytest.fixture
def server(captions: Path) -> Iterator[Callable[..., Server]]:
    started: list[Server] = []

    def make(*arguments: str, scored: bool = True) -> Server:
        started.append(Server(captions, list(arguments), scored))
        started[-1].start()
        return started[-1]

    yield make
    for one in started:
        if one.process is not None and one.process.poll() is None:
            one.kill()

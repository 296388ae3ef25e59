"""Pages opened from disk in the browser of `tests/conftest.py`."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from invented_talk import talk
from opened_page import PATIENCE, Opened
from playwright.sync_api import Browser

from aligner.page.page import write_page
from aligner.pgn.writer import write_pgn


@pytest.fixture
def opened(browser: Browser, tmp_path: Path) -> Iterator[Callable[..., Opened]]:
    """Opens a page from disk: `opened(html, "#t=3", viewport=...)`."""
    contexts = []

    def open_page(html: str, fragment: str = "", **options: object) -> Opened:
        path = tmp_path / "talk.html"
        path.write_bytes(html.encode("utf-8", "replace"))
        context = browser.new_context(**{"viewport": {"width": 1280, "height": 800}, **options})  # type: ignore[arg-type]
        context.set_default_timeout(PATIENCE * 1000)
        contexts.append(context)
        found = Opened(context.new_page())
        found.page.goto(path.as_uri() + fragment)
        return found

    yield open_page
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def html() -> str:
    """The page of the invented talk."""
    record = talk()
    return write_page(record, pgn=write_pgn(record))

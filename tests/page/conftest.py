"""A browser for the tests of the page; they are skipped only where there is none."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from time import monotonic

import pytest
from invented_talk import talk
from playwright.sync_api import Browser, Page, sync_playwright

from aligner.page.page import write_page
from aligner.pgn.writer import write_pgn

CHROMIUM = shutil.which("chromium")
PATIENCE = 10
"""Seconds to wait for the page: other work may go on in the machine."""


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    if CHROMIUM is None:
        pytest.skip("there is no Chromium; install Debian's package chromium to test the page in a browser")
    with sync_playwright() as playwright:
        # A container gives the sandbox no user namespaces; the pages are our own.
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield started
        started.close()


class Opened:
    """A page in the browser, with what it complained of and what it asked the network for."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.complaints: list[str] = []
        self.requests: list[str] = []
        page.on("console", lambda message: self.complaints.append(f"{message.type}: {message.text}"))
        page.on("pageerror", lambda error: self.complaints.append(f"error: {error}"))
        page.on("request", lambda request: self.requests.append(request.url))

    def text(self, selector: str) -> str:
        return self.page.locator(selector).inner_text()

    def until(self, condition: str) -> None:
        """Waits until a condition in JavaScript holds; Playwright's own way needs what the page's policy forbids."""
        end = monotonic() + PATIENCE
        while not self.page.evaluate(condition):
            assert monotonic() < end, f"this never came true: {condition}"
            self.page.wait_for_timeout(30)

    @property
    def position(self) -> str:
        """The caption under the board."""
        return self.text("#position")


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

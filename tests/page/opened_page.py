"""A page in the browser, watched."""

from __future__ import annotations

from time import monotonic

from playwright.sync_api import Page

PATIENCE = 20
"""Seconds to wait for the page: other work may go on in the machine."""


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

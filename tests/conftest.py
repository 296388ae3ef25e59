"""What tests of several rooms share: one browser (Playwright runs only once in a process), and that SIGINT arrives."""

from __future__ import annotations

import shutil
import signal
from collections.abc import Iterator

import pytest

CHROMIUM = shutil.which("chromium")

if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    # a shell lets what it starts in the background ignore this, and programs that tests start and stop inherit it
    signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.fixture(scope="session")
def browser() -> Iterator[object]:
    """Debian's Chromium; tests that need it are skipped only where there is none."""
    if CHROMIUM is None:
        pytest.skip("there is no Chromium; install Debian's package chromium to test pages in a browser")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        # a container gives the sandbox no user namespaces; the pages are our own
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield started
        started.close()

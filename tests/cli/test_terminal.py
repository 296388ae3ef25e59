"""What reaches a terminal holds nothing that steers it."""

from __future__ import annotations

import io
import sys
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.cli.terminal import progress_on_terminal
from aligner.record.printing import clean, clock


@given(st.text())
def test_cleaned_text_is_one_line_without_control(text: str) -> None:
    cleaned = clean(text)
    assert not any(unicodedata.category(sign) in ("Cc", "Cf", "Cs", "Zl", "Zp") for sign in cleaned)
    assert "\n" not in cleaned and cleaned == cleaned.strip()
    assert clean(cleaned) == cleaned


def test_escape_sequences_and_bidirectional_signs_go() -> None:
    """ECMA-48 control sequences begin with ESC (U+001B) or CSI (U+009B); U+202E turns the writing direction."""
    assert clean("a\x1b[31mred\x9b0m \u202egpj\u202c\r\nend\u2028x") == "a [31mred 0m gpj end x"
    assert clean("Žofie  O'Hara, ½") == "Žofie O'Hara, ½"


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [(0.0, "0:00"), (59.9996, "0:59"), (60.0, "1:00"), (3599.9, "59:59"), (3600.0, "1:00:00"), (36000.5, "10:00:00")],
)
def test_times_are_cut_never_rounded_up(seconds: float, shown: str) -> None:
    assert clock(seconds) == shown


def test_progress_is_shown_only_on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setattr(sys, "stderr", io.StringIO())
    assert progress_on_terminal() is None
    monkeypatch.setattr(sys, "stderr", Terminal())
    show = progress_on_terminal()
    assert show is not None
    for done in (0.0, 0.001, 0.5, 1.0):
        show(done)
    written = sys.stderr.getvalue()
    assert written.count("aligning 0%") == 1 and "aligning 50%" in written
    assert "\n" not in written and written.endswith(f"\r{' ' * len('aligning 100%')}\r")

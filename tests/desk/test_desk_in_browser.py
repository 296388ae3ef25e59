"""The desk in a real browser (Debian's Chromium): decisions by key, typed, clicked, taken back, and after crashes."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from opened_desk import GAP_SENTENCES, Server, captions_text, eventually
from playwright.sync_api import Browser, Page, Route, expect

from aligner.pins.pin import Pin
from aligner.pins.sidecar import read_pins, sidecar_of

PATIENCE = 90_000


@pytest.fixture
def opened(browser: Browser) -> Iterator[Callable[[str], Page]]:
    contexts = []

    def open_page(address: str) -> Page:
        context = browser.new_context(viewport={"width": 1400, "height": 1000})
        context.set_default_timeout(PATIENCE)
        contexts.append(context)
        page = context.new_page()
        page.goto(address)
        expect(page.locator("#rows li").first).to_be_visible(timeout=PATIENCE)
        return page

    yield open_page
    for context in contexts:
        context.close()


def settled(server: Server) -> dict[str, Pin]:
    return {pin.anchor.words: pin for pin in read_pins(sidecar_of(server.captions))}


def decided(server: Server, words: str) -> str:
    """What words were settled as: the move in SAN, or the decision."""
    pin = settled(server).get(words)
    return "" if pin is None else pin.line[-1] if pin.line else pin.decision


def choose(page: Page, words: str) -> None:
    """Open a mention from the list of all mentions."""
    page.locator("#rows button").filter(has_text=re.compile(rf"\d {re.escape(words)}:")).first.click()
    expect(page.locator("#context mark")).to_have_text(words, timeout=PATIENCE)


def test_keys_settle_and_take_back(server: Callable[..., Server], opened: Callable[[str], Page]) -> None:
    desk = server()
    page = opened(desk.address)
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda message: faults.append(message.text) if message.type == "error" else None)
    # the doubt worth most is asked about first; each answer has its board and its key
    asked = page.locator("#context mark").inner_text()
    assert page.locator("#doubts button").first.inner_text().split(" ", 1)[1].startswith(asked)
    assert page.locator("#answers .board").count() == page.locator("#answers button").count() >= 2
    page.keyboard.press("1")
    eventually(lambda: asked in settled(desk))
    expect(page.locator("#progress")).to_contain_text("1 settled", timeout=PATIENCE)
    page.keyboard.press("u")
    eventually(lambda: not settled(desk))
    expect(page.locator("#progress")).to_contain_text("0 settled", timeout=PATIENCE)
    # any mention, not only a doubtful one
    choose(page, "a6")
    page.keyboard.press("n")
    eventually(lambda: decided(desk, "a6") == "no move")
    expect(page.locator("#rows button.settled").filter(has_text="a6: no move")).to_be_visible(timeout=PATIENCE)
    choose(page, "bishop to a4")
    page.keyboard.press("b")
    eventually(lambda: decided(desk, "bishop to a4") == "back in the game")
    assert faults == []


def test_which_move_went_unspoken_is_asked_and_settled_with_one_key(
    server: Callable[..., Server], opened: Callable[[str], Page], captions: Path
) -> None:
    captions.write_text(captions_text(sentences=GAP_SENTENCES), encoding="utf-8")
    desk = server(scored=False)
    page = opened(desk.address)
    # the doubt worth most: a guess among three bishops' moves
    expect(page.locator("#answers")).to_contain_text("Which move was this?", timeout=PATIENCE)
    assert page.locator("#context mark").inner_text() == "bishop to b5."
    second = page.locator("#answers button").nth(1)
    name = second.inner_text().split("...")[1].split()[0]
    page.keyboard.press("2")
    eventually(lambda: decided(desk, "bishop to b5.") == name)
    assert settled(desk)["bishop to b5."].decision == "inferred"
    expect(page.locator("#inferred button.settled")).to_contain_text(f"2...{name}", timeout=PATIENCE)
    # another one, typed on the board before it
    page.locator("#inferred button").first.click()
    expect(page.locator("#answers button").first).to_contain_text(name, timeout=PATIENCE)
    page.keyboard.press("m")
    page.keyboard.type("Bb4")
    page.keyboard.press("Enter")
    expect(page.locator("#answers button").filter(has_text="2...Bb4")).to_be_visible(timeout=PATIENCE)
    page.keyboard.press("Enter")
    eventually(lambda: decided(desk, "bishop to b5.") == "Bb4")
    assert settled(desk)["bishop to b5."].decision == "inferred"
    page.keyboard.press("u")
    eventually(lambda: decided(desk, "bishop to b5.") == name)


def test_a_move_is_typed_or_clicked(server: Callable[..., Server], opened: Callable[[str], Page]) -> None:
    desk = server()
    page = opened(desk.address)
    choose(page, "queen d4")
    page.keyboard.press("m")
    page.keyboard.type("Qd5")
    page.keyboard.press("Enter")
    typed = page.locator("#answers button").filter(has_text="Qd5").first
    expect(typed).to_be_visible(timeout=PATIENCE)
    page.keyboard.press("Enter")
    eventually(lambda: decided(desk, "queen d4") == "Qd5")
    assert settled(desk)["queen d4"].in_game is False
    # by two clicks on the board: the bishop on b5 to c4 instead of a4
    choose(page, "bishop to a4")
    board = page.locator("#game img")
    expect(board).to_be_visible(timeout=PATIENCE)
    box = board.bounding_box()
    assert box is not None
    size = box["width"] / 8
    for square in ("b5", "c4"):
        board.click(position={"x": (ord(square[0]) - 97 + 0.5) * size, "y": (8 - int(square[1]) + 0.5) * size})
    expect(page.locator("#answers button").filter(has_text="Bc4").first).to_be_visible(timeout=PATIENCE)
    page.keyboard.press("Enter")
    eventually(lambda: decided(desk, "bishop to a4") == "Bc4")
    # what cannot be played is told, and nothing is settled
    choose(page, "rook e1")
    page.locator("#typed").fill("Qh8")
    page.locator("#typed").press("Enter")
    expect(page.locator("#fault")).to_contain_text("no legal move", timeout=PATIENCE)
    # and stays to be read while the page goes on asking for news, until the user does something else
    for _ in range(2):
        with page.expect_response("**/state?*"):
            pass
    expect(page.locator("#fault")).to_contain_text("no legal move", timeout=PATIENCE)
    assert "rook e1" not in settled(desk)
    page.keyboard.press("j")
    expect(page.locator("#fault")).to_be_hidden(timeout=PATIENCE)


def test_what_the_user_opened_stays_when_an_answer_comes_late(
    server: Callable[..., Server], opened: Callable[[str], Page]
) -> None:
    desk = server()
    page = opened(desk.address)
    held: list[Route] = []
    page.route("**/decide", lambda route: held.append(route))
    choose(page, "queen d4")
    with page.expect_request("**/decide"):
        page.keyboard.press("n")
    choose(page, "bishop to a4")
    page.locator("#typed").fill("Bc4")
    held[0].continue_()
    page.unroute("**/decide")
    # the decision before has been kept and the talk aligned again under it
    expect(page.locator("#rows button.settled").filter(has_text="queen d4: no move")).to_be_visible(timeout=PATIENCE)
    expect(page.locator("#progress")).not_to_contain_text("aligning", timeout=PATIENCE)
    expect(page.locator("#context mark")).to_have_text("bishop to a4")
    expect(page.locator("#typed")).to_have_value("Bc4")
    page.locator("#typed").press("Enter")
    expect(page.locator("#answers button").filter(has_text="Bc4").first).to_be_visible(timeout=PATIENCE)
    page.keyboard.press("Enter")
    eventually(lambda: decided(desk, "bishop to a4") == "Bc4")


def test_reload_two_windows_crash_and_outputs(server: Callable[..., Server], opened: Callable[[str], Page]) -> None:
    desk = server()
    one, two = opened(desk.address), opened(desk.address)
    choose(one, "d6")
    one.keyboard.press("n")
    eventually(lambda: "d6" in settled(desk))
    one.reload()
    expect(one.locator("#progress")).to_contain_text("1 settled", timeout=PATIENCE)
    # the other window hears of it and adds its own
    expect(two.locator("#progress")).to_contain_text("1 settled", timeout=PATIENCE)
    choose(two, "b5")
    two.keyboard.press("n")
    eventually(lambda: settled(desk).keys() == {"d6", "b5"})
    expect(one.locator("#progress")).to_contain_text("2 settled", timeout=PATIENCE)
    desk.kill()
    # a decision that cannot be kept is not shown as kept
    choosing = one.locator("#doubts button, #rows button").first
    choosing.click()
    expect(one.locator("#fault")).to_contain_text("start it again", timeout=PATIENCE)
    desk.start()
    page = opened(desk.address)
    expect(page.locator("#progress")).to_contain_text("2 settled", timeout=PATIENCE)
    page.keyboard.press("u")
    eventually(lambda: settled(desk).keys() == {"d6"})
    page.locator("#finish").click()
    expect(page.locator("#said")).to_contain_text("Written", timeout=PATIENCE)
    written = desk.captions.with_name("evening.annotated.pgn").read_text(encoding="utf-8")
    assert "Bb3" in written and "[%media" in written
    page.locator("#stop").click()
    assert desk.ended() == 0


def test_captions_cannot_break_out_of_the_page(
    server: Callable[..., Server], opened: Callable[[str], Page], captions: Path
) -> None:
    text = captions.read_text(encoding="utf-8")
    broken = "document.title='broken'"
    hostile = f"a6 &lt;img src=x onerror={broken}&gt; &lt;script&gt;{broken}&lt;/script&gt;"
    captions.write_text(text.replace("and a6 asks the question", f"and {hostile}"), encoding="utf-8")
    page = opened(server("--title", "<script>document.title='broken'</script>").address)
    assert page.title() != "broken"
    assert page.locator("#talk img, #talk script, header script").count() == 0
    assert "<img" in page.locator("#talk").inner_text()

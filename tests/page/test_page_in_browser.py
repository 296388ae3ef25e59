"""The replay page in a real browser: it follows, jumps, searches, obeys the keyboard, and asks for nothing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import chess
import chess.pgn
import pytest
from invented_talk import ATTACKS, WORD, attacked, talk
from opened_page import PATIENCE, Opened
from playwright.sync_api import expect

from aligner.page.media import Media
from aligner.page.page import write_page
from aligner.page.places import course

Open = Callable[..., Opened]
SHOWN = PATIENCE * 1000
"""Milliseconds to wait for what the page shows."""
RECORD = talk()
COURSE = course(RECORD)


def index(name: str, at: int = 0) -> int:
    """Index of the position after a move, "4...Nf6"."""
    return [number for number, place in enumerate(COURSE.places) if place.name == name][at]


def time(name: str, at: int = 0) -> float:
    """Seconds of a move's moment."""
    return COURSE.places[index(name)].times[at] / 1000


def spoken_word(page: Opened) -> str:
    return page.page.evaluate(
        "[...CSS.highlights.get('word')].map(r => r.startContainer.data.slice(r.startOffset, r.endOffset)).join()"
    )


def test_it_opens_from_disk_without_a_complaint_or_a_request(opened: Open, html: str) -> None:
    page = opened(html)
    assert page.text("h1") == "The pin"
    assert page.complaints == []
    assert [address for address in page.requests if not address.startswith(("file:", "data:"))] == []
    assert len(page.requests) == 1


def test_word_move_and_board_follow_while_it_plays(opened: Open, html: str) -> None:
    page = opened(html, f"#t={time('1.e4') - 0.6}")
    assert page.position.startswith("The start")
    page.page.get_by_role("button", name="Play").click()
    page.until("document.querySelector('#position b')?.textContent === '1.e4'")
    assert page.page.locator("a.said.now").inner_text() == "e4,"
    assert page.page.locator("a.move.now").inner_text() == "1.e4"
    assert page.page.locator("#pieces use[data-square=e4]").get_attribute("href") == "#piece-P"
    page.until("[...CSS.highlights.get('word')][0]?.startContainer.data.includes('Black')")
    page.page.get_by_role("button", name="Pause").click()
    assert page.page.evaluate("location.hash").startswith("#t=")
    stopped = page.text("#now")
    page.page.wait_for_timeout(300)
    assert page.text("#now") == stopped


@pytest.mark.parametrize("at", [*range(4, len(COURSE.places), 4), len(COURSE.places) - 1])
def test_every_position_is_on_the_board_as_python_chess_has_it(opened: Open, html: str, at: int) -> None:
    """Reference: python-chess, which replays the moves."""
    page = opened(html)
    page.page.locator(f"#move-{at}").click()
    board, line = chess.Board(), []
    step = at
    while step > 0:
        line.append(COURSE.places[step].node.uci)
        step = COURSE.places[step].parent
    for move in reversed(line):
        board.push_uci(move or "")
    shown = page.page.evaluate(
        "Object.fromEntries([...document.querySelectorAll('#pieces use')]"
        ".map(u => [u.dataset.square, u.getAttribute('href').slice(-1)]))"
    )
    assert shown == {chess.square_name(square): piece.symbol() for square, piece in board.piece_map().items()}
    assert COURSE.places[at].fen == board.fen(en_passant="fen")


def test_a_move_in_the_words_jumps_to_its_moment_and_position(opened: Open, html: str) -> None:
    page = opened(html)
    page.page.locator(".said", has_text="bishop g4").click()
    assert page.position == "After 3...Bg4 · White to move"
    assert page.text("#line") == "In a sideline, instead of 2...Nc6"
    assert page.page.evaluate("location.hash") == f"#t={time('3...Bg4'):g}"
    page.page.locator(".said", has_text="castles").click()
    page.page.go_back()
    page.until("document.querySelector('#position b')?.textContent === '3...Bg4'")
    page.page.go_back()
    page.until("document.querySelector('#position').textContent.startsWith('The start')")


def test_a_move_in_the_tree_jumps_to_each_of_its_moments(opened: Open, html: str) -> None:
    page = opened(html)
    move = page.page.locator(f"#move-{index('2.Nf3')}")
    move.click()
    assert page.page.evaluate("location.hash") == f"#t={time('2.Nf3'):g}"
    move.click()
    assert page.page.evaluate("location.hash") == f"#t={time('2.Nf3', 1):g}"
    move.click()
    assert page.page.evaluate("location.hash") == f"#t={time('2.Nf3'):g}"
    page.page.get_by_label("2.Nf3 again").click()
    assert page.page.evaluate("location.hash") == f"#t={time('2.Nf3', 1):g}"


def test_a_move_that_was_never_said_is_shown_all_the_same(opened: Open, html: str) -> None:
    page = opened(html, "#t=4")
    page.page.locator(f"#move-{index('3...a6')}").click()
    assert page.position == "After 3...a6 · White to move"
    assert page.text("#now") == "0:04"


def test_any_word_can_be_clicked(opened: Open, html: str) -> None:
    page = opened(html)
    box = page.page.evaluate(
        "(() => { const text = [...document.querySelectorAll('.text')].map(p => p.firstChild)[0];"
        "const range = document.createRange(); const at = text.data.indexOf('harbour');"
        "range.setStart(text, at); range.setEnd(text, at + 7); const b = range.getBoundingClientRect();"
        "return [b.x + b.width / 2, b.y + b.height / 2]; })()"
    )
    page.page.mouse.click(*box)
    assert spoken_word(page) == "harbour,"
    assert page.page.evaluate("location.hash") == "#t=1.5"


def test_sidelines_are_sidelines_at_any_depth(opened: Open, html: str) -> None:
    page = opened(html)
    page.page.locator(f"#move-{index('4.Qxd4')}").click()
    assert page.text("#line") == "In a sideline, 3 deep, instead of 4.Nxd4"
    line = page.page.locator(f"li:has(#move-{index('4.Qxd4')})")
    assert "depth-3" in (line.get_attribute("class") or "")
    assert line.locator(".about").inner_text() == "Sideline, 3 deep, instead of 4.Nxd4:"
    page.page.get_by_role("button", name="To the game").click()
    assert page.position == "After 2.Nf3 · Black to move"
    assert page.text("#line") == "In the game"


def test_the_keyboard_does_everything(opened: Open, html: str) -> None:
    page = opened(html)
    press = page.page.keyboard.press
    press("ArrowRight")
    press("ArrowRight")
    press("ArrowRight")
    press("ArrowRight")
    assert page.position.startswith("After 2...Nc6")
    press("s")
    assert page.position.startswith("After 2...d6")
    press("ArrowRight")
    press("ArrowLeft")
    press("g")
    assert page.position.startswith("After 2.Nf3")
    press("ArrowRight")
    assert page.position.startswith("After 2...d6"), "the line last visited comes first"
    press("j")
    assert page.position.startswith("After 3.d4")
    press("k")
    assert page.position.startswith("After 2...d6")
    press("f")
    assert page.page.evaluate("location.hash") == f"#t={time('2...d6') + 5:g}"
    press("b")
    assert page.page.evaluate("location.hash") == f"#t={time('2...d6'):g}"
    press("t")
    expect(page.page.locator("#ranks text").first).to_have_text("1", timeout=SHOWN)
    press("+")
    assert page.page.locator("#rate").input_value() == "1.25"
    press("/")
    assert page.page.evaluate("document.activeElement.id") == "query"
    page.page.keyboard.type("tt")
    assert page.page.locator("#query").input_value() == "tt", "letters are no keys while one types"
    press("Escape")
    page.page.evaluate("document.activeElement.blur()")
    press("?")
    expect(page.page.locator("#keys")).to_be_visible(timeout=SHOWN)
    page.page.get_by_label("Letters work as keys").uncheck()
    press("Escape")
    press("t")
    expect(page.page.locator("#ranks text").first, "WCAG 2.2, 2.1.4: they can be switched off").to_have_text(
        "1", timeout=SHOWN
    )
    press("Space")
    expect(page.page.get_by_role("button", name="Pause")).to_be_visible(timeout=SHOWN)


def test_a_key_counts_at_once_after_the_list_of_keys_was_closed(opened: Open, html: str) -> None:
    """HTML Standard, "focus fixup" (from memory): what is hidden loses the focus when the page is next rendered."""
    page = opened(html)
    page.page.keyboard.press("?")
    page.page.evaluate(
        """const letters = document.getElementById("letters");
        letters.focus();
        document.getElementById("keys").close();
        letters.dispatchEvent(new KeyboardEvent("keydown", { key: " ", bubbles: true, cancelable: true }));"""
    )
    expect(page.page.get_by_role("button", name="Pause")).to_be_visible(timeout=SHOWN)


def test_space_plays_after_a_move_was_clicked(opened: Open, html: str) -> None:
    page = opened(html)
    page.page.locator(f"#move-{index('2.Nf3')}").click()
    page.page.keyboard.press("Space")
    expect(page.page.get_by_role("button", name="Pause")).to_be_visible(timeout=SHOWN)


def test_the_board_turns_and_turns_back(opened: Open, html: str) -> None:
    page = opened(html)
    where = "getComputedStyle(document.querySelector('#pieces use[data-square=e1]')).transform"
    before = page.page.evaluate(where)
    page.page.emulate_media(reduced_motion="reduce")
    page.page.get_by_role("button", name="Turn the board").click()
    assert page.page.evaluate(where) == "matrix(1, 0, 0, 1, 135, 0)"
    page.page.get_by_role("button", name="Turn the board").click()
    assert page.page.evaluate(where) == before == "matrix(1, 0, 0, 1, 180, 315)"


# W3C Media Fragments URI 1.0 (basic) and its list of test cases for user agents, section 4.2.1: what is valid, what is
# ignored, and that the last valid one counts.
MOMENTS = {
    "t=3": 3, "t=3.5": 3.5, "t=3.": 3, "t=0:03": None, "t=00:03": 3, "t=00:03.5": 3.5, "t=0:00:03": 3,
    "t=00:00:03.25": 3.25, "t=npt:3": 3, "t=3,7": 3, "t=,7": 0, "%74=3": 3, "t=%33": 3, "t=3&": 3, "t=3,7&t=foo": 3,
    "t=7&t=3": 3, "t=3,": None, "t=3,3": None, "t=7,3": None, "t=.0": None, "t=3s": None, "t=0:0:3": None,
    "t=0:00:60": None, "t=-1,3": None, "T=3": None, "t=1e-1": None, "u=12&t=3": 3,
}  # fmt: skip


def test_moments_in_the_address_are_media_fragments(opened: Open, html: str) -> None:
    page = opened(html)
    wrong = {}
    for fragment, seconds in MOMENTS.items():
        page.page.evaluate("location.hash = 't=11'")
        page.until("document.querySelector('#slider').value === '11'")
        page.page.evaluate("fragment => { location.hash = fragment }", fragment)
        page.page.wait_for_timeout(60)
        shown = float(page.page.locator("#slider").input_value())
        if shown != pytest.approx(11 if seconds is None else seconds, abs=0.06):
            wrong[fragment] = shown
    assert wrong == {}


def test_an_interval_in_the_address_is_played_to_its_end(opened: Open, html: str) -> None:
    page = opened(html, "#t=1,1.6")
    page.page.get_by_role("button", name="Play").click()
    page.page.wait_for_timeout(1200)
    expect(page.page.get_by_role("button", name="Play", exact=True)).to_be_visible(timeout=SHOWN)
    assert float(page.page.locator("#slider").input_value()) == pytest.approx(1.6, abs=0.06)


def test_search_by_move_square_and_word(opened: Open, html: str) -> None:
    page = opened(html)
    query, found = page.page.locator("#query"), page.page.locator("#found")
    query.fill("Nf3")
    page.until("document.querySelectorAll('#found li').length === 2")
    assert page.text("#found-count") == "2 places found"
    query.fill("a4")
    page.until("document.querySelector('#found b')?.textContent === '4.Ba4'")
    assert "a4." in found.inner_text(), "the word is found, too"
    query.fill("3...a6")
    page.until("document.querySelector('#found b')?.textContent === '3...a6'")
    assert "unsaid" in found.inner_text()
    query.fill("easy ga")
    page.until("document.querySelector('#found mark')?.textContent === 'easy game.'")
    query.press("ArrowDown")
    page.page.keyboard.press("Enter")
    expect(found).to_be_hidden(timeout=SHOWN)
    assert spoken_word(page) == "easy"
    query.fill("zugzwang")
    page.until("document.querySelector('#found').textContent.startsWith('Nothing found')")
    query.fill("0-0")
    query.press("Enter")
    assert page.position.startswith("After 5.O-O")


def test_position_game_and_moment_are_copied(opened: Open, html: str) -> None:
    page = opened(html, permissions=["clipboard-read", "clipboard-write"])
    page.page.locator(f"#move-{index('4.Qxd4')}").click()
    page.page.get_by_role("button", name="Copy FEN").click()
    page.until("document.querySelector('#notice').textContent.includes('copied')")
    fen = page.page.evaluate("navigator.clipboard.readText()")
    assert fen == "rnbqkbnr/ppp2ppp/3p4/8/3QP3/5N2/PPP2PPP/RNB1KB1R b KQkq - 0 4"
    page.page.get_by_role("button", name="Copy PGN").click()
    page.until("document.querySelector('#notice').textContent.startsWith('The game')")
    import io

    game = chess.pgn.read_game(io.StringIO(page.page.evaluate("navigator.clipboard.readText()")))
    assert game is not None and not game.errors and game.end().board().fullmove_number == 5
    page.page.get_by_role("button", name="Copy link").click()
    page.until("document.querySelector('#notice').textContent.startsWith('A link')")
    assert page.page.evaluate("navigator.clipboard.readText()").endswith(f"talk.html#t={time('4.Qxd4'):g}")


def test_an_erratum_stands_where_it_belongs_and_quietly(opened: Open, html: str) -> None:
    page = opened(html)
    assert page.page.locator(".said.wrong").inner_text() == "bishop b4,"
    note = page.page.locator(".paragraph:has(.said.wrong) [role=note]")
    assert "3.Bb5 is meant" in note.inner_text()
    assert page.text("#slip") == ""
    page.page.locator(".said.wrong").click()
    assert "3.Bb5 is meant" in page.text("#slip")
    assert page.position.startswith("After 3.Bb5")


def test_the_picture_leads_to_its_moments(opened: Open, html: str) -> None:
    page = opened(html)
    box = page.page.locator(".track .picture .axis").bounding_box()
    assert box
    page.page.mouse.click(box["x"] + box["width"] / 2, box["y"] - 20)
    assert float(page.page.locator("#slider").input_value()) == pytest.approx(RECORD.recording.seconds / 2, abs=0.3)
    cursor = page.page.locator(".track .picture .cursor").bounding_box()
    assert cursor and cursor["x"] == pytest.approx(box["x"] + box["width"] / 2, abs=4)


def test_a_missing_recording_is_told_and_the_talk_goes_on(opened: Open) -> None:
    page = opened(write_page(RECORD, media=Media("missing.mp3", False, "'self' file:")))
    page.until("document.querySelector('#notice').textContent.includes('cannot be opened')")
    page.page.get_by_role("button", name="Play").click()
    page.until("document.querySelector('#now').textContent === '0:01'")


def test_a_recording_is_played_and_followed(opened: Open, tmp_path: Path) -> None:
    import wave

    with wave.open(str(tmp_path / "talk.wav"), "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(1)
        sound.setframerate(8000)
        sound.writeframes(b"\x80" * int(8000 * RECORD.recording.seconds))
    page = opened(write_page(RECORD, media=Media("talk.wav", False, "'self' file:")))
    page.until("document.querySelector('#media').readyState > 0")
    page.page.locator(".said", has_text="bishop g4").click()
    page.until(f"document.querySelector('#media').currentTime === {time('3...Bg4')}")
    assert page.position.startswith("After 3...Bg4")
    page.page.get_by_role("button", name="Play").click()
    page.until("document.querySelector('#position b').textContent === '3...exd4'")
    page.page.get_by_role("button", name="Pause").click()
    assert page.complaints == []


def test_untrusted_text_stays_text(opened: Open) -> None:
    page = opened(write_page(attacked(), pgn="\n".join(ATTACKS)))
    assert page.page.evaluate("window.stolen") is None
    assert page.complaints == []
    assert page.page.locator("script").count() == 2 and page.page.locator("img").count() == 0
    page.page.locator(".said").first.click()
    page.page.locator("#query").fill("script")
    page.until("document.querySelectorAll('#found li').length > 0")
    assert "</script><script>" in page.text("#found")
    assert page.page.evaluate("window.stolen") is None
    assert not set("\u202e\u2066\x00\x1b\u2028") & set(page.page.locator("body").inner_text())
    words = page.page.evaluate("document.querySelectorAll('.text').length")
    assert words > 0 and page.complaints == []


def test_its_policy_forbids_script_styles_and_network(opened: Open, html: str) -> None:
    page = opened(html)
    page.page.evaluate(
        "() => { const s = document.createElement('script'); try { s.textContent = 'window.stolen = 1'; } catch {}"
        "document.body.append(s); document.body.setAttribute('style', 'color: red');"
        "fetch('https://harbour.example/').catch(() => {}); new Image().src = 'https://harbour.example/a.png'; }"
    )
    page.page.wait_for_timeout(200)
    assert page.page.evaluate("window.stolen") is None
    assert page.page.evaluate("getComputedStyle(document.body).color") != "rgb(255, 0, 0)"
    assert any("Content Security Policy" in complaint for complaint in page.complaints)


def test_a_phone_shows_board_and_words_and_scrolls_only_downward(opened: Open, html: str) -> None:
    page = opened(html, "#t=12", viewport={"width": 390, "height": 844}, has_touch=True)
    assert page.page.evaluate("document.documentElement.scrollWidth") <= 390
    expect(page.page.locator("#board")).to_be_visible(timeout=SHOWN)
    expect(page.page.locator("#words")).to_be_visible(timeout=SHOWN)
    expect(page.page.locator("#moves")).to_be_hidden(timeout=SHOWN)
    page.page.get_by_role("button", name="Moves", exact=True).click()
    expect(page.page.locator("#moves")).to_be_visible(timeout=SHOWN)
    expect(page.page.locator("#words")).to_be_hidden(timeout=SHOWN)
    page.page.get_by_role("button", name="Picture").click()
    expect(page.page.locator(".plate .picture")).to_be_visible(timeout=SHOWN)
    assert page.page.evaluate("document.documentElement.scrollWidth") <= 390


def test_no_motion_where_the_reader_asks_for_none(opened: Open, html: str) -> None:
    duration = "getComputedStyle(document.querySelector('#pieces use')).transitionDuration"
    assert opened(html, reduced_motion="reduce").page.evaluate(duration) == "0s"
    assert opened(html, reduced_motion="no-preference").page.evaluate(duration) != "0s"


def test_without_scripts_the_talk_can_be_read(opened: Open, html: str) -> None:
    page = opened(html, java_script_enabled=False)
    expect(page.page.locator(".transport")).to_be_hidden(timeout=SHOWN)
    expect(page.page.locator(".text").first).to_be_visible(timeout=SHOWN)
    assert page.page.locator("#pieces use").count() == 32


def test_printing_shows_words_moves_and_picture(opened: Open, html: str) -> None:
    page = opened(html)
    page.page.emulate_media(media="print")
    expect(page.page.locator(".plate .picture")).to_be_visible(timeout=SHOWN)
    expect(page.page.locator("#moves")).to_be_visible(timeout=SHOWN)
    expect(page.page.locator(".transport")).to_be_hidden(timeout=SHOWN)


def test_words_are_half_a_second_each() -> None:
    """The talk these tests are about, so that times in them can be read."""
    assert RECORD.words[10].start == 10 * WORD

"""The hand-out as a whole: everything in it once, in order, safe, quick. CommonMark is read by markdown-it-py."""

from __future__ import annotations

import re
import time
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser

import chess
import chess.pgn
import pytest
from hypothesis import given, settings
from invented_records import records
from markdown_it import MarkdownIt
from scripted_records import script, scripted
from test_chapters import MATE, bare_game, long_record

from aligner.notes import notes_html, notes_markdown, take_notes
from aligner.notes.diagram import diagram_svg, diagram_text, spoken_position
from aligner.notes.links import moment_link
from aligner.notes.model import Block, Diagram, Line, Moves, Notes
from aligner.record.model import Record, Recording, SpokenWord
from aligner.record.tree import main_line

NAMES = ("b-historian", "b-locksmith", "b-repertoire", "b-ticker", "b-trainer", "b-two-chairs")
TALKS = scripted(NAMES)
ATTACKS = (
    "<script>alert(1)</script>",
    "</style><img src=x onerror=alert(1)>",
    '"><a href="javascript:alert(1)">x</a>',
    "[x](javascript:alert(1)) ![y](http://evil.invalid/z.png) <http://evil.invalid>",
    "http://evil.invalid/ www.evil.invalid ada@evil.invalid",
    "# heading\n- list\n```\n| a | b |",
    "{{ 7 * 7 }} {% raw %} &lt;b&gt; &#x202e;",
    "\u202eabc\u2066 \x00\x1b[31m",
)


def blocks(notes: Notes) -> Iterator[Block]:
    for section in notes.sections:
        yield from section.blocks


class Page(HTMLParser):
    """What a page consists of."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    handle_startendtag = handle_starttag

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.tags if name == tag]


@pytest.mark.parametrize("name", NAMES)
def test_the_game_stands_there_whole_and_in_order(name: str) -> None:
    record = TALKS[name]
    text = " ".join(block.text for block in blocks(take_notes(record)) if isinstance(block, Moves))
    board = chess.Board(record.games[0].start_fen)
    sans = re.findall(r"(?:O-O(?:-O)?|[KQRBN]?[a-h]?[1-8]?x?[a-h][1-8](?:=[QRBN])?)[+#]?", text)
    for san, node in zip(sans, main_line(record.games[0]), strict=True):
        assert board.push_san(san).uci() == node.uci  # python-chess is the judge of legality


@pytest.mark.parametrize("name", NAMES)
def test_every_line_of_a_sideline_can_be_played(name: str) -> None:
    record = TALKS[name]
    lines = [block for block in blocks(take_notes(record)) if isinstance(block, Line)]
    assert lines
    for block in lines:
        assert re.match(r"\d+\.(?:\.\.)?\S", block.text)
        assert "  " not in block.text and ". " not in block.text


@pytest.mark.parametrize("name", NAMES)
def test_no_filler_sounds_and_every_sentence_is_closed(name: str) -> None:
    text = notes_markdown(take_notes(TALKS[name]))
    assert not re.search(r"\b(?:um|uh|uhm|erm)\b", text, re.IGNORECASE)
    assert "  " not in re.sub(r"```text.*?```", "", text, flags=re.DOTALL)
    assert not re.search(r"[,;] [,;.]|\( | \)|\.\.\.\.", text)
    html = notes_html(take_notes(TALKS[name]))
    paragraphs = re.findall(r"<p(?: class=\"sideline\")?>(.*?)\s*<(?:a|span) class=\"time\"", html, re.DOTALL)
    assert len(paragraphs) > 8
    for paragraph in paragraphs:
        plain = re.sub(r"<[^>]*>", "", paragraph).strip()
        assert plain[-1] in '.?!…)"”'
        assert plain[0].isupper() or plain[0].isdigit() or re.match(r"[a-h][1-8]|\W", plain)


@pytest.mark.parametrize("name", NAMES)
def test_html_is_whole_accessible_and_loads_nothing(name: str) -> None:
    record = TALKS[name]
    notes = take_notes(replace(record, recording=replace(record.recording, url="https://media.invalid/talk.mp3")))
    text = notes_html(notes)
    page = Page(text)
    identities = [attributes["id"] for _, attributes in page.tags if "id" in attributes]
    assert len(identities) == len(set(identities))
    diagrams = [block for block in blocks(notes) if isinstance(block, Diagram)]
    boards = [attributes for attributes in page.all("svg") if attributes.get("role") == "img"]
    assert len(boards) == len(diagrams) >= 1
    for board in boards:
        # WCAG 2.2, 1.1.1: every diagram has its position in words
        assert all(name in identities for name in (board["aria-labelledby"] or "").split())
    assert [attributes["lang"] for attributes in page.all("html")] == ["en"]
    assert len(page.all("h1")) == 1 and page.all("title")
    assert not page.all("script") and not page.all("img") and not page.all("link") and not page.all("iframe")
    assert not any(key.startswith("on") or key == "style" for _, attributes in page.tags for key in attributes)
    used = {attributes["href"].removeprefix("#") for attributes in page.all("use") if attributes["href"]}
    assert used <= set(identities)
    # W3C Media Fragments URI 1.0, 4.2.1: npt seconds
    times = [attributes["href"] for attributes in page.all("a")]
    moment = re.compile(r"https://media\.invalid/talk\.mp3#t=\d+(?:\.\d+)?")
    assert times and all(moment.fullmatch(time or "") for time in times)
    assert "@page" in text and "A4" in text  # CSS Paged Media, 7.1: page size


def test_without_an_address_times_are_text() -> None:
    notes = take_notes(TALKS["b-trainer"])
    assert not Page(notes_html(notes)).all("a")
    assert "](" not in notes_markdown(notes)
    assert "#t=" in notes_markdown(notes, "talk.html")


def dressed(record: Record, attack: str) -> Record:
    """The record with an attack in every text that comes from outside."""
    game = record.games[0]
    first = replace(record.words[0], text=attack)
    headers = {"White": attack, "Black": attack, "Event": attack, "Date": attack, "Result": "1-0"}
    findings = tuple(replace(finding, said=attack, message=attack) for finding in game.findings)
    recording = replace(record.recording, title=attack, captions=attack)
    made = replace(game, headers=headers, findings=findings)
    return replace(record, recording=recording, words=(first, *record.words[1:]), games=(made,))


@pytest.mark.parametrize("attack", ATTACKS)
def test_text_from_outside_stays_text(attack: str) -> None:
    record = dressed(TALKS["b-two-chairs"], attack)
    assert record.games[0].findings
    notes = take_notes(record)
    usual = take_notes(dressed(TALKS["b-two-chairs"], "word"))
    page, plain = Page(notes_html(notes)), Page(notes_html(usual))
    assert [tag for tag, _ in page.tags] == [tag for tag, _ in plain.tags]
    text = notes_markdown(notes)
    reader = MarkdownIt("gfm-like", {"html": True, "linkify": False})
    tokens = reader.parse(text)
    assert [token.type for token in tokens] == [token.type for token in reader.parse(notes_markdown(usual))]
    inline = [child for token in tokens for child in token.children or ()]
    assert not any(child.type in ("link_open", "image", "html_inline") for child in inline)
    for sign in "\u202e\u2066\x00\x1b":
        assert sign not in text and sign not in notes_html(notes)


@pytest.mark.parametrize("url", ["javascript:alert(1)", "data:text/html,x", "vbscript:x", " ", "", "http://[bad"])
def test_addresses_that_run_something_make_no_link(url: str) -> None:
    assert moment_link(url, 3.0) is None


@pytest.mark.parametrize(
    ("url", "seconds", "link"),
    [
        ("talk.html", 271.2, "talk.html#t=271.2"),
        ("https://media.invalid/a.mp3?x=1#t=9", 0.0, "https://media.invalid/a.mp3?x=1#t=0"),
        ("a b.mp3", 3725.0, "a%20b.mp3#t=3725"),
        ("talk.html", 12.3456, "talk.html#t=12.346"),
        ('x">y', 1.0, "x%22%3Ey#t=1"),
    ],
)
def test_moments_are_media_fragments(url: str, seconds: float, link: str) -> None:
    assert moment_link(url, seconds) == link


def test_diagrams_show_the_position() -> None:
    fen = "8/8/6r1/8/k7/4PK2/1p6/5R2 w - - 0 1"
    drawn = ElementTree.fromstring(diagram_svg(fen, "A &amp; B", "d1"))
    uses = ((use.get("href"), int(use.get("x", 0)), int(use.get("y", 0))) for use in drawn.iter("use"))
    pieces = {(shape, x // 45, 7 - y // 45) for shape, x, y in uses}
    board = chess.Board(fen)
    expected = {
        (
            f"#shape-{'white' if piece.color else 'black'}-{chess.piece_name(piece.piece_type)}",
            chess.square_file(square),
            chess.square_rank(square),
        )
        for square, piece in board.piece_map().items()
    }
    assert pieces == expected
    assert spoken_position(board) == "White: Kf3, Rf1, pawn e3. Black: Ka4, Rg6, pawn b2. White to move."
    rows = [line[3:].split() for line in diagram_text(fen).splitlines()[:8]]
    assert rows == [row.split() for row in str(board).splitlines()]


def test_an_endgame_begins_with_its_position() -> None:
    fen = "8/8/6r1/8/k7/4PK2/1p6/5R2 w - - 0 1"
    notes = take_notes(script("We begin with {Ke4|king e4} and {Ra6|rook a6}.", "1. Ke4 Ra6", fen=fen))
    first = next(blocks(notes))
    assert isinstance(first, Diagram) and first.fen == fen and first.caption == "Rook endgame, White to move"


def test_what_the_talk_leaves_out_of_the_game_is_there_with_the_result() -> None:
    notes = take_notes(script("White plays {e4|e4}.", "1. e4 e5 2. Nf3", result="1/2-1/2"))
    moves = [block for block in blocks(notes) if isinstance(block, Moves)]
    assert [block.text for block in moves] == ["1.e4", "1...e5 2.Nf3 ½\u2013½"]
    assert notes.errata == () and "Errata" not in notes_html(notes)


def test_tiny_and_empty_talks() -> None:
    silent = Record(Recording("x.vtt", None, None, 4.0, 1), (bare_game(),), (SpokenWord("hello", 0.0, 4.0),))
    assert notes_markdown(take_notes(silent)) == "# x\n\n## The talk (0:00)\n\nHello. (0:00)\n"
    filler = replace(silent, words=(SpokenWord("um", 0.0, 4.0),))
    assert notes_markdown(take_notes(filler)) == "# x\n"
    nothing = Record(Recording("x.vtt", None, None, 0.0, 0), (bare_game(),), ())
    assert notes_markdown(take_notes(nothing)) == "# x\n"


def test_a_record_without_words_gives_its_comments() -> None:
    record = script(MATE, "1. e4 e5 2. Qh5 Nc6 3. Bc4 Nf6 4. Qxf7#", result="1-0")
    game = record.games[0]
    nodes = tuple(replace(node, comment="Well played.") if node.san == "Bc4" else node for node in game.nodes)
    text = notes_markdown(take_notes(replace(record, words=(), games=(replace(game, nodes=nodes),))))
    assert "Well played. (" in text and "**1.e4 e5 2.Qh5 Nc6 3.Bc4**" in text and "Nf6 4.Qxf7\\#" in text


@pytest.mark.parametrize(("times", "limit"), [(4, 0.5), (36, 8.0)])
def test_speed(times: int, limit: float) -> None:
    # twenty minutes, and three hours, without punctuation
    record = long_record("b-ticker", times)
    notes_html(take_notes(TALKS["b-ticker"]))  # tables and templates are read once
    began = time.process_time()
    notes_html(take_notes(record))
    assert time.process_time() - began < limit


@settings(max_examples=25, deadline=None)
@given(records())
def test_any_record_gives_notes(record: Record) -> None:
    notes = take_notes(record)
    notes_markdown(notes)
    Page(notes_html(notes))

"""The page as a file: markup that parses, nothing lost, nothing broken out of; its parts one by one."""

from __future__ import annotations

import base64
import hashlib
import io
import json
import re
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import chess
import chess.pgn
import pytest
from hypothesis import HealthCheck, given, settings
from invented_talk import attacked, talk

from aligner.errors import InputError
from aligner.page.assets import script
from aligner.page.lines import lines
from aligner.page.media import Media, media, recorded
from aligner.page.page import write_page
from aligner.page.picture import write_picture
from aligner.page.pieces import piece_symbols
from aligner.page.places import course
from aligner.page.text import embedded_json, fragment, printable, word_text
from aligner.pgn.writer import write_pgn
from aligner.record.model import Record
from tests.record.invented_records import records

VOID = {"meta", "link", "input", "br"}


class Reader(HTMLParser):
    """Collects elements and complains of what does not nest."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.scripts: list[str] = []
        self.styles: list[str] = []
        self.texts: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)
        if tag == "p" and dict(attrs).get("class") == "text":
            self.texts.append("")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open[-1:] == ["script"]:
            self.scripts.append(data)
        elif self.open[-1:] == ["style"]:
            self.styles.append(data)
        elif self.texts and "p" in self.open and not data.startswith("†") and self._in_text():
            self.texts[-1] += data

    def _in_text(self) -> bool:
        classes = [attributes.get("class") for tag, attributes in self.found if tag == "p"]
        return bool(classes) and classes[-1] == "text"


def read(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    reader.close()
    assert reader.open == []
    return reader


def test_the_page_parses_and_its_ids_are_unique() -> None:
    reader = read(write_page(talk()))
    ids = [attributes["id"] for _, attributes in reader.found if "id" in attributes]
    assert len(ids) == len(set(ids))
    references = [
        attributes[name]
        for _, attributes in reader.found
        for name in ("aria-labelledby", "aria-describedby", "aria-controls", "for")
        if name in attributes
    ]
    assert set(references) <= set(ids)


def test_its_policy_names_what_stands_in_it() -> None:
    """Content Security Policy, level 3: a hash source is the base64 of the SHA-256 of the element's text."""
    reader = read(write_page(talk()))
    policy = next(a["content"] for tag, a in reader.found if tag == "meta" and "http-equiv" in a) or ""
    rules = dict(rule.split(" ", 1) for rule in policy.split("; "))
    assert rules["default-src"] == "'none'"
    for text, rule in ((reader.styles[0], "style-src"), (reader.scripts[1], "script-src")):
        assert rules[rule] == f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
    assert "media-src" not in rules
    assert "unsafe" not in policy and "*" not in policy


def test_the_page_holds_no_style_or_event_attribute_and_asks_for_nothing() -> None:
    for _, attributes in read(write_page(attacked())).found:
        assert not [name for name in attributes if name == "style" or name.startswith("on")]
        address = attributes.get("src") or attributes.get("href") or "#"
        assert address.startswith(("#", "data:"))


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(records())
def test_any_record_becomes_a_page_that_holds_all_its_words_and_moves(record: Record) -> None:
    html = write_page(record, pgn="}</script>")
    reader = read(html)
    shown = [word for text in reader.texts for word in text.split(" ")]
    assert shown == [word_text(word.text) for word in record.words]
    data = json.loads(reader.scripts[0])
    assert data["pgn"] == "}</script>"
    links = [attributes for tag, attributes in reader.found if tag == "a"]
    moves = [link["id"] for link in links if "move" in (link.get("class") or "").split()]
    assert len(moves) == len(set(moves)) == sum(len(game.nodes) - 1 for game in record.games)
    assert len(reader.scripts) == 2
    ElementTree.fromstring(write_picture(record, "https://harbour.example/talk"))


def test_the_lines_come_in_the_order_of_a_pgn() -> None:
    """Reference: the moves of python-chess's export of the same tree."""
    record = talk()
    whole = course(record)
    printed = [whole.places[move.place].node.san for line in lines(whole.places, 0) for move in line.moves]
    game = chess.pgn.read_game(io.StringIO(write_pgn(record)))
    assert game is not None
    exported = game.accept(chess.pgn.StringExporter(headers=False, comments=False))
    bare = re.sub(r"\d+\.+|[()]|\$\d+|1-0", " ", exported).split()
    assert printed == bare


def test_move_numbers_are_those_of_the_standard() -> None:
    """PGN standard, 8.2.2.2, for a game that begins with Black's move 12."""
    record = talk()
    whole = course(record)
    numbers = [(line.depth, [move.number for move in line.moves]) for line in lines(whole.places, 0)]
    assert numbers[0] == (0, ["1.", "", "2.", ""])
    assert numbers[1] == (1, ["2...", "3.", ""])
    assert numbers[2] == (2, ["3...", "4."])
    assert numbers[3] == (3, ["4."])
    assert numbers[4] == (0, ["3.", "", "4.", "", "5."])


def test_pieces_need_no_style_attribute_and_there_are_twelve() -> None:
    root = ElementTree.fromstring(f"<svg>{piece_symbols()}</svg>")
    assert len(root) == 12
    assert not [element for element in root.iter() if "style" in element.attrib]
    assert len([element for element in root.iter() if "id" in element.attrib]) == 12


@pytest.mark.parametrize("text", ["</script>", "<!--", "<script>", "\u2028", "\x00", "\ud800", "&amp;", "]]>"])
def test_embedded_json_is_ascii_without_markup_and_reads_back(text: str) -> None:
    """HTML standard, 4.12.1.3: restrictions for the contents of script elements."""
    written = embedded_json({"text": text})
    assert written.isascii() and not set("<>&\u2028") & set(written)
    assert json.loads(written) == {"text": text}


def test_text_loses_what_steers() -> None:
    assert printable("a\u202eb\x00c\u2066 d\n\ne") == "ab c d e"
    assert word_text("\u200e") == "\ufffd" and word_text("two words") == "two\xa0words"


@pytest.mark.parametrize(
    ("milliseconds", "text"), [(0, "t=0"), (271200, "t=271.2"), (1, "t=0.001"), (60000, "t=60"), (100, "t=0.1")]
)
def test_fragments(milliseconds: int, text: str) -> None:
    """W3C Media Fragments URI 1.0, 4.2.1: seconds with an optional fraction."""
    assert fragment(milliseconds) == text


def test_modules_share_no_names_and_need_nothing_from_outside() -> None:
    text = script("main")
    assert not re.search(r"^\s*(?:import|export)\b", text, re.MULTILINE)
    assert "</script" not in text.lower() and "<!--" not in text
    names = re.findall(r"^(?:async )?(?:function|const|class|let) (\w+)", text, re.MULTILINE)
    assert len(names) == len(set(names))
    for forbidden in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "http:", "https:"):
        assert forbidden not in text.replace("http://www.w3.org/2000/svg", "")


class TestMedia:
    def test_a_file_is_named_from_the_page(self) -> None:
        assert media("sounds/talk #1.mp3", Path("out/talk.html")).address == "../sounds/talk%20%231.mp3"
        assert media("talk.mp4", Path("talk.html")) == Media("talk.mp4", True, "'self' file:")

    @pytest.mark.parametrize(
        ("address", "source"),
        [
            ("https://harbour.example/talk.mp3?key=1#t=2", "https://harbour.example/talk.mp3"),
            ("https://harbour.example", "https://harbour.example/"),
            ("HTTPS://harbour.example:8443/a;b,c 'x'.mp4", "https://harbour.example:8443/a%3Bb%2Cc%20%27x%27.mp4"),
        ],
    )
    def test_the_policy_allows_one_address(self, address: str, source: str) -> None:
        """Content Security Policy, level 3, 2.3.1: a source holds no query, and no ";" or "," unless escaped."""
        assert media(address, Path("talk.html")).source == source

    @pytest.mark.parametrize(
        "address",
        [
            "javascript:alert(1)",
            "data:audio/mp3,x",
            "ftp://harbour.example/a.mp3",
            "https://",
            "https://a b/",
            "https://[::1",
            "https://harbour.example;script-src *",
            "https://u@harbour.example/a.mp3",
        ],
    )
    def test_other_addresses_are_refused_in_a_sentence(self, address: str) -> None:
        with pytest.raises(InputError, match=r"recording|address"):
            media(address, Path("talk.html"))

    def test_a_record_s_address_is_played_only_where_it_is_a_recording(self) -> None:
        assert recorded("https://harbour.example/talks/7") is None
        assert recorded("talk.mp3") is None and recorded(None) is None
        found = recorded("https://harbour.example/talk.mp3")
        assert found is not None and not found.film


class TestPicture:
    def test_it_is_a_drawing_without_script(self) -> None:
        root = ElementTree.fromstring(write_picture(attacked()))
        names = {element.tag.split("}")[1] for element in root.iter()}
        assert names <= {"svg", "title", "desc", "style", "rect", "g", "path", "text"}
        assert not [key for element in root.iter() for key in element.attrib if key.startswith("on") or key == "href"]

    def test_its_parts_lead_to_their_moments(self) -> None:
        root = ElementTree.fromstring(write_picture(talk(), "https://harbour.example/talk"))
        links = [element.attrib["href"] for element in root.iter() if element.tag.endswith("}a")]
        assert links[0] == "https://harbour.example/talk#t=0"
        moments = {f"https://harbour.example/talk#{fragment(moment.time)}" for moment in course(talk()).moments}
        assert moments <= set(links)

    def test_it_says_in_words_what_it_shows(self) -> None:
        text = ElementTree.fromstring(write_picture(talk())).attrib["aria-label"]
        assert "5 moves" in text and "in sidelines" in text

"""The web page and its JSON interface: the same answers, read-only, safe against hostile text and hosts."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from dataclasses import asdict, replace
from pathlib import Path

import jsonschema
import pytest
from starlette.testclient import TestClient

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "measure"))
from archive import invented_record

from aligner.catalogue.find import find
from aligner.catalogue.listing import to_csv, to_json, to_page, to_table
from aligner.catalogue.question import ask
from aligner.catalogue.store import Catalogue, open_catalogue
from aligner.serve.application import application
from aligner.serve.description import openapi

HOSTILE = '<script>alert("x")</script>&\'"'


@pytest.fixture(scope="module")
def catalogue(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Catalogue]:
    with open_catalogue(str(tmp_path_factory.mktemp("serve") / "catalogue.sqlite"), make=True) as made:
        for seed in range(3):
            record = invented_record(seed, 80)
            headers = {**record.games[0].headers, "Event": HOSTILE}
            words = tuple(
                replace(word, text=HOSTILE) if number % 50 == 0 else word for number, word in enumerate(record.words)
            )
            recording = replace(
                record.recording, title=HOSTILE, url="javascript:alert(1)" if seed else "https://r.example/a"
            )
            made.add(
                replace(record, recording=recording, games=(replace(record.games[0], headers=headers),), words=words),
                str(seed),
            )
        yield made


@pytest.fixture
def client(catalogue: Catalogue) -> Iterator[TestClient]:
    with TestClient(application(catalogue), base_url="http://localhost:8765", raise_server_exceptions=False) as made:
        yield made


def test_the_interface_gives_what_the_library_gives(client: TestClient, catalogue: Catalogue) -> None:
    for conditions in ({"move": "e4"}, {"partial": "no queens"}, {"words": "the"}, {"after": "e4", "kind": "game"},
                       {"player": "a", "confidence": "0.9"}):  # fmt: skip
        answer = client.get("/api/find", params=conditions)
        assert answer.status_code == 200
        asked: dict[str, object] = dict(conditions)
        for name in ("player", "kind"):
            if name in asked:
                asked[name] = [asked[name]]
        if "confidence" in asked:
            asked["confidence"] = 0.9
        expected = [asdict(one) for one in find(catalogue, ask(**asked))]  # type: ignore[arg-type]
        assert expected, "where nothing is found, the interface gives what comes nearest"
        assert answer.json()["answers"] == json.loads(json.dumps(expected))


def test_answers_are_as_they_are_described(client: TestClient) -> None:
    described = client.get("/openapi.json").json()
    assert described == openapi() and described["openapi"].startswith("3.1")
    for path, params in (
        ("/api/find", {"move": "e4"}),
        ("/api/find", {"words": "zzz"}),
        ("/api/talks", {}),
        ("/api/summary", {}),
    ):
        answer = client.get(path, params=params)
        schema = described["paths"][path]["get"]["responses"]["200"]["content"]["application/json"]["schema"]
        jsonschema.Draft202012Validator({**schema, "components": described["components"]}).validate(answer.json())
    names = {parameter["name"] for parameter in described["paths"]["/api/find"]["get"]["parameters"]}
    assert {"move", "fen", "after", "partial", "words", "kind", "confidence", "limit"} <= names


def test_the_page_shows_answers_and_escapes_everything(client: TestClient) -> None:
    page = client.get("/", params={"words": f"the {HOSTILE}"})
    assert "<script" not in page.text
    page = client.get("/", params={"move": "e4"})
    assert page.status_code == 200 and "<svg" in page.text and "e4" in page.text
    assert "<script" not in page.text and "javascript:" not in page.text
    assert "https://r.example/a#t=" in page.text


@pytest.mark.parametrize(
    "path", ["/", "/api/find?move=e4", "/api/talks", "/style.css", "/openapi.json", "/none", "/api/find"]
)
def test_safety_headers_are_on_every_answer(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    assert "default-src 'none'" in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert "server" not in headers


@pytest.mark.parametrize("host", ["evil.example", "localhost.evil.example", "127.0.0.1.evil.example"])
def test_other_hosts_are_refused(client: TestClient, host: str) -> None:
    assert client.get("/api/talks", headers={"host": host}).status_code == 400


@pytest.mark.parametrize("method", ["post", "put", "delete", "patch"])
def test_nothing_can_be_written(client: TestClient, method: str) -> None:
    assert client.request(method, "/api/talks").status_code == 405


@pytest.mark.parametrize(
    ("params", "words"),
    [
        ({}, "nothing is asked"),
        ({"move": "xyzzy"}, "tells no move"),
        ({"nonsense": "1"}, "no condition"),
        ({"limit": "nan", "move": "e4"}, "no number"),
        ({"limit": "100000", "move": "e4"}, "1 to"),
        ({"fen": "x"}, "FEN"),
        ({"since": "yesterday"}, "no date"),
        ({"kind": "joke"}, "no kind"),
        ({"words": "w " * 5000}, "too long"),
    ],
)
def test_a_question_that_is_none_is_told_what_is(client: TestClient, params: dict[str, str], words: str) -> None:
    answer = client.get("/api/find", params=params)
    assert answer.status_code == 400
    assert words in answer.json()["error"] and answer.json()["error"].endswith(".")


def test_a_catalogue_that_breaks_tells_nobody_where_it_is(tmp_path: Path) -> None:
    path = tmp_path / "secret-place.sqlite"
    with open_catalogue(str(path), make=True) as broken:
        broken.add(invented_record(1, 20), "one")
        app = application(broken)
        broken.engine.dispose()
        for file in tmp_path.iterdir():
            file.unlink()
        path.write_bytes(b"rubbish" * 4000)
        with TestClient(app, base_url="http://localhost") as client:
            for where in ("/api/find?move=e4", "/?move=e4", "/api/talks"):
                answer = client.get(where)
                assert answer.status_code == 503 and "secret" not in answer.text


def test_listings(catalogue: Catalogue) -> None:
    moments = find(catalogue, ask(move="e4", limit=3))
    assert json.loads(to_json(moments))["answers"][0]["move"].endswith("e4")
    table = to_table(moments)
    assert all(ord(sign) >= 32 or sign == "\n" for sign in table)
    page = to_page(moments, "Moments")
    assert "<script" not in page and "style-src 'sha256-" in page and page.count("<li>") == 3
    formula = replace(moments[0], said="=HYPERLINK(1)", title="+1")
    lines = to_csv([formula]).splitlines()
    assert "'=HYPERLINK(1)" in lines[1] and "'+1" in lines[1]

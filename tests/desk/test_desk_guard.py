"""Attacks on the desk are turned away (RFC 9110 for Host, methods and ranges; RFC 6454 for Origin; CSP Level 3)."""

from __future__ import annotations

import http.client
import json
import socket
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from opened_desk import Server, eventually

OTHER_FILES = (
    "secret.txt", "../secret.txt", "..%2fsecret.txt", "%2e%2e/secret.txt", "media/../secret.txt", "//etc/passwd",
    "..\\secret.txt", "media%00.txt",
)  # fmt: skip
MEDIA = bytes(range(256)) * 40


@pytest.fixture
def desk(server: Callable[..., Server], captions: Path) -> Server:
    recording = captions.with_suffix(".mp3")
    recording.write_bytes(MEDIA)
    (captions.parent / "secret.txt").write_text("not yours", encoding="utf-8")
    return server("--media", str(recording))


def ask(
    desk: Server, path: str = "", method: str = "GET", body: bytes = b"", whole: str | None = None, **headers: str
) -> http.client.HTTPResponse:
    """One request; `path` is added to the desk's address, `whole` replaces it."""
    parts = urlsplit(desk.address)
    connection = http.client.HTTPConnection(parts.hostname or "", parts.port or 0, timeout=20)
    connection.putrequest(method, whole if whole is not None else parts.path + path, skip_host="Host" in headers)
    if body or method == "POST":
        headers.setdefault("Content_Length", str(len(body)))
    for name, value in headers.items():
        connection.putheader(name.replace("_", "-"), value)
    connection.endheaders(body if body else None)
    return connection.getresponse()


def post(desk: Server, path: str, data: object = None, **headers: str) -> http.client.HTTPResponse:
    parts = urlsplit(desk.address)
    usual = {"Origin": f"http://{parts.netloc}", "Content_Type": "application/json"}
    return ask(desk, path, "POST", json.dumps(data or {}).encode(), **{**usual, **headers})


def test_attacks_are_turned_away(desk: Server) -> None:
    parts = urlsplit(desk.address)
    # the address itself
    assert ask(desk, whole="/").status == 404
    assert ask(desk, whole="/wrong-token/state").status == 404
    assert ask(desk, whole=parts.path[:-2] + "/state").status == 404
    assert ask(desk, whole=parts.path.rstrip("/")).status == 404
    # another name for this machine, as after DNS rebinding
    assert ask(desk, "state", Host="evil.example").status == 421
    assert ask(desk, "state", Host=f"evil.example:{parts.port}").status == 421
    assert ask(desk, "state", Host="127.0.0.1").status == 421
    assert ask(desk, "state", Host=f"localhost:{parts.port}").status == 200
    # another page
    assert ask(desk, "state", Origin="http://evil.example").status == 403
    assert ask(desk, "state", Origin="null").status == 403
    assert ask(desk, "state", Sec_Fetch_Site="cross-site").status == 403
    assert post(desk, "undo", Origin="http://evil.example").status == 403
    assert post(desk, "undo", Origin="null").status == 403
    assert ask(desk, "undo", "POST", b"{}", Content_Type="application/json").status == 403
    assert post(desk, "undo", Content_Type="text/plain").status == 415
    assert post(desk, "undo", Content_Type="application/x-www-form-urlencoded").status == 415
    # other ways to ask
    for method in ("PUT", "DELETE", "OPTIONS", "TRACE", "PATCH"):
        assert ask(desk, "state", method).status == 405
    assert ask(desk, "undo").status == 404
    # other files
    for path in (*OTHER_FILES, "evening.vtt", "static/desk.js", "desk.html"):
        response = ask(desk, path)
        assert response.status == 404 and b"not yours" not in response.read(), path
    # too much
    assert ask(desk, f"state?version={'x' * 5000}").status in (400, 414)
    assert post(desk, "decide", {"words": "x" * 70_000}).status == 413
    assert ask(desk, "decide", "POST", Origin=f"http://{parts.netloc}", Content_Type="application/json",
               Content_Length="99999999999").status == 413  # fmt: skip
    # what is no decision
    for data in ([], {"first": 0}, {"first": -1, "past": 3, "decision": "no move"}, {"first": 0, "past": 10**9},
                 {"first": 0, "past": 2, "decision": "rm -rf"}, {"first": 0, "past": 2, "decision": "move"},
                 {"first": 0, "past": 2, "decision": "move", "line": ["Ke5"], "in_game": True},
                 {"first": 0, "past": 2, "decision": "move", "line": [["e4"]], "in_game": True},
                 {"first": True, "past": 2, "decision": "no move"}):  # fmt: skip
        response = post(desk, "decide", data)
        assert response.status == 400 and "fault" in json.loads(response.read()), data
    assert ask(desk, "decide", "POST", b"[" * 60_000, Origin=f"http://{parts.netloc}",
               Content_Type="application/json").status == 400  # fmt: skip
    assert ask(desk, "board.svg?fen=%3Cscript%3E").status == 400
    assert not desk.captions.with_name("evening.settled.toml").exists()


def test_a_body_in_chunks_cannot_be_longer_than_allowed(desk: Server) -> None:
    parts = urlsplit(desk.address)
    with socket.create_connection((parts.hostname or "", parts.port or 0), timeout=20) as connection:
        head = (
            f"POST {parts.path}decide HTTP/1.1\r\nHost: {parts.netloc}\r\nOrigin: http://{parts.netloc}\r\n"
            "Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n"
        )
        connection.sendall(head.encode())
        chunk = b"4000\r\n" + b"x" * 0x4000 + b"\r\n"
        try:
            for _ in range(6):
                connection.sendall(chunk)
            answer = connection.recv(200)
        except OSError:
            return  # the desk hung up, which is as good
        assert b" 413 " in answer


def test_every_answer_carries_the_policy(desk: Server) -> None:
    for response in (ask(desk), ask(desk, "desk.js"), ask(desk, "state"), ask(desk, whole="/")):
        policy = response.getheader("Content-Security-Policy") or ""
        assert "default-src 'none'" in policy and "script-src 'self'" in policy and "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert response.getheader("X-Content-Type-Options") == "nosniff"
        assert response.getheader("Referrer-Policy") == "no-referrer"
        assert response.getheader("Access-Control-Allow-Origin") is None


def test_it_listens_on_loopback_only(desk: Server) -> None:
    port = urlsplit(desk.address).port or 0
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # TEST-NET-1 of RFC 5737: nothing is sent, it only tells our own address
        except OSError:
            pytest.skip("this machine has no other address")
        own = probe.getsockname()[0]
    if own.startswith("127."):
        pytest.skip("this machine has no other address")
    with pytest.raises(OSError), socket.create_connection((own, port), timeout=2):
        pass


def test_the_recording_is_sent_in_ranges(desk: Server) -> None:
    whole = ask(desk, "media")
    assert whole.status == 200 and whole.read() == MEDIA and whole.getheader("Accept-Ranges") == "bytes"
    # RFC 9110, section 14: first and last byte are inclusive, and a suffix counts from the end
    part = ask(desk, "media", Range="bytes=256-511")
    assert part.status == 206 and part.read() == MEDIA[256:512]
    assert part.getheader("Content-Range") == f"bytes 256-511/{len(MEDIA)}"
    assert ask(desk, "media", Range="bytes=-100").read() == MEDIA[-100:]
    assert ask(desk, "media", Range=f"bytes={len(MEDIA)}-").status == 416
    assert ask(desk, "media", "HEAD").getheader("Content-Length") == str(len(MEDIA))


def test_it_ends_when_asked(desk: Server) -> None:
    assert post(desk, "stop").status == 200
    assert desk.ended() == 0
    eventually(lambda: desk.process is not None and desk.process.poll() is not None)

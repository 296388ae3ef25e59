"""What stands between the network and the desk: address, host, origin, size and kind of every request.

The desk answers only who knows its unguessable address, from this machine, from its own page. A page of another site
that sends requests here is turned away by Host and Origin (RFC 9110, section 7.2; RFC 6454), and what the desk sends
may run no foreign script (Content Security Policy Level 3).
"""

from __future__ import annotations

import hmac
import secrets

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LARGEST_BODY = 64 * 1024
"""Bytes of a request's body."""
LONGEST_QUERY = 4 * 1024
"""Bytes of a request's path and query."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; media-src 'self'; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-store",
}
_KNOWN_METHODS = ("GET", "HEAD", "POST")


def new_token() -> str:
    """A token of 256 random bits for the desk's address."""
    return secrets.token_urlsafe(32)


class Guard:
    """Lets through what the desk's own page sends, and nothing else.

    Args:
        app: what answers.
        token: first part of every path.
        port: on which the desk listens.
    """

    def __init__(self, app: ASGIApp, token: str, port: int) -> None:
        self.app = app
        self.token = token
        self.hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        self.origins = {f"http://{host}" for host in self.hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return

        async def sealed(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers[name] = value
            await send(message)

        refused = self.refuse(scope)
        if refused is not None:
            status, sentence = refused
            await PlainTextResponse(f"{sentence}\n", status, {"Connection": "close"})(scope, receive, sealed)
            return
        body = await _body(receive) if scope["method"] == "POST" else b""
        if body is None:
            await PlainTextResponse("The request is too large.\n", 413, {"Connection": "close"})(scope, receive, sealed)
            return
        given = iter([{"type": "http.request", "body": body, "more_body": False}])

        async def replay() -> Message:
            message = next(given, None)
            return message if message is not None else await receive()

        path = scope["path"][len(self.token) + 1 :]
        await self.app({**scope, "path": path, "raw_path": path.encode(), "root_path": ""}, replay, sealed)

    def refuse(self, scope: Scope) -> tuple[int, str] | None:
        """Why a request is turned away: status and sentence; None where it may come in."""
        headers = Headers(scope=scope)
        if len(scope.get("raw_path") or b"") + len(scope.get("query_string") or b"") > LONGEST_QUERY:
            return 414, "The address is too long."
        if headers.getlist("host") not in [[host] for host in self.hosts]:
            return 421, "This desk is for its own machine only."
        if not self._knows(scope["path"]):
            return 404, "There is nothing here."
        if scope["method"] not in _KNOWN_METHODS:
            return 405, "This is no way to ask."
        origins = headers.getlist("origin")
        if any(origin not in self.origins for origin in origins) or len(origins) > 1:
            return 403, "Another page may not ask for this."
        if headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return 403, "Another page may not ask for this."
        if scope["method"] == "POST":
            if not origins:
                return 403, "A decision must come from the desk's own page."
            if headers.get("content-type", "").split(";")[0].strip().lower() != "application/json":
                return 415, "A decision is sent as JSON."
            length = headers.get("content-length", "")
            if length and (not length.isascii() or not length.isdigit() or int(length[:9]) > LARGEST_BODY):
                return 413, "The request is too large."
        return None

    def _knows(self, path: str) -> bool:
        first, _, rest = path.removeprefix("/").partition("/")
        known = hmac.compare_digest(first.encode("utf-8", "surrogateescape"), self.token.encode())
        return known and path.startswith(f"/{self.token}/") and ".." not in rest


async def _body(receive: Receive) -> bytes | None:
    """The body, None where it is larger than any request of the page."""
    parts: list[bytes] = []
    size = 0
    while True:
        message = await receive()
        if message["type"] != "http.request":
            return b"".join(parts)
        size += len(message.get("body", b""))
        if size > LARGEST_BODY:
            return None
        parts.append(message.get("body", b""))
        if not message.get("more_body", False):
            return b"".join(parts)

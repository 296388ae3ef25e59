"""The web application: searching a catalogue, reading only.

Nothing is written, no script runs on the page, and only the host names it was started for are answered, so that a
page elsewhere cannot reach it through a name of its own (DNS rebinding).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from functools import partial
from math import isfinite, nan
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from aligner.catalogue.answers import Moment
from aligner.catalogue.faults import CatalogueError
from aligner.catalogue.find import find
from aligner.catalogue.listing import environment, plain, style
from aligner.catalogue.nearest import nearest
from aligner.catalogue.question import WHAT, ask
from aligner.catalogue.store import Catalogue
from aligner.catalogue.summary import summarise
from aligner.errors import AlignerError, InputError
from aligner.serve.description import PARAMETERS, openapi

_POLICY = "default-src 'none'; style-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
_HEADERS = (
    (b"content-security-policy", _POLICY.encode("ascii")),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cache-control", b"no-store"),
)
_LONGEST_QUERY = 8000
_LABELS = {"fen": "Position (FEN)", "after": "After the moves", "partial": "Part of a position"}
LOOPBACK = ("localhost", "127.0.0.1", "[::1]")


def application(catalogue: Catalogue, hosts: Sequence[str] = LOOPBACK) -> Starlette:
    """The application for an open catalogue.

    Args:
        catalogue: to search.
        hosts: names under which it may be called, without ports.
    """
    routes = [
        Route("/", partial(_page, catalogue), methods=["GET"]),
        Route("/style.css", _style, methods=["GET"]),
        Route("/openapi.json", _openapi, methods=["GET"]),
        Route("/api/find", partial(_find, catalogue), methods=["GET"]),
        Route("/api/talks", partial(_talks, catalogue), methods=["GET"]),
        Route("/api/summary", partial(_summary, catalogue), methods=["GET"]),
    ]
    return Starlette(
        routes=routes,
        middleware=[
            Middleware(_Guard),
            Middleware(TrustedHostMiddleware, allowed_hosts=list(hosts), www_redirect=False),
        ],
        exception_handlers={404: _missing, 405: _reading_only, 500: _broken},
    )


class _Guard:
    """Adds the safety headers to every answer, and refuses questions that are too long."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message.get("headers", ()), *_HEADERS]
            await send(message)

        if len(scope.get("query_string", b"")) > _LONGEST_QUERY:
            refusal = JSONResponse({"error": "the question is too long; ask with fewer words."}, 400)
            await refusal(scope, receive, guarded)
            return
        await self.app(scope, receive, guarded)


def _answers(catalogue: Catalogue, request: Request) -> tuple[tuple[Moment, ...], str]:
    """The answers to the question in a request, and how near they come where there are none."""
    values = request.query_params
    allowed = {name for name, _, _ in PARAMETERS} | {"kind", "confidence", "limit"}
    unknown = sorted(set(values) - allowed)
    if unknown:
        raise InputError(f"there is no condition {unknown[0][:40]!r}; there are {', '.join(sorted(allowed))}.")
    texts: dict[str, Any] = {
        name: values[name] for name, _, _ in PARAMETERS if name != "player" and values.get(name, "").strip()
    }
    question = ask(
        **texts,
        player=[name for name in values.getlist("player") if name.strip()],
        kind=[kind for kind in values.getlist("kind") if kind],
        confidence=_number(values.get("confidence"), "confidence", 0.0),
        limit=int(_number(values.get("limit"), "limit", 20)),
    )
    found = find(catalogue, question)
    if found:
        return found, ""
    near = nearest(catalogue, question)
    return near.answers, f"Nothing was found: {near.sentence}"


def _number(text: str | None, name: str, default: float) -> float:
    if not text:
        return default
    try:
        number = float(text)
    except ValueError:
        number = nan
    if not isfinite(number):
        raise InputError(f"{text[:40]!r} is no number.", name)
    return number


async def _told(work: Callable[[], Response]) -> Response:
    """The response, or the sentence that says why there is none."""
    try:
        return await run_in_threadpool(work)
    except CatalogueError:
        # the sentence names the catalogue's place, which is nobody's business here
        return JSONResponse({"error": "the catalogue cannot be read; ask whoever runs this page."}, 503)
    except AlignerError as error:
        return JSONResponse({"error": str(error)}, 400)


async def _find(catalogue: Catalogue, request: Request) -> Response:
    def work() -> Response:
        moments, sentence = _answers(catalogue, request)
        return JSONResponse({"nearest": sentence, "answers": [plain(moment) for moment in moments]})

    return await _told(work)


async def _talks(catalogue: Catalogue, request: Request) -> Response:
    return await _told(lambda: JSONResponse([dataclasses.asdict(talk) for talk in catalogue.talks()]))


async def _summary(catalogue: Catalogue, request: Request) -> Response:
    return await _told(lambda: JSONResponse(dataclasses.asdict(summarise(catalogue))))


async def _page(catalogue: Catalogue, request: Request) -> Response:
    def work() -> Response:
        asked = {name: value for name, value in request.query_params.items() if value.strip()}
        moments: tuple[Moment, ...] | None = None
        sentence, fault, status = "", "", 200
        if asked:
            try:
                moments, sentence = _answers(catalogue, request)
            except CatalogueError:
                fault, status = "The catalogue cannot be read; ask whoever runs this page.", 503
            except AlignerError as error:
                fault, status = str(error), 400
        fields = [(name, _LABELS.get(name, name.capitalize()), example) for name, _, example in PARAMETERS]
        page = environment().get_template("search.html")
        text = page.render(asked=asked, moments=moments, sentence=sentence, fault=fault, fields=fields, kinds=WHAT)
        return HTMLResponse(text, status)

    return await run_in_threadpool(work)


async def _style(request: Request) -> Response:
    return PlainTextResponse(style(), media_type="text/css")


async def _openapi(request: Request) -> Response:
    return JSONResponse(openapi())


async def _missing(request: Request, error: Exception) -> Response:
    return JSONResponse({"error": "there is no such page; /openapi.json tells what there is."}, 404)


async def _reading_only(request: Request, error: Exception) -> Response:
    return JSONResponse({"error": "the catalogue can only be read here; use GET."}, 405, {"Allow": "GET"})


async def _broken(request: Request, error: Exception) -> Response:
    return JSONResponse({"error": "a fault of the program, not of your question."}, 500)

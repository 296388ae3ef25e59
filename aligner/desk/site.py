"""The desk's pages and answers. Everything here runs behind `Guard`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import chess
import chess.svg
import jinja2
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route

from aligner.desk.requests import fields_of, pin_of, played, position_of, typed_of, words_of
from aligner.desk.talk import Talk
from aligner.desk.view import AnswerRow, Row, answer_row
from aligner.desk.worker import Worker
from aligner.errors import AlignerError, InputError
from aligner.pins.pin import anchor
from aligner.search.lines import LineNode

_STATIC = {
    "desk.js": "text/javascript",
    "board.js": "text/javascript",
    "server.js": "text/javascript",
    "desk.css": "text/css",
}
_FILMS = (".mp4", ".m4v", ".mov", ".webm", ".ogv", ".mkv")
_COLOURS = {
    "square light": "#e7e3d8",
    "square dark": "#93a59f",
    "square light lastmove": "#d9cf9f",
    "square dark lastmove": "#b0a76f",
}
_BOARD_SIZE = 280

Answer = Callable[[dict[str, Any]], dict[str, Any]]


class Site:
    """Answers the desk's page.

    Args:
        talk: on the desk.
        worker: that keeps it aligned.
        media: the recording, or None.
        finish: writes the outputs and tells in one sentence what was written.
        stop: ends the server.
    """

    def __init__(
        self, talk: Talk, worker: Worker, media: Path | None, finish: Callable[[Talk], str], stop: Callable[[], None]
    ) -> None:
        self.talk = talk
        self.worker = worker
        self.media = media
        self.finish = finish
        self.stop = stop

    def app(self) -> Starlette:
        """The application."""
        posts: dict[str, Answer] = {
            "decide": self.decide,
            "undo": self.undo,
            "forget": self.forget,
            "typed": self.typed,
            "finish": self.write,
            "stop": self.end,
        }
        routes = [
            Route("/", self.page),
            Route("/state", self.state),
            Route("/row", self.row),
            Route("/words", self.words),
            Route("/board.svg", self.board),
            Route("/media", self.recording),
            Route("/{name}", self.static),
        ]
        posted = [Route(f"/{name}", _posted(answer), methods=["POST"]) for name, answer in posts.items()]
        return Starlette(routes=[*posted, *routes])

    def page(self, request: Request) -> Response:
        """The page itself."""
        text = _template("desk.html").render(
            title=self.talk.alignment.recording.title or self.talk.captions.name,
            media=self.media is not None,
            film=self.media is not None and self.media.suffix.lower() in _FILMS,
        )
        return Response(text, media_type="text/html")

    def static(self, request: Request) -> Response:
        """Scripts and styles."""
        name = request.path_params["name"]
        if name not in _STATIC:
            return Response("There is nothing here.\n", 404, media_type="text/plain")
        return Response(_static(name), media_type=_STATIC[name])

    def state(self, request: Request) -> Response:
        """All that the page shows, or that nothing has changed since the version it knows."""
        latest, worker = self.talk.latest, self.worker
        pins = self.talk.pins
        version = f"{latest.version if latest else 0}.{max((pin.number for pin in pins), default=0)}.{len(pins)}"
        head = {"version": version, "busy": worker.busy, "done": round(worker.done, 2), "fault": worker.fault}
        if request.query_params.get("version") == version or latest is None:
            return JSONResponse({**head, "unchanged": latest is not None})
        view = latest.view
        return JSONResponse(
            {
                **head,
                "doubts": [asdict(row) for row in view.doubts],
                "rows": [_short(row) for row in view.rows],
                "findings": [_short(row) for row in view.findings],
                "inferred": [_short(row) for row in view.inferred],
                "settled": len(pins),
                "changes": [asdict(change) for change in latest.changes],
                "notes": list(latest.record.notes),
            }
        )

    def words(self, request: Request) -> Response:
        """The talk's words with their seconds."""
        return JSONResponse([[word.text, word.start / 1000] for word in self.talk.alignment.speech.words])

    def row(self, request: Request) -> Response:
        """What some words may be taken for."""
        try:
            query = {name: _number(request.query_params.get(name)) for name in ("first", "past")}
            words = words_of(query, len(self.talk.alignment.speech.words))
            kind = request.query_params.get("kind", "words")
            name = request.query_params.get("name", "")
            return JSONResponse(asdict(self._row(kind, words, name)))
        except AlignerError as error:
            return JSONResponse({"fault": str(error)}, 400)

    def _row(self, kind: str, words: tuple[int, int], name: str) -> Row:
        view = self.talk.aligned.view
        of_words = (*(row for row in view.doubts if row.kind == "words"), *view.rows)
        rows = {"finding": view.findings, "inferred": view.inferred}.get(kind, of_words)
        there = [row for row in rows if row.words == words]
        if there:
            # before the same words several moves may go unspoken
            return next((row for row in there if kind == "inferred" and row.name == name), there[0])
        spoken = self.talk.alignment.speech.words
        found = anchor(spoken, *words)
        with self.talk.nodes(words[0]):
            cursor, head = self.talk.before(words[0]), self.talk.head(words[0])
            none = answer_row((), False, None, cursor, cursor)
            base, game_base = self.talk.line(cursor), self.talk.line(head)
            fen, game_fen = cursor.board.fen(), head.board.fen()
        return Row(
            "words", words, found.at / 1000, found.until / 1000, found.words, "nothing heard", 1.0, False, False, 0.0,
            (none,), fen, base, game_fen, game_base,
        )  # fmt: skip

    def board(self, request: Request) -> Response:
        """A position as a picture."""
        try:
            query = request.query_params
            last, flipped = query.get("last", "")[:5], query.get("flipped") == "1"
            svg = _board(position_of(query.get("fen", "")).fen(), last, flipped)
        except AlignerError as error:
            return Response(f"{error}\n", 400, media_type="text/plain")
        return Response(svg, media_type="image/svg+xml")

    def recording(self, request: Request) -> Response:
        """The recording, whole or in the range that was asked for (RFC 9110, section 14)."""
        if self.media is None or not self.media.is_file():
            return Response("There is no recording.\n", 404, media_type="text/plain")
        return FileResponse(self.media)

    def decide(self, data: dict[str, Any]) -> dict[str, Any]:
        """Keep a decision: when this is answered it is on the disk."""
        speech = self.talk.alignment.speech
        pin = pin_of(data, speech)
        first, _ = words_of(data, len(speech.words))
        if pin.line and self.talk.node(first, pin.line) is None:
            raise InputError("the moves of this line cannot be played from the start position.")
        self.talk.decide(pin)
        self.worker.wake()
        return {"settled": len(self.talk.pins)}

    def undo(self, data: dict[str, Any]) -> dict[str, Any]:
        """Take the latest decision back."""
        pin = self.talk.take_back()
        if pin is None:
            raise InputError("there is nothing to take back.")
        self.worker.wake()
        first = next((i for i, word in enumerate(self.talk.alignment.speech.words) if word.start >= pin.anchor.at), 0)
        return {"settled": len(self.talk.pins), "first": first, "words": pin.anchor.words}

    def forget(self, data: dict[str, Any]) -> dict[str, Any]:
        """Take back what was settled about some words."""
        words = words_of(data, len(self.talk.alignment.speech.words))
        latest = self.talk.aligned
        unwanted = {pin.about for pin, span in latest.settled if span == words}
        removed = self.talk.remove(lambda pin: pin.about in unwanted)
        if not removed:
            raise InputError("nothing is settled about these words.")
        self.worker.wake()
        return {"settled": len(self.talk.pins)}

    def typed(self, data: dict[str, Any]) -> dict[str, Any]:
        """Where a typed or clicked move may stand."""
        asked = typed_of(data, len(self.talk.alignment.speech.words))
        answers: list[AnswerRow] = []
        word = asked.words[0]
        with self.talk.nodes(word) as lines:
            head = self.talk.head(word)
            found: list[tuple[LineNode, bool]] = []
            if asked.base is None:
                places = self.talk.places(word, asked.text, asked.in_game)
                found = [(place.node, place.in_game) for place in places]
            else:
                before = self.talk.node(word, asked.base)
                if before is None:
                    raise InputError("the moves of this line cannot be played from the start position.")
                node = lines.after(before, played(before, asked.text))
                known = bool(self.talk.part(word).moves)
                found = [(node, node.score_ply >= 0)] if known else [(node, before is head), (node, before is not head)]
                found = [one for one in found if asked.in_game in (None, one[1])]
            answers = [answer_row((node,), own, None, node, node if own else head) for node, own in found]
        if not answers:
            raise InputError(f"{asked.text} is no legal move near that place.")
        return {"answers": [asdict(answer) for answer in answers]}

    def write(self, data: dict[str, Any]) -> dict[str, Any]:
        """Write the outputs, once everything decided is aligned."""
        if not self.worker.wait(120.0):
            raise InputError("the last decisions are still being aligned; try again in a moment.")
        return {"said": self.finish(self.talk)}

    def end(self, data: dict[str, Any]) -> dict[str, Any]:
        """End the server."""
        self.stop()
        return {"said": "The desk is closed; every decision is kept."}


def _posted(answer: Answer) -> Callable[[Request], Any]:
    async def endpoint(request: Request) -> Response:
        from starlette.concurrency import run_in_threadpool

        try:
            data = fields_of(await request.body())
            return JSONResponse(await run_in_threadpool(answer, data))
        except AlignerError as error:
            return JSONResponse({"fault": str(error)}, 400)

    return endpoint


def _short(row: Row) -> dict[str, Any]:
    return {**asdict(row), "answers": [], "base": [], "game_base": []}


def _number(text: str | None) -> int | None:
    return int(text) if text is not None and text.isascii() and text.isdigit() and len(text) < 9 else None


@lru_cache(maxsize=512)
def _board(fen: str, last: str, flipped: bool) -> str:
    try:
        move = chess.Move.from_uci(last) if last else None
    except ValueError:
        move = None
    board = chess.Board(fen)
    checked = board.king(board.turn) if board.is_check() else None
    side = chess.BLACK if flipped else chess.WHITE
    return chess.svg.board(
        board, size=_BOARD_SIZE, coordinates=False, lastmove=move, check=checked, orientation=side, colors=_COLOURS
    )


@lru_cache(maxsize=8)
def _static(name: str) -> bytes:
    return (files("aligner.desk") / "static" / name).read_bytes()


@lru_cache(maxsize=1)
def _environment() -> jinja2.Environment:
    return jinja2.Environment(
        loader=jinja2.PackageLoader("aligner.desk"), autoescape=True, undefined=jinja2.StrictUndefined
    )


def _template(name: str) -> jinja2.Template:
    return _environment().get_template(name)

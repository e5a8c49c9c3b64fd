"""The application: which address answers what. Everything it serves is named here."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import asynccontextmanager
from importlib.resources import files
from typing import Any

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, PlainTextResponse, Response, StreamingResponse
from starlette.routing import Route
from starlette.types import ASGIApp

from sensitivity.drawing_board import session as sessions
from sensitivity.drawing_board.board import Board, refused
from sensitivity.drawing_board.face import catalogue
from sensitivity.drawing_board.guard import REPORT_POLICY, Guard, Keys
from sensitivity.errors import CallError, SpiritlevelError
from sensitivity.presentation.json_values import to_json

LARGEST_ASKED = 1 << 18
"""Bytes of a request beyond which it is refused, unread."""

_TYPES = {
    ".html": "text/html",
    ".css": "text/css",
    ".js": "text/javascript",
    ".svg": "image/svg+xml",
}

Asked = Mapping[str, Any]


def application(board: Board, keys: Keys) -> ASGIApp:
    """Make the application for one board, with its guard before it."""
    static = {
        each.name: each.read_bytes()
        for each in files("sensitivity.drawing_board").joinpath("static").iterdir()
        if each.name[each.name.rfind(".") :] in _TYPES
    }

    async def page(request: Request) -> Response:
        return Response(static["index.html"], media_type="text/html")

    async def file(request: Request) -> Response:
        name = request.path_params["name"]
        if name not in static:
            return PlainTextResponse("There is no such file.\n", status_code=404)
        return Response(static[name], media_type=_TYPES[name[name.rfind(".") :]])

    async def state(request: Request) -> Response:
        return _json(board.state())

    async def choices(request: Request) -> Response:
        return _json(catalogue(board.session))

    async def events(request: Request) -> Response:
        return StreamingResponse(board.events(), media_type="text/event-stream")

    async def written(request: Request) -> Response:
        path = board.page_written(request.path_params["folder"], request.path_params["name"])
        if path is None or not path.is_file():
            return PlainTextResponse("No such page was written here.\n", status_code=404)
        return FileResponse(
            path, media_type="text/html", headers={"content-security-policy": REPORT_POLICY}
        )

    @asynccontextmanager
    async def life(app: Starlette) -> AsyncIterator[None]:
        try:
            yield
        finally:
            board.close()

    routes = [
        Route("/", page),
        Route("/static/{name}", file),
        Route("/state", state),
        Route("/choices", choices),
        Route("/events", events),
        Route("/written/{folder}/{name}", written),
        _asking("/edit", board.edit),
        _asking("/rest", lambda asked: board.rest()),
        _asking("/undo", lambda asked: board.step(sessions.undo)),
        _asking("/redo", lambda asked: board.step(sessions.redo)),
        _asking("/save", board.save),
        _asking("/begin", board.begin),
        _asking("/act", board.act),
        _asking("/stop", lambda asked: board.stop_acting()),
    ]
    return Guard(Starlette(routes=routes, lifespan=life), keys)


def _asking(path: str, answer: Callable[[Asked], dict[str, Any]]) -> Route:
    """Route what the page asks for with a body of JSON."""

    async def asked(request: Request) -> Response:
        try:
            body = await _body(request)
        except SpiritlevelError as error:
            return _json(refused(error), status=422)
        try:
            return _json(answer(body))
        except SpiritlevelError as error:
            return _json(refused(error))  # a word to the builder, and no fault of the page

    return Route(path, asked, methods=["POST"])


async def _body(request: Request) -> Asked:
    read = bytearray()
    async for part in request.stream():
        read += part
        if len(read) > LARGEST_ASKED:
            raise CallError("more than a page asks")
    try:
        found = json.loads(bytes(read) or b"{}")
    except (ValueError, RecursionError):
        raise CallError("not JSON") from None
    if not isinstance(found, dict):
        raise CallError("not a JSON object")
    return found


def _json(document: dict[str, Any], status: int = 200) -> Response:
    text = to_json(document, lines=0)
    return Response(text, status_code=status, media_type="application/json")

"""Who may speak with the board: one browser, from the board's own page, on this machine.

The address that is opened has a token, which is good once and exchanged for a cookie. Every
request names the host that was opened (a page elsewhere that has its name point here does not),
what changes anything comes from the page's own origin, and the page loads and runs nothing but
its own files.
"""

from __future__ import annotations

import hmac
import secrets
from dataclasses import dataclass, field

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

ENTER = "/enter"

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
"""What the page may load and run: its own files, and pictures that it was sent."""

REPORT_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)
"""The same for a report, which is one file with its style in it and no script."""

_HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}


@dataclass
class Keys:
    """The token in the address, good once, and the cookie that it is exchanged for."""

    port: int
    token: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    cookie: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    used: bool = False

    @property
    def name(self) -> str:
        """Name of the cookie: cookies know no ports, so that two boards tell theirs apart."""
        return f"spiritlevel_{self.port}"

    @property
    def hosts(self) -> tuple[str, ...]:
        """What the page's address may begin with."""
        return (f"127.0.0.1:{self.port}", f"localhost:{self.port}")

    @property
    def address(self) -> str:
        """What to open in a browser, once."""
        return f"http://127.0.0.1:{self.port}{ENTER}?token={self.token}"


class Guard:
    """Stands before the application and turns away whoever is not its own page."""

    def __init__(self, app: ASGIApp, keys: Keys) -> None:
        """Take what it guards, and the keys to it."""
        self._app, self._keys = app, keys

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or have it answered."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.setdefault("content-security-policy", POLICY)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        refused = self._refused(scope)
        if refused is not None:
            await refused(scope, receive, with_headers)
        else:
            await self._app(scope, receive, with_headers)

    def _refused(self, scope: Scope) -> Response | None:
        """Give the answer to whoever may not come in, and to whoever exchanges a token."""
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if host not in self._keys.hosts or len(headers.getlist("host")) != 1:
            return _no("This is not the host that was opened.", 421)
        if headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return _no("Only the board's own page may ask for this.", 403)
        origin = headers.get("origin")
        if origin is not None and origin != f"http://{host}":
            return _no("Only the board's own page may ask for this.", 403)
        if scope["method"] not in ("GET", "HEAD"):
            if scope["method"] != "POST":
                return _no("Not a way to ask.", 405)
            if origin is None:
                return _no("Only the board's own page may ask for this.", 403)
            if headers.get("content-type", "").partition(";")[0].strip() != "application/json":
                return _no("Ask in JSON.", 415)
        if scope["path"] == ENTER:
            return self._entered(scope)
        if not _same(_cookie(headers, self._keys.name), self._keys.cookie):
            return _no(
                "This browser has no key to the board. Open the address that spiritlevel open "
                "printed; it is good once, and spiritlevel open gives another.",
                403,
            )
        return None

    def _entered(self, scope: Scope) -> Response:
        """Exchange the token, once, for a cookie."""
        keys, headers = self._keys, Headers(scope=scope)
        if _same(_cookie(headers, keys.name), keys.cookie):
            return RedirectResponse("/", status_code=303)
        given = scope["query_string"].decode("ascii", "replace").removeprefix("token=")
        if keys.used or not _same(given, keys.token):
            return _no(
                "This address was used already, or is not the one that was printed. Stop "
                "spiritlevel open (Ctrl-C) and start it again: nothing on the board is lost.",
                403,
            )
        keys.used = True
        response = RedirectResponse("/", status_code=303)
        response.set_cookie(keys.name, keys.cookie, httponly=True, samesite="strict", path="/")
        return response


def _cookie(headers: Headers, name: str) -> str:
    for part in headers.get("cookie", "").split(";"):
        key, _, value = part.strip().partition("=")
        if key == name:
            return value
    return ""


def _same(given: str, right: str) -> bool:
    return hmac.compare_digest(given.encode("utf-8", "replace"), right.encode())


def _no(words: str, status: int) -> Response:
    return PlainTextResponse(words + "\n", status_code=status)

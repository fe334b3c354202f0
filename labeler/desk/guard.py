"""Who may ask the desk, and what an answer may do in a browser.

It listens to this computer alone, but every page that is open in a browser can send requests there,
a name of somebody's own can lead there (DNS rebinding), and other people may use the computer.

Sources: OWASP Cross-Site Request Forgery Prevention Cheat Sheet (origin checked, custom to each
session); Fetch Standard, 3.1 (Origin); Content Security Policy Level 3, W3C; RFC 6265bis, 4.1.2
(SameSite, and in 8.5 that cookies know no ports); Fetch Metadata Request Headers, W3C.
"""

from __future__ import annotations

import re
import secrets
from urllib.parse import parse_qsl

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from labeler.desk.address import Address

COOKIE = "desk"

HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self'; font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'",
    "Referrer-Policy": "same-origin",  # with less, forms of our own would come from nowhere
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), usb=()",
}
"""What every answer says to the browser."""

_SAFE = ("GET", "HEAD")
_ODD = re.compile(r"[\x00-\x1f\x7f\\]|(^|/)\.\.?(/|$)")
"""What no path of ours holds, and what leads out of a folder."""


class AccessGuard:
    """Lets through what a page of the desk's own asks, in the browser that was let in."""

    def __init__(self, app: ASGIApp, address: Address) -> None:
        self._app = app
        self._address = address
        self._known = secrets.token_urlsafe(24)
        self._origin = f"http://{address.host}"
        self._room = f"/{address.room}/"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or refuse it."""
        if scope["type"] != "http":
            return
        answer = self._entered(scope) or self._refused(scope) or self._let_in(scope)
        inner = "" if answer else scope["path"].removeprefix(self._room[:-1])
        if answer is None:
            scope = {**scope, "root_path": self._room[:-1]}
            answer = None if inner else RedirectResponse(self._room, 303)

        async def speak(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                headers.setdefault("Cache-Control", _keep(inner))
            await send(message)

        await (answer or self._app)(scope, receive, speak)

    def _refused(self, scope: Scope) -> Response | None:
        """Refuse what no page of ours would send."""
        headers = Headers(scope=scope)
        if headers.getlist("host") != [self._address.host]:
            return _no(421, "This is not the address of the desk.")
        origins = headers.getlist("origin")
        if origins not in ([], [self._origin]):
            return _no(403, "Another page asked for this, and the desk answers none but its own.")
        if scope["method"] not in _SAFE and not origins:
            return _no(403, "Nothing says which page sent this.")
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return _no(403, "Another page asked for this, and the desk answers none but its own.")
        if _ODD.search(scope["path"]):
            return _no(400, "The desk has no such page.")
        return None

    def _entered(self, scope: Scope) -> Response | None:
        """Let a browser in that comes with the secret, wherever it comes from.

        A redirection would take along that it came from elsewhere, and the cookie would stay here.
        """
        path, host = scope["path"], Headers(scope=scope).getlist("host")
        given = dict(parse_qsl(scope["query_string"].decode("latin-1"))).get("key", "")
        if (path, host) != (self._room, [self._address.host]) or scope["method"] not in _SAFE:
            return None
        if not _same(given, self._address.secret):
            return None
        opened = HTMLResponse(_ENTRY.format(room=self._room))
        opened.set_cookie(COOKIE, self._known, path=self._room, httponly=True, samesite="strict")
        return opened

    def _let_in(self, scope: Scope) -> Response | None:
        """Refuse a browser that was not let in before."""
        cookies = Headers(scope=scope).getlist("cookie")
        known = any(_same(cookie_parser(each).get(COOKIE, ""), self._known) for each in cookies)
        within = (scope["path"] + "/").startswith(self._room)
        return None if known and within else _no(403, _CLOSED)


_ENTRY = """<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>The desk</title>
<link rel="icon" href="{room}static/mark.svg">
<meta http-equiv="refresh" content="0; url={room}"></head>
<body><p><a href="{room}">Open the desk</a></p></body></html>
"""

_CLOSED = "Open the desk by the whole address that `labeler desk` shows when it begins."


def _keep(inner: str) -> str:
    """Return how long a browser keeps what it gets: no page, but the faces it is set in."""
    if inner.startswith("/fonts/"):
        return "private, max-age=86400"
    return "no-cache" if inner.startswith("/static/") else "no-store"


def _same(given: str, meant: str) -> bool:
    return secrets.compare_digest(given.encode(), meant.encode())


def _no(status: int, why: str) -> Response:
    return PlainTextResponse(f"{why}\n", status)

"""The routes of the live page, and what stands before every request: right Host, right Origin, right key.

The server listens on the loopback address alone, but any web page that the person opens may send requests
there too. The Host check stops names that were pointed at 127.0.0.1 from outside, the Origin check stops
other pages, and the key, which the address carries once and a cookie from then on, stops other users and
programs of this machine."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from hmac import compare_digest
from http.cookies import CookieError, SimpleCookie
from pathlib import Path
from urllib.parse import parse_qs

import anyio
import numpy as np
from starlette.applications import Starlette
from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import FileResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.types import ASGIApp, Message, Receive, Scope, Send

import lightsim.report.viewer
from lightsim.live.studio import Studio
from lightsim.optics.colour import srgb_encode
from lightsim.report.theme import DARK, LIGHT, Face, base_css, css_variables, face_file, font_face_rule

REFUSED = 4403  # the close code of a refused socket, of those free for applications (RFC 6455)


class Guard:
    """An ASGI application before another.

    port : that the server listens on.  key : of this run.
    """

    def __init__(self, app: ASGIApp, port: int, key: str):
        self._app, self._key = app, key
        self.cookie = f"lightsim-{port}"  # cookies do not tell ports apart, so the name does
        self.hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        self.headers = {
            "content-security-policy": "; ".join(
                [
                    "default-src 'none'", "script-src 'self'", "style-src 'self'", "font-src 'self'",
                    "img-src 'self' blob:", f"connect-src 'self' ws://127.0.0.1:{port} ws://localhost:{port}",
                    "base-uri 'none'", "form-action 'none'", "frame-ancestors 'none'",
                ]
            ),
            "x-content-type-options": "nosniff",
            "referrer-policy": "no-referrer",
            "cross-origin-opener-policy": "same-origin",
            "cross-origin-resource-policy": "same-origin",
            "cache-control": "no-store",
        }  # fmt: skip

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or refuse it in a sentence."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refusal = self._refusal(scope, headers)
        if scope["type"] == "websocket":
            if refusal is not None:
                await send({"type": "websocket.close", "code": REFUSED, "reason": refusal})
                return
            await self._app(scope, receive, send)
            return
        await self._answer(scope, receive, send, headers, refusal)

    async def _answer(
        self, scope: Scope, receive: Receive, send: Send, headers: Headers, refusal: str | None
    ) -> None:
        async def sealed(message: Message) -> None:
            if message["type"] == "http.response.start":
                extra = [(name.encode(), value.encode()) for name, value in self.headers.items()]
                message = {**message, "headers": [*message.get("headers", []), *extra]}
            await send(message)

        answer: ASGIApp = self._app
        if refusal is not None:
            answer = PlainTextResponse(refusal + "\n", 403)
        elif self._key_in_address(scope):
            answer = self._welcome()
        elif not self._key_in_cookie(headers):
            answer = PlainTextResponse("Open the address that lightsim printed: it carries the key.\n", 403)
        await answer(scope, receive, sealed)

    def _refusal(self, scope: Scope, headers: Headers) -> str | None:
        """Why a request is refused whatever its key, and a socket for its key too; None where it is not."""
        if headers.getlist("host") != [headers.get("host", "")] or headers.get("host") not in self.hosts:
            return "This host name is not allowed; use 127.0.0.1 or localhost."
        origin = headers.get("origin")
        foreign = origin is not None and origin != f"http://{headers['host']}"
        if foreign or (origin is None and scope["type"] == "websocket"):
            return "Requests from other pages are not allowed."
        if scope["type"] == "http" and scope["method"] not in ("GET", "HEAD"):
            return "Only reading is allowed."
        if scope["type"] == "websocket" and not self._key_in_cookie(headers):
            return "Open the address that lightsim printed: it carries the key."
        return None

    def _key_in_address(self, scope: Scope) -> bool:
        given = parse_qs(scope["query_string"].decode("latin-1")).get("key", [])
        return scope["path"] == "/" and len(given) == 1 and self._is_key(given[0])

    def _key_in_cookie(self, headers: Headers) -> bool:
        try:
            morsel = SimpleCookie(headers.get("cookie", "")).get(self.cookie)
        except CookieError:
            return False
        return morsel is not None and self._is_key(morsel.value)

    def _is_key(self, given: str) -> bool:
        return compare_digest(given.encode(), self._key.encode())

    def _welcome(self) -> Response:
        """The key moves from the address, which may be seen and copied, into a cookie."""
        answer = RedirectResponse("/", 303)
        answer.set_cookie(self.cookie, self._key, httponly=True, samesite="strict", path="/")
        return answer


PAGE = Path(__file__).parent / "page"
VIEWER = Path(lightsim.report.viewer.__file__).parent
FACES = {"regular.ttf": Face.REGULAR, "semibold.ttf": Face.SEMIBOLD}
TYPES = {".js": "text/javascript", ".css": "text/css", ".html": "text/html", ".svg": "image/svg+xml"}


def make_app(studio: Studio, port: int, key: str) -> ASGIApp:
    """The application behind its guard."""

    @asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        await studio.open()
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(studio.watch_file)
            yield
            tasks.cancel_scope.cancel()

    def theme(_: Request) -> Response:
        return Response(theme_css(studio), media_type="text/css")

    routes = [
        Route("/", lambda request: _file(PAGE, "index.html")),
        Route("/theme.css", theme),
        Route("/page/{name}", lambda request: _file(PAGE, request.path_params["name"])),
        Route("/viewer/{name}", lambda request: _file(VIEWER, request.path_params["name"])),
        Route("/font/{name}", lambda request: _font(request.path_params["name"])),
        Route("/favicon.ico", lambda request: Response(status_code=204)),
        WebSocketRoute("/socket", studio.serve_page),
    ]
    return Guard(Starlette(routes=routes, lifespan=lifespan), port, key)


def _file(folder: Path, name: str) -> Response:
    """A file that the page is made of; nothing else of the folder."""
    path = folder / name
    if path.parent != folder or path.suffix not in TYPES or not path.is_file():
        return PlainTextResponse("There is no such page.\n", 404)
    return FileResponse(path, media_type=TYPES[path.suffix])


def _font(name: str) -> Response:
    """A face of the typeface: the whole file, since cutting it down takes longer than sending it."""
    if name not in FACES:
        return PlainTextResponse("There is no such page.\n", 404)
    return FileResponse(face_file(FACES[name]), media_type="font/ttf")


def theme_css(studio: Studio) -> str:
    """The theme's colours on paper and on a dark ground, with the petal's accent, and every page's rules."""
    tip = np.array(studio.desk.draft.scene.petal.reflectance_tip)  # the petal's mesh may not be made yet
    red, green, blue = (round(255.0 * float(part)) for part in srgb_encode(tip))
    petal = (red, green, blue)
    dark = css_variables(DARK, petal, ':root[data-ground="dark"]')
    fonts = "".join(font_face_rule(face, f"/font/{name}") for name, face in FACES.items())
    return fonts + css_variables(LIGHT, petal) + dark + base_css()

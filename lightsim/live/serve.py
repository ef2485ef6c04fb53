"""Serving the live page on this machine alone: what stands before every request, the routes, the server.

The server listens on the loopback address alone, but any web page that the person opens may send requests
there too. The Host check stops names that were pointed at 127.0.0.1 from outside, the Origin check stops
other pages, and the key, which the address carries once and a cookie from then on, stops other users and
programs of this machine.

The first picture is wanted soon: the set is built while the tracer is imported, and tracing begins before the
server's libraries are; a browser that comes meanwhile waits at the listening socket.
"""

from __future__ import annotations

import asyncio
import socket
import sys
import threading
import webbrowser
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from hmac import compare_digest
from http.cookies import CookieError, SimpleCookie
from pathlib import Path
from secrets import token_urlsafe
from typing import TYPE_CHECKING
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
from lightsim.errors import LightsimError
from lightsim.live.studio import Studio
from lightsim.optics.colour import srgb_encode
from lightsim.report.style_sheet import base_css, css_variables, font_face_rule
from lightsim.report.theme import DARK, LIGHT, Face, face_file
from lightsim.scene.build import build
from lightsim.scene.file.read import load_scene
from lightsim.scene.file.write import template_scene
from lightsim.scene.records import Scene

if TYPE_CHECKING:
    import uvicorn

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


LOOPBACK = "127.0.0.1"
ALONE_S = 600.0  # without a page for so long, the server ends
LOOK_S = 2.0
# A thread that computes in Python gives way to the tracer's, and to the server, after so long.
SWITCH_S = 0.0005


def serve(
    scene_file: Path | None,
    *,
    port: int | None = None,
    browser: bool = True,
    say: Callable[[str], None] = print,
) -> None:
    """Serve the page until Ctrl-C, or until no page has been open for a while.

    scene_file : None starts with a question what stands on the table.
    port : None takes a free one.  browser : open the page there; otherwise only its address is told.
    say : called with each line for the person.
    SceneError for a scene that cannot be read, LightsimError where the port is taken.
    """
    scene = template_scene() if scene_file is None else load_scene(scene_file)
    built = threading.Thread(target=_build, args=(scene,), daemon=True)
    built.start()
    _compile(say)
    listening = _listening(port)
    number, key = listening.getsockname()[1], token_urlsafe(24)
    address = f"http://{LOOPBACK}:{number}/?key={key}"
    say(f"the page is at {address}")
    say("it answers on this machine only; Ctrl-C ends it")
    if browser:
        threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
    sys.setswitchinterval(SWITCH_S)
    from lightsim.live.studio import Studio

    studio = Studio(scene, is_new=scene_file is None)
    with suppress(KeyboardInterrupt):
        studio.begin(built)
        asyncio.run(_serve(_server(studio, number, key), studio, listening))
    studio.close()
    say("ended; what was not saved is kept by an open page until it is closed")


def _build(scene: Scene) -> None:
    """Build the set, which is kept; what is wrong with it is said by the tracing thread."""
    with suppress(LightsimError):
        build(scene)


def _compile(say: Callable[[str], None]) -> None:
    from lightsim.tracer import compiled
    from lightsim.tracer.compilation import compile_kernels

    if not compiled():
        say("compiling the renderer, once on this machine; this takes about a minute")
        compile_kernels()


def _server(studio: Studio, port: int, key: str) -> uvicorn.Server:
    """The server, not running yet."""
    import uvicorn

    from lightsim.live.page_connection import MOST_BYTES

    config = uvicorn.Config(
        make_app(studio, port, key), log_level="critical", access_log=False, lifespan="on",
        ws="websockets-sansio", ws_max_size=2 * MOST_BYTES, ws_per_message_deflate=False,
        timeout_graceful_shutdown=1, server_header=False, date_header=False,
    )  # fmt: skip
    return uvicorn.Server(config)


def _listening(port: int | None) -> socket.socket:
    """A socket on the loopback address."""
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((LOOPBACK, port or 0))
        made.listen(64)  # a browser that is quicker than the server waits instead of being refused
    except OSError as error:
        made.close()
        reason = (error.strerror or str(error)).lower()
        raise LightsimError(
            f"--port: found {port}, which is not free ({reason}), allowed a free port"
        ) from None
    return made


async def _serve(server: uvicorn.Server, studio: Studio, listening: socket.socket) -> None:
    async def end_when_alone() -> None:
        while not server.should_exit:
            await asyncio.sleep(LOOK_S)
            left = studio.left_at
            if left is not None and asyncio.get_running_loop().time() - left > ALONE_S:
                server.should_exit = True

    watch = asyncio.create_task(end_when_alone())
    try:
        await server.serve(sockets=[listening])
    finally:
        watch.cancel()

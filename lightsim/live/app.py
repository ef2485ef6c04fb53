"""The routes of the live page."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import anyio
import numpy as np
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, PlainTextResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.types import ASGIApp

import lightsim.report.viewer
from lightsim.live.guard import Guard
from lightsim.live.studio import Studio
from lightsim.optics.colour import srgb_encode
from lightsim.report.theme import DARK, LIGHT, Face, base_css, css_variables, face_file, font_face_rule

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

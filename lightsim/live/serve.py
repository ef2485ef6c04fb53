"""Serving the live page on this machine alone.

The first picture is wanted soon: the set is built while the tracer is imported, and tracing begins before the
server's libraries are; a browser that comes meanwhile waits at the listening socket.
"""

from __future__ import annotations

import asyncio
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from secrets import token_urlsafe
from typing import TYPE_CHECKING

from lightsim.errors import LightsimError
from lightsim.scene.build import build
from lightsim.scene.file.read import load_scene
from lightsim.scene.file.write import template_scene
from lightsim.scene.records import Scene

if TYPE_CHECKING:
    import uvicorn

    from lightsim.live.studio import Studio

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

    from lightsim.live.app import make_app
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

"""Brings pages, desk and tracing together: messages in, states, pictures and numbers out."""

from __future__ import annotations

import asyncio
import re
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any

from starlette.websockets import WebSocket, WebSocketDisconnect

from lightsim.errors import LightsimError
from lightsim.live.desk import Desk
from lightsim.live.live_picture import LivePicture
from lightsim.live.page_connection import Connection, merged, parsed
from lightsim.live.scene_state import measured, page_rules
from lightsim.live.tracing import QUALITIES, Tracing
from lightsim.report.viewer.viewer_numbers import collect_viewer_numbers
from lightsim.scene.records import Scene

LEAST_PX, MOST_PX = 320, 1280
WATCH_S = 1.0  # how often the scene's file is looked at
HELD_S = 0.4  # how long a change may wait for the sketch in hand, so that those after it join it
LEAST_SHARE = 4.0  # numbers of a picture under the hand leave the tracer this much of the time


class Studio:
    """One server's set and its pages. `desk` is touched by the desk's own thread only."""

    def __init__(self, scene: Scene, is_new: bool = False):
        self._pages: set[Connection] = set()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._last: LivePicture | None = None
        self._numbers: dict[str, Any] | None = None
        self._measuring: LivePicture | None = None
        self._to_measure = threading.Condition()
        self._rests_until, self._closed = 0.0, False  # by time.monotonic
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="lightsim-live-desk")
        self._measurer = ThreadPoolExecutor(1, thread_name_prefix="lightsim-live-numbers")
        self._waiting: tuple[Connection, dict[str, Any]] | None = None  # a change, joined by those after it
        self._held_until: asyncio.TimerHandle | None = None
        self._asked_outside = False
        self._making: asyncio.Task | None = None
        self._releasing: asyncio.Task | None = None
        self.tracing = Tracing(self._picture_made, self._failed, self._doing, self._sky_grew)
        self.desk = Desk(scene, self.tracing.wish, self._tell_all, is_new)
        self.left_at: float | None = None  # when the last page went, by the loop's clock
        self._early: list[tuple[Any, tuple[Any, ...]]] = []
        self._door = threading.Lock()

    def begin(self, built: threading.Thread | None = None) -> None:
        """Begin to trace, before there is an event loop, let alone a page. built : as for `Tracing.start`."""
        self.tracing.start(built)
        self.desk.begin()

    async def open(self) -> None:
        """Pages may come; what was made before is handed to them."""
        with self._door:
            self._loop = asyncio.get_running_loop()
            early, self._early = self._early, []
        self.left_at = self._loop.time()
        for work, values in early:
            work(*values)

    async def watch_file(self) -> None:
        """Ask once when the scene's file was changed by another program."""
        while True:
            await asyncio.sleep(WATCH_S)
            changed = await self._on_desk(self.desk.changed_outside)
            if changed and not self._asked_outside and self.desk.draft.path is not None:
                self._send_all({"kind": "ask", "about": "outside", "file": self.desk.draft.path.name})
            self._asked_outside = bool(changed)

    def close(self) -> None:
        """End all threads."""
        with self._to_measure:
            self._closed, self._measuring = True, None
            self._to_measure.notify()
        self.tracing.close()
        self._thread.shutdown(wait=False, cancel_futures=True)
        self._measurer.shutdown(wait=False, cancel_futures=True)

    async def serve_page(self, socket: WebSocket) -> None:
        """One page, from its first message to its last."""
        await socket.accept()
        page = Connection(socket)
        self._pages.add(page)
        self.left_at = None
        sender = asyncio.create_task(page.send_all())
        try:
            page.tell(
                {"kind": "welcome", "run": self.desk.run, "numbers": collect_viewer_numbers(), **page_rules()}
            )
            page.tell(self.desk.state())
            if self._last is not None:
                page.show(self._last)
            if self._numbers is not None:
                page.tell(self._numbers)
            page.tell(self._sky_message())
            while True:
                await self._receive(page, await socket.receive_text())
        except (WebSocketDisconnect, KeyError, RuntimeError):
            return
        finally:
            sender.cancel()
            self._pages.discard(page)
            if not self._pages:
                self.tracing.hand(False)
                self.left_at = asyncio.get_running_loop().time()

    async def _receive(self, page: Connection, text: str) -> None:
        with self._answering(page):
            message = parsed(text)
            if message["kind"] == "shown":
                page.shown(int(message["serial"]))
            elif message["kind"] in ("set", "move"):
                await self._change(page, message)
            else:
                await self._do_waiting()
                await self._do(page, message)

    @contextmanager
    def _answering(self, page: Connection) -> Iterator[None]:
        """Tell a page why something that it asked for is not done; its connection goes on."""
        try:
            yield
        except LightsimError as error:
            self._refuse(page, _sentences(error))
        except Exception as error:
            self._refuse(page, [f"a fault in lightsim, please report it: {type(error).__name__}: {error}"])

    async def _do(self, page: Connection, message: dict[str, Any]) -> None:
        if message["kind"] == "hand":
            self.tracing.hand(message["down"])
        elif message["kind"] == "width":
            self._set_width(page, message["px"])
        elif message["kind"] == "sky":
            self.tracing.set_sky(message["on"])
        elif message["kind"] == "make":  # takes long, and changes nothing that the desk holds
            self._making = asyncio.create_task(self._make(page, message))
        else:
            await self._on_desk(lambda: self.desk.act(message))

    async def _change(self, page: Connection, message: dict[str, Any]) -> None:
        """A change goes to the desk when the tracer can take it up: under the hand, once a picture."""
        if self._waiting is not None:
            joined = merged(self._waiting[1], message) if self._waiting[0] is page else None
            if joined is None:
                await self._do_waiting()
            else:
                message = joined
        self._waiting = (page, message)
        if not self.tracing.owes_sketch:
            await self._do_waiting()
        elif self._held_until is None:
            self._held_until = asyncio.get_running_loop().call_later(HELD_S, self._release)

    def _release(self) -> None:
        """Let a waiting change go to the desk."""
        if self._waiting is not None:
            self._releasing = asyncio.create_task(self._do_waiting())

    async def _do_waiting(self) -> None:
        if self._held_until is not None:
            self._held_until.cancel()
            self._held_until = None
        if self._waiting is None:
            return
        (page, message), self._waiting = self._waiting, None
        with self._answering(page):
            await self._on_desk(lambda: self.desk.act(message))

    async def _make(self, page: Connection, message: dict[str, Any]) -> None:
        with self._answering(page):
            await asyncio.to_thread(self.desk.act, message)

    def _refuse(self, page: Connection, problems: list[str]) -> None:
        page.tell({"kind": "refused", "problems": problems})
        page.tell(self.desk.state())

    async def _on_desk(self, work: Any) -> Any:
        return await asyncio.get_running_loop().run_in_executor(self._thread, work)

    def _set_width(self, page: Connection, px: float) -> None:
        """The full size is what the largest page asks for, in steps of 80 pixels."""
        page.width_px = int(min(max(round(px / 80.0) * 80, LEAST_PX), MOST_PX))
        self.tracing.set_width(max(other.width_px or LEAST_PX for other in self._pages))

    # Called from other threads.

    def _in_loop(self, work: Any, *values: Any) -> None:
        with self._door:
            if self._loop is None:
                self._early.append((work, values))
            elif not self._loop.is_closed():
                self._loop.call_soon_threadsafe(work, *values)

    def _tell_all(self, message: dict[str, Any]) -> None:
        self._in_loop(self._send_all, message)

    def _send_all(self, message: dict[str, Any]) -> None:
        if message["kind"] == "numbers":
            self._numbers = message
        for page in self._pages:
            page.tell(message)

    def _doing(self, words: str) -> None:
        self._tell_all({"kind": "doing", "words": words})

    def _failed(self, revision: int, problems: list[str]) -> None:
        self._in_loop(self._release)
        self._tell_all({"kind": "failed", "revision": revision, "problems": problems})

    def _sky_grew(self) -> None:
        self._tell_all(self._sky_message())

    def _sky_message(self) -> dict[str, Any]:
        known = dict(self.tracing.sky.known(self.desk.draft.scene))
        places = [[angle, clock, not place.reason, place.measures] for (angle, clock), place in known.items()]
        return {"kind": "sky", "on": self.tracing.sky_on, "places": places}

    def _picture_made(self, picture: LivePicture) -> None:
        """In the tracing thread: on to the pages, and to be measured where it is worth it."""
        self._in_loop(self._release)
        self._in_loop(self._show_all, picture)
        if picture.traced is None:
            return
        with self._to_measure:
            waiting, self._measuring = self._measuring, picture
            self._to_measure.notify()
        if waiting is None:
            self._measurer.submit(self._measure)

    def _measure(self) -> None:
        """Measure the newest picture; those that came while another was measured are passed over.

        Sketches wait until the tracer, which needs the same processor, has had most of the time.
        """
        with self._to_measure:
            while self._is_sketch(self._measuring) and (left := self._rests_until - time.monotonic()) > 0.0:
                self._to_measure.wait(left)
            picture, self._measuring = self._measuring, None
        if picture is None:
            return
        began = time.monotonic()
        try:
            self._tell_all(measured(picture, self.desk.drop))
        except LightsimError as error:
            self._tell_all({"kind": "refused", "problems": [str(error)]})
        now = time.monotonic()
        self._rests_until = now + LEAST_SHARE * (now - began)

    def _is_sketch(self, picture: LivePicture | None) -> bool:
        return picture is not None and picture.quality == QUALITIES[0] and not self._closed

    def _show_all(self, picture: LivePicture) -> None:
        better = self._last is None or picture.revision > self._last.revision
        same = self._last is not None and picture.revision == self._last.revision
        if not better and not (same and _rank(picture) >= _rank(self._last)):
            return
        self._last = picture
        for page in self._pages:
            page.show(picture)


def _sentences(error: LightsimError) -> list[str]:
    """What is wrong, a sentence each, settings named without the dashes of the command line."""
    problems = getattr(error, "problems", None) or [str(error)]
    return [re.sub(r"(^|\W)--(?=[a-z])", r"\1", problem) for problem in problems]


def _rank(picture: LivePicture | None) -> int:
    return -1 if picture is None else QUALITIES.index(picture.quality)

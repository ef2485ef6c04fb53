"""One page's socket: always the newest is sent, and a picture waits until the one before was shown."""

from __future__ import annotations

import asyncio
import json
from typing import Any

from starlette.websockets import WebSocket, WebSocketDisconnect

from lightsim.live.live_picture import LivePicture

QUEUED = 100  # messages that wait for a slow page; the oldest notes go first


class Connection:
    """Sends to one page. Used in the event loop alone.

    Messages of a kind that tells a whole state take the place of a waiting one of that kind; pictures too,
    and none is sent before the page has said that the one before is shown.
    """

    LATEST = ("state", "numbers", "sky", "doing")

    def __init__(self, socket: WebSocket):
        self._socket = socket
        self._wake = asyncio.Event()
        self._texts: list[dict[str, Any]] = []
        self._picture: LivePicture | None = None
        self._serial = 0
        self._awaiting: int | None = None  # the serial that the page has not shown yet
        self._sending: tuple[int, ...] = ()
        self._known: frozenset[int] = frozenset()
        self.width_px: int | None = None

    def tell(self, message: dict[str, Any]) -> None:
        """Send a message when the socket is free."""
        if message["kind"] in self.LATEST:
            self._texts = [waiting for waiting in self._texts if waiting["kind"] != message["kind"]]
        self._texts = [*self._texts, message][-QUEUED:]
        self._wake.set()

    def show(self, picture: LivePicture) -> None:
        """Send a picture when the page has shown the one before; a waiting one is dropped."""
        self._picture = picture
        self._wake.set()

    def shown(self, serial: int) -> None:
        """The page has shown a picture: it knows its layers now, and no others."""
        if serial == self._awaiting:
            self._awaiting = None
            self._known = frozenset(self._sending)
            self._wake.set()

    async def send_all(self) -> None:
        """Send what there is to send until the page is gone."""
        try:
            while True:
                await self._wake.wait()
                self._wake.clear()
                while self._texts:
                    await self._socket.send_text(json.dumps(self._texts.pop(0)))
                if self._picture is not None and self._awaiting is None:
                    await self._send_picture()
        except (WebSocketDisconnect, RuntimeError):
            return

    async def _send_picture(self) -> None:
        picture, self._picture = self._picture, None
        assert picture is not None
        self._serial += 1
        self._awaiting, self._sending = self._serial, tuple(layer.number for layer in picture.layers)
        await self._socket.send_bytes(picture.message(self._known, self._serial))

"""One page's socket: what the page may say, checked, and the newest sent to it when the last is shown."""

from __future__ import annotations

import asyncio
import json
from math import isfinite
from typing import Any

from starlette.websockets import WebSocket, WebSocketDisconnect

from lightsim.errors import LightsimError
from lightsim.live.live_picture import LivePicture

MOST_BYTES = 1_000_000  # some dozens of kept scenes, or one with ten thousand drops put by hand

Fields = dict[str, tuple[type, ...]]

NUMBER, TEXT, FLAG = (int, float), (str,), (bool,)
NOTHING = type(None)

# kind: its fields; one with NOTHING among its types may be left out.
KINDS: dict[str, Fields] = {
    "hello": {"run": (str, NOTHING), "table": (dict, NOTHING)},
    "set": {"values": (dict,), "gesture": (str, NOTHING), "hold": (str, NOTHING)},
    "move": {"thing": TEXT, "angle": (*NUMBER, NOTHING), "clock": (*NUMBER, NOTHING),
             "distance": (*NUMBER, NOTHING), "gesture": (str, NOTHING)},
    "hand": {"down": FLAG},
    "width": {"px": NUMBER},
    "shown": {"serial": NUMBER},
    "undo": {},
    "redo": {},
    "go to": {"table": (dict,)},
    "pick": {"drop": (int, NOTHING)},
    "focus": {"x": NUMBER, "y": NUMBER},
    "put drop": {"x": NUMBER, "y": NUMBER, "diameter_mm": NUMBER},
    "move drop": {"drop": (int,), "x": NUMBER, "y": NUMBER, "gesture": (str, NOTHING)},
    "remove drop": {"drop": (int,)},
    "sky": {"on": FLAG},
    "save": {"file": (str, NOTHING), "force": (bool, NOTHING)},
    "open": {"file": TEXT},
    "take file": {},
    "keep mine": {},
    "make": {"what": TEXT, "kept": (list, NOTHING)},
}  # fmt: skip


def parsed(text: str) -> dict[str, Any]:
    """A message with all its fields, those left out as None. LightsimError says what is wrong with it."""
    if len(text) > MOST_BYTES:
        raise LightsimError(f"message: found {len(text)} characters, allowed up to {MOST_BYTES}")
    try:
        message = json.loads(text, parse_constant=_not_finite)
    except (ValueError, RecursionError):
        raise LightsimError("message: found broken JSON, allowed an object with a kind") from None
    kind = message.get("kind") if isinstance(message, dict) else None
    if not isinstance(kind, str) or kind not in KINDS:
        raise LightsimError(f"message: found the kind {str(kind)[:40]!r}, allowed {', '.join(KINDS)}")
    fields = KINDS[kind]
    for name in message:
        if name not in fields and name != "kind":
            raise LightsimError(
                f"message {kind!r}: found the field {str(name)[:40]!r}, allowed {_names(fields)}"
            )
    return {
        "kind": kind,
        **{name: _field(kind, name, message.get(name), types) for name, types in fields.items()},
    }


def merged(first: dict[str, Any], then: dict[str, Any]) -> dict[str, Any] | None:
    """Two changes one after the other, within one gesture, as one; None where they cannot be joined."""
    if any(first.get(name) != then.get(name) for name in ("kind", "gesture", "thing", "hold")):
        return None
    if first["gesture"] is None or then.get("hold") is not None:
        return None
    if first["kind"] == "set":
        return {**then, "values": {**first["values"], **then["values"]}}
    if first["kind"] == "move":
        return {**first, **{name: value for name, value in then.items() if value is not None}}
    return None


def _field(kind: str, name: str, value: Any, types: tuple[type, ...]) -> Any:
    wrong = not isinstance(value, types) or (isinstance(value, bool) and bool not in types)
    if wrong or (isinstance(value, float) and not isfinite(value)):
        allowed = " or ".join(sorted({_type_word(one) for one in types}))
        raise LightsimError(f"message {kind!r}, {name}: found {str(value)[:40]!r}, allowed {allowed}")
    return value


def _type_word(one: type) -> str:
    words = {int: "a number", float: "a number", str: "text", bool: "true or false", dict: "an object"}
    return words.get(one, "a list" if one is list else "nothing")


def _names(fields: Fields) -> str:
    return ", ".join(fields) or "none"


def _not_finite(_: str) -> float:
    raise ValueError


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

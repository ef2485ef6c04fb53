"""Who gets past the guard of the live page: the right Host, Origin and key, and nobody else."""

import asyncio
from concurrent.futures import ThreadPoolExecutor

import pytest
from starlette.responses import PlainTextResponse

from lightsim.live.serve import REFUSED, Guard

KEY = "a-key-of-this-run"
COOKIE = f"lightsim-8123={KEY}"
HOST = "127.0.0.1:8123"


async def behind(scope, receive, send):
    if scope["type"] == "websocket":
        await send({"type": "websocket.accept"})
    else:
        await PlainTextResponse("the page")(scope, receive, send)


def ask(headers, *, kind="http", path="/", query="", method="GET"):
    """What the guarded application sends to a request with these headers."""
    sent = []

    async def send(message):
        sent.append(message)

    async def receive():
        return {"type": f"{kind}.request", "body": b""}

    pairs = [(name.encode(), value.encode()) for name, value in headers]
    scope = {"type": kind, "path": path, "query_string": query.encode(), "headers": pairs, "method": method}
    with ThreadPoolExecutor(1) as apart:  # a browser of other tests may have a loop in this thread
        apart.submit(lambda: asyncio.run(Guard(behind, 8123, KEY)(scope, receive, send))).result()
    return sent


def status(sent):
    return sent[0]["status"]


def headers_of(sent):
    return {name.decode(): value.decode() for name, value in sent[0]["headers"]}


def test_the_key_in_the_address_becomes_a_cookie_that_scripts_cannot_read():
    sent = ask([("host", HOST)], query=f"key={KEY}")
    assert status(sent) == 303
    assert headers_of(sent)["location"] == "/"
    cookie = headers_of(sent)["set-cookie"].lower()
    assert cookie.startswith(f"lightsim-8123={KEY.lower()}")
    assert "httponly" in cookie
    assert "samesite=strict" in cookie


def test_with_the_cookie_the_page_answers_under_a_strict_policy():
    sent = ask([("host", HOST), ("cookie", COOKIE)])
    assert status(sent) == 200
    policy = headers_of(sent)["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "http:" not in policy


@pytest.mark.parametrize(
    ("headers", "query"),
    [
        ([("host", HOST)], ""),
        ([("host", HOST)], "key=another"),
        ([("host", HOST)], f"key={KEY}&key=another"),
        ([("host", HOST), ("cookie", "lightsim-8123=another")], ""),
        ([("host", HOST), ("cookie", f"lightsim-9999={KEY}")], ""),
        ([("host", "light.example:8123"), ("cookie", COOKIE)], ""),
        ([("host", "127.0.0.1:9999"), ("cookie", COOKIE)], ""),
        ([("host", HOST), ("host", "light.example"), ("cookie", COOKIE)], ""),
        ([("cookie", COOKIE)], ""),
        ([("host", "light.example:8123")], f"key={KEY}"),
        ([("host", HOST), ("cookie", COOKIE), ("origin", "http://light.example")], ""),
        ([("host", HOST), ("cookie", COOKIE), ("origin", "null")], ""),
    ],
)
def test_a_wrong_key_host_or_origin_is_refused(headers, query):
    assert status(ask(headers, query=query)) == 403


def test_nothing_but_reading_is_answered():
    assert status(ask([("host", HOST), ("cookie", COOKIE)], method="POST")) == 403


def test_the_socket_opens_for_the_own_page_alone():
    own = [("host", HOST), ("cookie", COOKIE), ("origin", f"http://{HOST}")]
    assert ask(own, kind="websocket", path="/socket")[0]["type"] == "websocket.accept"


@pytest.mark.parametrize(
    "headers",
    [
        [("host", HOST), ("cookie", COOKIE)],
        [("host", HOST), ("cookie", COOKIE), ("origin", "http://light.example")],
        [("host", HOST), ("cookie", COOKIE), ("origin", "http://127.0.0.1:9999")],
        [("host", HOST), ("origin", f"http://{HOST}")],
        [("host", "light.example:8123"), ("cookie", COOKIE), ("origin", "http://light.example:8123")],
    ],
)
def test_the_socket_is_refused_without_origin_cookie_or_host(headers):
    sent = ask(headers, kind="websocket", path="/socket")
    assert [message["type"] for message in sent] == ["websocket.close"]
    assert sent[0]["code"] == REFUSED

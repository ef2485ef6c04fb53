"""The server: what it refuses, several pages, a slow page, its end and its beginning anew."""

import json
import signal
import struct

import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect

from lightsim.live.page_connection import MOST_BYTES
from lightsim.scene.file.read import load_scene


def socket_to(server, **changes):
    """A page's socket without a page."""
    host = f"127.0.0.1:{server.port}"
    given = {"origin": f"http://{host}", "key": server.key, **changes}
    return connect(
        f"ws://{host}/socket",
        origin=given["origin"],
        additional_headers={"Cookie": f"lightsim-{server.port}={given['key']}"},
        max_size=None,
        compression=None,
    )


def messages_until(socket, kind, timeout=60):
    """Messages up to the first of a kind, "picture" for a binary one."""
    got = []
    while True:
        data = socket.recv(timeout=timeout)
        got.append(head_of(data) if isinstance(data, bytes) else json.loads(data))
        if got[-1]["kind"] == kind:
            return got


def everything(socket, timeout, into=None):
    """Receive until nothing comes for a while (TimeoutError) or the socket is closed."""
    while True:
        data = socket.recv(timeout=timeout)
        if into is not None:
            into.append(data)


def head_of(data):
    (length,) = struct.unpack_from("<I", data)
    return {"kind": "picture", **json.loads(data[4 : 4 + length])}


@pytest.mark.parametrize(
    "changes", [{"origin": None}, {"origin": "http://light.example"}, {"key": "another"}]
)
def test_a_foreign_page_gets_no_socket(server, changes):
    with pytest.raises(InvalidStatus) as refused, socket_to(server, **changes):
        pass
    assert refused.value.response.status_code == 403


def test_wrong_messages_are_answered_in_a_sentence_and_change_nothing(server):
    wrong = [
        "not json",
        '{"kind": "erase"}',
        '{"kind": "set", "values": {"light[0].power": 7}}',
        '{"kind": "set", "values": {"light[9].angle_deg": 40}}',
        '{"kind": "set", "values": {"petal.colour": "red"}}',
        '{"kind": "move", "thing": "no such lamp", "angle": 3}',
        '{"kind": "focus", "x": 7, "y": 0.5}',
        '{"kind": "open", "file": "/etc/hostname"}',
        '{"kind": "make", "what": "a mess"}',
        '{"kind": "remove drop", "drop": 99999}',
    ]
    with socket_to(server) as socket:
        before = messages_until(socket, "state")[-1]
        for text in wrong:
            socket.send(text)
            refused = messages_until(socket, "refused")[-1]
            assert refused["problems"]
            assert all("Traceback" not in words for words in refused["problems"])
        assert messages_until(socket, "state")[-1]["table"] == before["table"]


def test_an_oversized_message_closes_the_socket(server):
    with socket_to(server) as socket:
        socket.send("x" * (3 * MOST_BYTES))
        with pytest.raises(ConnectionClosed) as closed:
            everything(socket, timeout=60)
        # closed before all of it was sent, the connection may end without the server's word
        assert closed.value.rcvd is None or closed.value.rcvd.code == 1009
    with socket_to(server) as socket:
        assert messages_until(socket, "state")  # and serves the next


def test_a_page_that_shows_nothing_is_sent_one_picture(server):
    with socket_to(server) as socket:
        socket.send('{"kind": "sky", "on": false}')
        messages_until(socket, "picture")
        for angle in (50, 70, 50, 70, 60):
            socket.send(json.dumps({"kind": "move", "thing": "flash", "angle": angle}))
        kinds = []
        with pytest.raises(TimeoutError):
            everything(socket, timeout=8, into=kinds)
        assert not any(isinstance(data, bytes) for data in kinds)
        socket.send(json.dumps({"kind": "shown", "serial": 1}))
        newest = messages_until(socket, "picture")[-1]
        states = [json.loads(text) for text in kinds if not isinstance(text, bytes)]
        assert newest["revision"] == max(one["revision"] for one in states if one["kind"] == "state")


def test_two_pages_show_the_same_set(server, open_page):
    first, second = open_page(server), open_page(server)
    first.get("lightsim.store.move('flash', {clock: 7})")
    second.until("lightsim.store.state.lights[0].clock === 7")
    for page in (first, second):
        page.rested("normal")
    second.get("lightsim.link.send('undo')")
    first.until("lightsim.store.state.lights[0].clock === 10")


def test_ctrl_c_ends_it_at_once_and_writes_nothing(scene_file, start_server):
    server = start_server(scene_file)
    text = scene_file.read_text(encoding="utf-8")
    with socket_to(server) as socket:
        messages_until(socket, "picture", timeout=90)
        assert server.stop(signal.SIGINT) == 0
    assert scene_file.read_text(encoding="utf-8") == text
    assert [path.name for path in scene_file.parent.iterdir()] == [scene_file.name]


def test_after_the_server_was_killed_a_new_one_gets_the_set_back(
    scene_file, start_server, open_page, browser
):
    server = start_server(scene_file)
    context = browser.new_context()
    page = open_page(server, context=context)
    page.get("lightsim.store.move('flash', {angle: 25})")
    page.until("lightsim.store.state.lights[0].angle === 25")
    page.get("lightsim.kept.keep()")
    server.stop(signal.SIGKILL)
    page.until("document.getElementById('message').textContent.includes('connection is lost')")
    again = start_server(scene_file, "--port", str(server.port))
    assert again.key != server.key
    context.new_page().goto(again.address)  # brings the new key; the old page goes on by itself
    page.until(
        "lightsim.link.isOpen && lightsim.store.state.lights[0].angle === 25 && !lightsim.store.state.saved"
    )
    assert page.get("lightsim.kept.entries.length") == 1
    assert load_scene(scene_file).lights[0].angle_deg == 60.0


def test_without_a_scene_the_page_asks_what_stands_on_the_table(
    start_server, open_page, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    page = open_page(start_server(None))
    dialog = page.page.locator("#dialog")
    dialog.get_by_label("white", exact=True).check()
    dialog.get_by_label("Tubes, all together").fill("20")
    dialog.get_by_role("button", name="Put it on the table").click()
    page.until("lightsim.store.state.table.petal.reflectance_tip[0] === 0.72")
    assert page.table()["lens"]["extension_tubes_mm"] == [20]
    page.rested("sketch")
    page.page.get_by_role("button", name="Save", exact=True).click()
    dialog.get_by_label("File, in").fill("mine")
    dialog.get_by_role("button", name="Save").click()
    page.until("lightsim.store.state.saved")
    assert load_scene(tmp_path / "mine.toml").lens.extension_tubes_mm == (20.0,)

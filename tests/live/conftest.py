"""A server of the live page on a small set, and a real browser; without one the tests are skipped."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import pytest

CHROMIUM = ("chromium", "chromium-browser", "google-chrome")
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
PATIENCE_S = 90.0  # on a busy machine; nothing here says how long anything may take

SCENE = """\
# A small set for tests.
about = "a flat petal with a few drops"

[petal]
form = "flat"
width_mm = 16.0
length_mm = 16.0
mesh_spacing_mm = 0.8

[drops]
count = 8
diameter_mm = 1.2   # median
contact_angle_deg = 100.0

[camera]
field_width_mm = 14.0
working_distance_mm = 120.0

[exposure]
iso = 100.0
shutter_s = "1/125"

[[light]]           # the key
name = "flash"
guide_number_m = 20.0
power = "1/16"
angle_deg = 60.0    # off the lens axis
clock = 10.0
distance_mm = 220.0

[ambient]
illuminance_lx = 300.0
"""


def chromium() -> str | None:
    """The browser to test in, None where this machine has none."""
    return next((found for name in CHROMIUM if (found := shutil.which(name))), None)


@dataclass
class Server:
    """A running server. file : its scene."""

    process: subprocess.Popen
    address: str
    file: Path

    @property
    def port(self) -> int:
        """The port it listens on."""
        return int(re.search(r":(\d+)/", self.address)[1])

    @property
    def key(self) -> str:
        """Its key."""
        return self.address.partition("key=")[2]

    def stop(self, how: int = signal.SIGINT) -> int:
        """End it; its exit code."""
        if self.process.poll() is None:
            self.process.send_signal(how)
        code = self.process.wait(timeout=60)
        self.process.stdout.close()
        return code


def start(file: Path | None, *options: str) -> Server:
    """A server of the page, as the command starts it."""
    command = [sys.executable, "-u", "-c", "from lightsim.cli import main; main()", "live", "--no-browser"]
    process = subprocess.Popen(
        [*command, *options, *([] if file is None else [str(file)])],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env={**os.environ},
    )  # fmt: skip
    said = []
    for line in process.stdout:
        said.append(line)
        if found := re.search(r"http://\S+", line):
            return Server(process, found[0], file)
    raise AssertionError("".join(said))


@pytest.fixture
def scene_file(tmp_path):
    path = tmp_path / "small.toml"
    path.write_text(SCENE, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    """One server for the tests of a file, which leave its scene as they find it or do not mind."""
    path = tmp_path_factory.mktemp("live") / "small.toml"
    path.write_text(SCENE, encoding="utf-8")
    running = start(path)
    yield running
    running.stop()


@pytest.fixture(scope="session")
def browser():
    """A real browser."""
    path = chromium()
    if path is None:
        words = "no Chromium on this machine (Debian: apt-get install chromium)"
        if os.environ.get("LIGHTSIM_NEEDS_BROWSER"):
            pytest.fail(words)
        pytest.skip(words)
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=path, args=FLAGS)
        yield opened
        opened.close()


class Page:
    """A page of the server in the browser, with what tests ask of it."""

    def __init__(self, page, address):
        self.page, self.address, self.faults = page, address, []
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        page.goto(address)

    def get(self, expression):
        """The value of an expression in the page."""
        return self.page.evaluate(expression)

    def until(self, expression, what=None):
        """Wait until an expression is true."""
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            if self.page.evaluate(expression):
                return
            time.sleep(0.03)
        message = self.page.evaluate("document.getElementById('message').textContent")
        raise AssertionError(f"never came: {what or expression}; the page says {message!r}; {self.faults}")

    def rested(self, quality="normal"):
        """Wait for the picture of the present scene in a quality."""
        self.until(
            f"lightsim?.store.picture?.quality === '{quality}' && lightsim.store.state &&"
            " lightsim.store.picture.revision === lightsim.store.state.revision &&"
            " lightsim.store.own.size >= 0 && !lightsim.store.sending"
        )

    def table(self):
        """The scene as the server holds it."""
        return self.get("lightsim.store.state.table")

    def light(self):
        """The key as the server has it."""
        return self.get("lightsim.store.state.lights[0]")


@pytest.fixture
def open_page(browser):
    """Opens pages that are closed at the end; no fault may have happened in any.

    sky : whether the server fills the sky while it has nothing else to do, which takes all cores.
    """
    opened = []

    def make(server, *, path="", context=None, sky=False, **settings):
        # Half a pixel of the screen for one of the page: pictures of a quarter of the pixels are traced.
        usual = {"viewport": {"width": 1280, "height": 900}, "device_scale_factor": 0.5}
        context = context or browser.new_context(**{**usual, **settings})
        page = Page(context.new_page(), server.address + path)
        opened.append((context, page))
        page.until("window.lightsim?.store.picture?.layers?.length > 0", "a first picture")
        page.get(f"lightsim.link.send('sky', {{on: {str(sky).lower()}}})")
        return page

    yield make
    for context, page in opened:
        context.close()
        assert page.faults == []


@pytest.fixture
def start_server():
    """Starts servers that are ended at the end of the test."""
    started = []

    def make(file, *options):
        started.append(start(file, *options))
        return started[-1]

    yield make
    for running in started:
        running.stop()

"""The newest wish wins, and yet something is shown while wishes keep coming."""

import threading
import time
from dataclasses import replace

import pytest

from lightsim.live import tracing
from lightsim.live.tracing import Tracing
from lightsim.scene.file.read import load_scene
from lightsim.scene.settings.quantities import change_scene
from tests.live.conftest import PATIENCE_S


class Shown:
    """Pictures as they come. Without a page's width there are sketches alone."""

    def __init__(self):
        self.pictures, self.failures = [], []
        self._came = threading.Condition()
        self.tracing = Tracing(
            self._show, lambda *told: self.failures.append(told), lambda _: None, lambda: None
        )
        self.tracing.set_sky(False)

    def _show(self, picture):
        with self._came:
            self.pictures.append(picture)
            self._came.notify()

    def until(self, revision):
        """Wait for the picture of a wish, or of a later one."""
        with self._came:
            came = self._came.wait_for(
                lambda: self.pictures and self.pictures[-1].revision >= revision, PATIENCE_S
            )
        assert came, self.failures


@pytest.fixture
def shown():
    made = Shown()
    made.tracing.start()
    yield made
    made.tracing.close()
    assert made.failures == []


@pytest.fixture
def scene(scene_file):
    return load_scene(scene_file)


def test_a_flower_that_is_turned_without_pause_is_shown(shown, scene):
    end, number = time.monotonic() + PATIENCE_S, 0
    shown.tracing.hand(True)
    while len(shown.pictures) < 3 and time.monotonic() < end:
        number += 1
        petal = replace(scene.petal, turn_deg=float(number % 180))
        shown.tracing.wish(number, replace(scene, petal=petal))
        time.sleep(0.02)
    assert len(shown.pictures) == 3
    shown.until(number)
    assert shown.pictures[-1].scene.petal.turn_deg == float(number % 180)


def test_a_light_that_is_moved_while_its_set_is_prepared_waits_for_no_second_one(shown, scene, monkeypatch):
    made = []

    class Counted(tracing.View):
        def __init__(self, *given, **named):
            made.append(self)
            super().__init__(*given, **named)

    monkeypatch.setattr(tracing, "View", Counted)
    for number in range(1, 20):
        shown.tracing.wish(number, change_scene(scene, {"angle": 40.0 + number}, "flash"))
        time.sleep(0.01)
    shown.until(19)
    assert shown.pictures[-1].scene.lights[0].angle_deg == 59.0
    assert len(made) == 1

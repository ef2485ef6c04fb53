"""The photograph exposed in the browser is that of `expose_layers`, to within one step of eight bits."""

import base64
from dataclasses import replace

import numpy as np
import pytest

from lightsim.live.live_picture import Packing, noise_of
from lightsim.live.scene_state import scene_state
from lightsim.photograph.tone import to_srgb8
from lightsim.report.viewer.viewer_numbers import collect_viewer_numbers
from lightsim.runs.photographing import photograph
from lightsim.scene.build import build
from lightsim.scene.file.read import load_scene
from lightsim.scene.records import Motion, Noise
from lightsim.tracer import View

WIDTH = 96

PAINT = """
async ([picture, lights, settings, numbers, plain]) => {
  const {Viewer} = await import("/viewer/viewer.js");
  const bytes = (text) => Uint8Array.from(atob(text), (one) => one.charCodeAt(0));
  for (const layer of picture.layers) layer.data = new Uint16Array(bytes(layer.data).buffer);
  const viewer = new Viewer(document.createElement("canvas"), numbers, {plain});
  viewer.show(picture);
  viewer.expose(lights, settings);
  viewer.paintNow();
  return [viewer.painter.constructor.name, [...viewer.painter.pixels()]];
}
"""

SETTINGS = {
    "as set": {},
    "over": {"exposure": {"iso": 1600.0}},
    "under": {"exposure": {"iso": 25.0, "shutter_s": 1 / 1024}},
    "long, room light": {"exposure": {"shutter_s": 0.5}},
    "tungsten balance": {"exposure": {"white_balance": 3000.0}},
    "the room's balance": {"exposure": {"white_balance": "ambient", "shutter_s": 0.25}},
    "automatic": {"exposure": {"auto": True, "iso": 800.0}},
    "moving": {"motion": Motion(speed_mm_s=4.0), "exposure": {"shutter_s": 0.25}},
}


@pytest.fixture(scope="module")
def traced(tmp_path_factory, server):
    scene = load_scene(server.file)
    return scene, View(scene, width_px=WIDTH, samples=4).trace()


def changed(scene, changes):
    exposure = replace(scene.exposure, **changes.get("exposure", {}))
    return replace(scene, exposure=exposure, motion=changes.get("motion"))


@pytest.fixture(scope="module")
def blank(browser, server):
    """A page of the server's origin, so that it may load the viewer."""
    context = browser.new_context()
    page = context.new_page()
    page.goto(server.address)
    yield page
    context.close()


@pytest.mark.parametrize("plain", [False, True], ids=["WebGL2", "plain canvas"])
@pytest.mark.parametrize("name", SETTINGS)
def test_the_browser_exposes_as_python_does(blank, traced, name, plain):
    scene, layers = traced
    scene = changed(scene, SETTINGS[name])
    painter, shown = in_browser(blank, layers, scene, plain)
    if not plain and painter != "WebglPainter":
        pytest.skip("this browser has no WebGL2")
    assert painter == ("CanvasPainter" if plain else "WebglPainter")
    wanted = to_srgb8(photograph(layers, scene, build(scene))).astype(np.int16)
    assert np.ptp(wanted) > 60
    assert np.abs(shown - wanted).max() <= 1


@pytest.mark.parametrize("plain", [False, True], ids=["WebGL2", "plain canvas"])
@pytest.mark.parametrize("noise", [Noise(500.0, read_noise_e=0.0), Noise(500.0, read_noise_e=4.0)])
def test_noise_is_as_strong_in_the_browser_as_in_python(blank, traced, noise, plain):
    scene, layers = traced
    light = replace(scene.lights[0], power=1 / 128)
    camera = replace(scene.camera, sensor_px=(600, 400))  # few, so that a small picture has noise to show
    clean = replace(scene, lights=(light,), camera=camera, exposure=replace(scene.exposure, iso=1600.0))
    noisy = replace(clean, noise=noise)
    by_browser = in_browser(blank, layers, noisy, plain)[1] - in_browser(blank, layers, clean, plain)[1]
    pictures = [to_srgb8(photograph(layers, one, build(one))).astype(np.int16) for one in (noisy, clean)]
    by_python = pictures[0] - pictures[1]
    assert by_python.std() > 2.0
    for channel in range(3):
        assert by_browser[..., channel].std() == pytest.approx(by_python[..., channel].std(), rel=0.06)
        drawn = by_browser[..., channel], by_python[..., channel]
        chance = sum(one.var() / one.size for one in drawn) ** 0.5  # standard error of the means' difference
        assert abs(drawn[0].mean() - drawn[1].mean()) < 3.0 * chance


def in_browser(blank, layers, scene, plain):
    """The painter's name and the picture, (h, w, 3), of a scene in the browser."""
    stage, state = build(scene), scene_state(scene)
    height, width = layers.shape
    packed = Packing().pack(layers, scene, stage)
    picture = {
        "width": width,
        "height": height,
        "noise": noise_of(scene, stage, layers.mm_per_px),
        "layers": [
            {
                "name": one.name, "scale": one.bytes.scale, "petal": one.petal,
                "data": base64.b64encode(one.bytes.data).decode(),
            }
            for one in packed
        ],
    }  # fmt: skip
    lights = [*state["lights"], state["room"]]
    painter, pixels = blank.evaluate(
        PAINT, [picture, lights, state["settings"], collect_viewer_numbers(), plain]
    )
    return painter, np.array(pixels, np.int16).reshape(height, width, 4)[..., :3]

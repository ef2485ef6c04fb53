"""The photograph exposed in the browser is that of `expose_layers`, to within one step of eight bits."""

import base64
from dataclasses import replace

import numpy as np
import pytest

from lightsim.live.live_picture import Packing
from lightsim.live.scene_state import scene_state
from lightsim.photograph.tone import to_srgb8
from lightsim.report.viewer import viewer_numbers
from lightsim.runs.photographing import photograph
from lightsim.scene.build import build
from lightsim.scene.file.read import load_scene
from lightsim.scene.records import Motion
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
    stage, state = build(scene), scene_state(scene)
    height, width = layers.shape
    packed = Packing().pack(layers, scene, stage)
    picture = {
        "width": width,
        "height": height,
        "layers": [
            {
                "name": one.name, "scale": one.bytes.scale, "petal": one.petal,
                "data": base64.b64encode(one.bytes.data).decode(),
            }
            for one in packed
        ],
    }  # fmt: skip
    lights = [*state["lights"], state["room"]]
    painter, pixels = blank.evaluate(PAINT, [picture, lights, state["settings"], viewer_numbers(), plain])
    if not plain and painter != "WebglPainter":
        pytest.skip("this browser has no WebGL2")
    assert painter == ("CanvasPainter" if plain else "WebglPainter")
    shown = np.array(pixels, np.int16).reshape(height, width, 4)[..., :3]
    wanted = to_srgb8(photograph(layers, scene, stage)).astype(np.int16)
    assert np.ptp(wanted) > 60
    assert np.abs(shown - wanted).max() <= 1

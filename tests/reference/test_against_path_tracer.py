"""The same small sets rendered here and by Mitsuba 3 (variant scalar_rgb), compared by class of pixels.

Classes come from our own maps: bare petal in the light, petal in a drop's shadow, inside of drops. Each
side is rendered with several seeds; a class mean may differ by three standard errors of the difference plus a
stated share.
"""

from __future__ import annotations

from dataclasses import replace

import mitsuba
import numpy as np
import pytest
from PIL import Image

from lightsim.scene.build import build
from lightsim.scene.records import Drops, PlacedDrop
from lightsim.trace import trace
from tests.trace.sets import lamp, one_drop, plain_petal, simple

WIDTH_PX = 48
SEEDS = 4

mitsuba.set_variant("scalar_rgb")

from tests.reference.translate import mitsuba_scene  # noqa: E402  (a variant must be chosen first)

# a face large and near enough for a path tracer to find it through the water
SOFT = lamp(angle_deg=45.0, clock=10.0, distance_mm=110.0, width_mm=120.0, height_mm=120.0)
SIDE = SOFT.moved(angle_deg=70.0)
PAIR = Drops(
    count=0, placed=(PlacedDrop(-0.7, 0.0, 1.2), PlacedDrop(0.75, 0.2, 1.4)), contact_angle_deg=110.0
)

# Beside the noise: bases of overhanging drops keep their soft light on a grid, and light through two drops
# in a row
# is left out.
SHARE = {"petal": 0.005, "petal in light": 0.005, "petal in shadow": 0.01, "inside of drops": 0.04}


def rendered_there(scene, folder, light, samples):
    loaded = mitsuba_scene(build(scene), folder, WIDTH_PX, light, samples)
    return np.array([np.array(mitsuba.render(loaded, seed=s))[..., 0] for s in range(SEEDS)])


def rendered_here(scene, light):
    layers = [trace(scene, width_px=WIDTH_PX, samples=64, seed=s) for s in range(2)]
    name = light or "ambient"
    pictures = np.array([found.by_light[name].total()[..., 0] for found in layers])
    return pictures, layers[0].maps, layers[0].by_light[name].lit


def classes(maps, lit):
    found = {"inside of drops": maps.drop_cover > 0.99}
    bare = maps.petal_cover > 0.99
    if lit is None:
        found["petal"] = bare
    else:
        found["petal in light"] = bare & (lit > 0.99)
        found["petal in shadow"] = bare & (lit < 0.9)
    return {name: mask for name, mask in found.items() if mask.sum() >= 20}


def keep_pictures(folder, ours, theirs):
    top = max(ours.max(), theirs.max()) + 1e-12
    for name, picture in (("ours", ours), ("theirs", theirs), ("difference", 0.5 * top + (ours - theirs))):
        eight = (np.clip(picture / top, 0.0, 1.0) ** (1 / 2.2) * 255.0).astype(np.uint8)
        Image.fromarray(eight).save(folder / f"{name}.png")


@pytest.mark.parametrize(
    ("scene", "light", "samples"),
    [
        (simple(plain_petal(0.5), one_drop(90.0), (SOFT,), field_mm=4.0), "lamp", 512),
        (simple(plain_petal(0.3), one_drop(130.0), (SIDE,), field_mm=4.0), "lamp", 512),
        (simple(plain_petal(0.5), PAIR, (SIDE,), field_mm=5.0), "lamp", 512),
        (simple(plain_petal(0.5), one_drop(110.0), field_mm=4.0), None, 256),
    ],
    ids=["one drop", "one drop standing high", "two neighbours", "dome"],
)
def test_class_means(scene, light, samples, tmp_path):
    scene = replace(scene, camera=replace(scene.camera, f_number=11.0))
    theirs = rendered_there(scene, tmp_path, light, samples)
    ours, maps, lit = rendered_here(scene, light)
    problems = []
    for name, mask in classes(maps, lit).items():
        a, b = ours[:, mask].mean(axis=1), theirs[:, mask].mean(axis=1)
        error = np.hypot(np.std(a, ddof=1) / len(a) ** 0.5, np.std(b, ddof=1) / len(b) ** 0.5)
        print(f"{name}: ours / theirs {a.mean() / b.mean():.4f} +- {error / b.mean():.4f}")
        if abs(a.mean() - b.mean()) > 3.0 * error + SHARE[name] * b.mean():
            problems.append(f"{name}: ours {a.mean():.5g}, theirs {b.mean():.5g} +- {error:.2g}")
    if problems:
        keep_pictures(tmp_path, ours.mean(axis=0), theirs.mean(axis=0))
    assert not problems, f"{'; '.join(problems)} (pictures in {tmp_path})"

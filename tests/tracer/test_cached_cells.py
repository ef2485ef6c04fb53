"""Parts of a face that the petal surely leaves to a pixel, or surely hides from it: rays must agree."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lightsim.scene.records import Petal
from lightsim.tracer import kernels
from lightsim.tracer.area_light import LampWork
from lightsim.tracer.kernels.drop_visibility import STATE
from lightsim.tracer.view import View
from tests.tracer.inner import Room
from tests.tracer.sets import lamp, simple

blocks, faces, visibility, leaf = (
    Room(room)
    for room in (kernels.visibility_cache, kernels.emitters, kernels.drop_visibility, kernels.petal_mesh)
)


@pytest.mark.parametrize("shape", ["rectangle", "round"])
@pytest.mark.parametrize(
    ("angle_deg", "relief_mm"), [(75.0, 0.03), (84.0, 0.03), (95.0, 0.03), (80.0, 0.06), (86.0, 0.06)]
)
def test_what_is_known_of_the_petals_shadow_is_what_rays_find(angle_deg, relief_mm, shape):
    light = lamp(
        angle_deg=angle_deg, clock=2.0, distance_mm=150.0, shape=shape, width_mm=50.0, height_mm=50.0
    )
    petal = Petal(form="cupped", curl=0.3, mesh_spacing_mm=0.3, relief_mm=relief_mm)
    scene = simple(petal, lights=(light,), field_mm=20.0)
    view = View(replace(scene, ambient=replace(scene.ambient, illuminance_lx=0.0)), width_px=400, samples=1)
    work = LampWork(view, view.stage.lights[0])
    for block in view._blocks:
        work.classify_coarse(block)
    for block in view._blocks:
        work.classify_fine(block)
    cache, face = work.cache, faces.face_of(work.face)
    leaves, stack = view.packed.petal, np.empty(192, dtype=np.int32)
    rng = np.random.default_rng(5)
    asked, known, wrong = 0, 0, 0
    light, lost, found = 0.0, 0.0, 0.0
    for block in view._blocks:
        paths = block.paths
        for p in rng.choice(np.flatnonzero(paths.mean_end >= 0), 1500):
            x, y = (paths.first + p) % paths.width, (paths.first + p) // paths.width
            state = blocks.common_state(cache.petal_state, blocks.BLOCK, x, y, 1)
            if state != STATE.mixed:
                continue
            cells = blocks.cells_of_pixel(cache, state, x, y, 1)
            e = paths.mean_end[p]
            f = int(paths.petal_face[e])
            o = leaf.place(leaves, f, paths.petal_uv[e, 0], paths.petal_uv[e, 1])
            n = np.array(leaf.flat_normal(leaves, f))
            for a, b in rng.random((8, 2)):
                seen = blocks.sample_visibility(cells, a, b)
                point = faces.point_on(face, a, b)[0]
                through = visibility.petal_visibility(leaves, f, o, point, stack)
                to = np.array(point) - o
                falls = abs(n @ to) / np.linalg.norm(n) / np.linalg.norm(to)
                light += falls * through
                lost += falls * (seen == STATE.hidden and through)
                found += falls * (seen == STATE.clear and not through)
                asked += 1
                known += seen != STATE.mixed
                wrong += seen not in (STATE.mixed, STATE.clear if through else STATE.hidden)
    assert asked > 1000
    assert known > 0.3 * asked
    assert wrong < 0.005 * known
    assert lost < 0.0005 * light
    assert found < 0.002 * light

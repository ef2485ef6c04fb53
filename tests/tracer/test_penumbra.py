"""The half-shadow that a drop casts in the light of a large face, against rays counted in plain vectors."""

from __future__ import annotations

import numpy as np
import pytest

from lightsim.tracer import View
from tests.tracer.sets import lamp, one_drop, plain_petal, simple

WIDTH_PX = 96
LARGE = lamp(angle_deg=45.0, clock=9.0, distance_mm=150.0, width_mm=120.0, height_mm=120.0)


def counted(view: View, pixel: tuple[int, int], rays: int = 200_000) -> float:
    """Share of the face's irradiance that gets past the sphere to the middle of a pixel on the flat petal."""
    face, drops, lens = view.stage.lights[0].face, view.stage.drops, view.lens
    x = (
        np.array([(pixel[1] + 0.5 - 0.5 * lens.width), (0.5 * lens.height - pixel[0] - 0.5), 0.0])
        * lens.pitch
    )
    u = np.random.default_rng(2).uniform(-1.0, 1.0, (rays, 2))
    y = face.centre + u[:, :1] * face.half_width_mm * face.right + u[:, 1:] * face.half_height_mm * face.up
    to = y - x
    far = np.linalg.norm(to, axis=1)
    d = to / far[:, None]
    weight = d[:, 2] * -(d @ face.out) / far**2
    m = np.asarray(drops.centre)[0] - x
    off = np.linalg.norm(m - (d @ m)[:, None] * d, axis=1)
    return float(weight[off > drops.radius[0]].sum() / weight.sum())


@pytest.mark.parametrize("seed", [0, 1])
def test_a_drop_leaves_of_the_light_what_rays_count(seed):
    view = View(
        simple(plain_petal(0.5), one_drop(100.0), (LARGE,), field_mm=6.0),
        width_px=WIDTH_PX,
        samples=16,
        seed=seed,
    )
    lit = view.trace().by_light["lamp"].lit
    middle = view.lens.height // 2
    edge, faint = [], []
    for column in range(62, 92, 2):
        want = counted(view, (middle, column))
        if view.maps.drop_cover[middle, column] == 0.0 and want < 0.999:
            (faint if want > 0.9 else edge).append(lit[middle, column] - want)
    assert len(edge) > 4
    assert np.abs(np.mean(edge)) < 0.02
    assert len(faint) > 3
    assert np.abs(faint).max() < 0.004
    assert np.abs(np.mean(faint)) < 0.002

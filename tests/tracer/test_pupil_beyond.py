"""An entrance pupil beyond the subject: rays run together toward it, so what is nearer is drawn smaller."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from lightsim.optics.fresnel import reflectance
from lightsim.optics.lens_records import StackedLens
from lightsim.scene.camera import toward_lens
from lightsim.scene.faces import direction
from lightsim.scene.records import (
    Ambient,
    Camera,
    Drops,
    Focus,
    Lens,
    Light,
    Petal,
    PlacedDrop,
    Scene,
)
from lightsim.tracer import View

RADIUS_MM, DISTANCE_MM, LAMP_MM, ANGLE_DEG = 0.5, 800.0, 30.0, 50.0


def view_of(offset_mm: float, f_number: float) -> View:
    """A drop beside the axis, focused so far before the petal, through a second lens that is reversed."""
    scene = Scene(
        petal=Petal(form="flat", relief_mm=0.0, gloss=0.0, mesh_spacing_mm=2.0, veins=0),
        drops=Drops(count=0, placed=(PlacedDrop(4.0, 0.0, 2.0 * RADIUS_MM),)),
        camera=Camera(f_number=f_number, focus=Focus(on="offset", offset_mm=offset_mm)),
        lens=Lens(native_magnification=0.0, flange_distance_mm=44.0, stacked=StackedLens(50.0)),
        lights=(
            Light(
                shape="round", width_mm=LAMP_MM, angle_deg=ANGLE_DEG, distance_mm=DISTANCE_MM, intensity=1.0
            ),
        ),
        ambient=Ambient(illuminance_lx=0.0),
        bodies=False,
    )
    return View(scene, width_px=360, samples=16)


def perspective(view: View, z: float) -> float:
    """How much larger than in focus a thing at height z is drawn: u / (u - z) with u below 0."""
    far = view.lens.pupil_distance
    assert far < 0.0
    return far / (far - z)


@pytest.mark.parametrize("offset_mm", [-4.0, 3.0])
def test_a_nearer_drop_is_drawn_smaller_and_nearer_to_the_middle(offset_mm: float) -> None:
    view = view_of(offset_mm, f_number=22.0)
    cover = view.trace().maps.drop_cover.astype(float)
    centre, z = view.stage.drops.centre[0], float(view.stage.drops.centre[0, 2])
    grows = perspective(view, z)
    assert (grows < 1.0) == (z > 0.0)
    across = (np.arange(view.lens.width) + 0.5 - view.lens.width / 2) * view.lens.pitch
    seen_at = (cover.sum(axis=0) * across).sum() / cover.sum()
    assert seen_at == pytest.approx(centre[0] * grows, abs=0.03)
    assert cover.sum() * view.lens.pitch**2 == pytest.approx(pi * (RADIUS_MM * grows) ** 2, rel=0.05)


def test_a_highlight_out_of_focus_keeps_its_light() -> None:
    """Area R^2 Omega / 4 (the mirror's focal length is R / 2) times Fresnel's share at half the phase angle,
    times the lamp's luminance, as the perspective draws it. Hecht, Optics, ch. 4 and 5."""
    view = view_of(2.0, f_number=4.0)
    glint = view.trace().by_light["flash"].glint.astype(float)
    drop = view.stage.drops.centre[0]
    to_lamp = DISTANCE_MM * direction(ANGLE_DEG, 10.0) - drop
    to_lens = toward_lens(view.stage.camera, drop)
    assert to_lens[2] > 0.0
    far = float(np.linalg.norm(to_lamp))
    phase = np.arccos(to_lamp @ to_lens / far / np.linalg.norm(to_lens))
    luminance = 1e6 / (pi * (LAMP_MM / 2) ** 2)
    share = float(reflectance(np.degrees(phase / 2)))
    area = RADIUS_MM**2 * pi * (LAMP_MM / 2) ** 2 / far**2 / 4 * perspective(view, float(drop[2])) ** 2
    lean = float(to_lens[2] / np.linalg.norm(to_lens))
    # Seen aslant, the plane of sharp focus shows the same light over an area larger by 1 / cos.
    assert glint.sum() * view.lens.pitch**2 * lean == pytest.approx(area * share * luminance, rel=0.05)

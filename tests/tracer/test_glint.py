"""Small highlights out of focus: discs with the closed form's light, size and smoothness."""

from __future__ import annotations

from math import pi, radians, sin

import numpy as np
import pytest

from lightsim.optics.fresnel import reflectance
from lightsim.scene.faces import direction
from lightsim.scene.records import Ambient, Camera, Drops, Focus, Light, Petal, PlacedDrop, Scene
from lightsim.tracer import View

RADIUS_MM, DISTANCE_MM, LAMP_MM, ANGLE_DEG = 0.4, 800.0, 30.0, 50.0


@pytest.fixture(scope="module")
def view() -> View:
    scene = Scene(
        petal=Petal(form="flat", relief_mm=0.0, gloss=0.0, mesh_spacing_mm=2.0, veins=0),
        drops=Drops(count=0, placed=(PlacedDrop(0.0, 0.0, 2.0 * RADIUS_MM),)),
        camera=Camera(
            field_width_mm=8.0,
            working_distance_mm=100.0,
            f_number=4.0,
            focus=Focus(on="offset", offset_mm=3.0),
        ),
        lights=(
            Light(
                shape="round", width_mm=LAMP_MM, angle_deg=ANGLE_DEG, distance_mm=DISTANCE_MM, intensity=1.0
            ),
        ),
        ambient=Ambient(illuminance_lx=0.0),
    )
    return View(scene, width_px=200, samples=16)


@pytest.fixture(scope="module")
def glint(view: View) -> np.ndarray:
    return view.trace().by_light["flash"].glint.astype(float)


def enlarged(view: View) -> float:
    """By how much perspective enlarges the drop against the plane of sharp focus."""
    far = view.lens.pupil_distance
    return far / (far - float(view.stage.drops.centre[0, 2]))


def test_a_highlight_out_of_focus_keeps_its_light(view: View, glint: np.ndarray) -> None:
    """Area R^2 Omega / 4, from the mirror's focal length R / 2, times Fresnel's share at half the phase angle
    (Hecht, Optics, ch. 4 and 5), times the lamp's luminance."""
    drop = view.stage.drops.centre[0]
    to_lamp = DISTANCE_MM * direction(ANGLE_DEG, 10.0) - drop
    to_lens = np.array([0.0, 0.0, view.lens.pupil_distance]) - drop
    far = float(np.linalg.norm(to_lamp))
    phase = np.arccos(to_lamp @ to_lens / far / np.linalg.norm(to_lens))
    solid_angle = pi * (LAMP_MM / 2) ** 2 / far**2
    luminance = 1e6 / (pi * (LAMP_MM / 2) ** 2)
    share = float(reflectance(np.degrees(phase / 2)))
    area = RADIUS_MM**2 * solid_angle / 4 * enlarged(view) ** 2
    assert glint.sum() * view.lens.pitch**2 == pytest.approx(area * share * luminance, rel=0.03)


def test_it_is_a_disc_of_the_size_that_the_lens_opening_gives(view: View, glint: np.ndarray) -> None:
    """Similar triangles from the opening through the highlight to the plane of sharp focus. The highlight is
    the lamp's virtual image, about R / 2 above the drop's middle."""
    z = float(view.stage.drops.centre[0, 2]) + RADIUS_MM * 0.5
    far = view.lens.pupil_distance
    diameter = 2.0 * view.lens.pupil_radius * abs(z) / (far - z) / view.lens.pitch
    disc = glint > 0.3 * np.median(glint[glint > 0.0])
    assert np.sqrt(4.0 * disc.sum() / pi) == pytest.approx(diameter, rel=0.05)


def test_it_has_no_speckle(glint: np.ndarray) -> None:
    """The camera's 16 paths a pixel alone would leave most of its pixels dark."""
    rows, columns = np.nonzero(glint > 0.3 * np.median(glint[glint > 0.0]))
    middle = rows.mean(), columns.mean()
    reach = np.hypot(rows - middle[0], columns - middle[1])
    inner = glint[rows, columns][reach < 0.7 * reach.max()]
    assert inner.std() < 0.15 * inner.mean()
    assert np.median(inner) == pytest.approx(inner.mean(), rel=0.05)


def test_it_stands_on_the_light_s_side(view: View, glint: np.ndarray) -> None:
    rows, columns = np.nonzero(glint > 0.0)
    weight = glint[rows, columns]
    x = (columns @ weight / weight.sum() + 0.5 - view.lens.width / 2) * view.lens.pitch / enlarged(view)
    place = RADIUS_MM * sin(radians(ANGLE_DEG / 2)) * direction(90.0, 10.0)[0]
    assert x == pytest.approx(place, abs=0.15 * RADIUS_MM)

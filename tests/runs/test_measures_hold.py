"""Petal contrast, shadow depth and texture do not depend on the picture's quality and size, and change
steadily as the light goes round: traced pictures of one wet petal."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from lightsim.measures import FrameMeasures, measure_photograph
from lightsim.picture import Photograph, bare_petal
from lightsim.runs.photographing import measures_of, photograph
from lightsim.scene.build import build
from lightsim.scene.records import Camera, Card, Diffuser, Drops, Lens, Light, Petal, PlacedDrop, Scene
from lightsim.tracer import QUALITY, View

FLASH = Light(
    width_mm=60.0, height_mm=40.0, distance_mm=200.0, angle_deg=75.0, clock=10.0, guide_number_m=20.0,
    power=0.25, diffuser=Diffuser(width_mm=100.0, height_mm=80.0),
)  # fmt: skip
WET_PETAL = Scene(
    petal=Petal(form="cupped", tilt_deg=15.0, tilt_clock=10.0, mesh_spacing_mm=0.12),
    drops=Drops(count=60, diameter_mm=0.7, seed=1, placed=(PlacedDrop(0.0, 2.0, 1.5),)),
    camera=Camera(f_number=11.0, looks_down_deg=30.0),
    lens=Lens(focal_length_mm=100.0, native_magnification=1.0, extension_tubes_mm=(36.0, 12.0)),
    lights=(FLASH,),
    cards=(Card(angle_deg=70.0, clock=4.0, distance_mm=120.0),),
)


@cache
def view(width_px: int, samples: int) -> View:
    return View(WET_PETAL, width_px=width_px, samples=samples)


@cache
def taken(angle_deg: float, width_px: int, quality: str) -> tuple[Photograph, FrameMeasures]:
    scene = replace(WET_PETAL, lights=(replace(FLASH, angle_deg=angle_deg),))
    layers, stage = view(width_px, QUALITY[quality]).trace(scene), build(scene)
    photo = photograph(layers, scene, stage)
    return photo, measures_of(photo, layers, scene, stage)


@pytest.mark.parametrize("angle_deg", [20.0, 75.0, 105.0])
@pytest.mark.parametrize(("width_px", "quality"), [(480, "draft"), (480, "final"), (960, "draft")])
def test_quality_and_size_do_not_count(angle_deg, width_px, quality):
    # 0.1 stop; 0.2 for the finest band at 480 pixels, where a pixel is a fifth of the finest detail.
    found, wanted = taken(angle_deg, width_px, quality)[1], taken(angle_deg, 1920, "draft")[1]
    assert found.petal_contrast_stops == pytest.approx(wanted.petal_contrast_stops, abs=0.1)
    assert found.petal_stops_from_mid_tone == pytest.approx(wanted.petal_stops_from_mid_tone, abs=0.1)
    if wanted.shadow_depth_stops is not None:
        assert found.shadow_depth_stops == pytest.approx(wanted.shadow_depth_stops, abs=0.1)
    coarse = np.log2(found.texture_coarse_rms / wanted.texture_coarse_rms)
    fine = np.log2(found.texture_fine_rms / wanted.texture_fine_rms)
    assert abs(coarse) < 0.1
    assert abs(fine) < 0.2


def test_the_light_going_round_makes_no_jumps():
    # From 20 degrees on, where the lens leaves most of the flash free. In steps of 5 degrees no frame stands
    # off the middle of its neighbours by more than 0.4 stops, where the range is over 3; what jumps is a
    # measure of a few pixels that come and go.
    stops = np.array([taken(float(a), 480, "draft")[1].petal_contrast_stops for a in range(20, 181, 5)])
    assert np.ptp(stops) > 3.0
    assert np.abs(stops[1:-1] - 0.5 * (stops[:-2] + stops[2:])).max() < 0.4
    turns = np.diff(np.sign(np.diff(stops)[np.abs(np.diff(stops)) > 0.05]))
    assert np.count_nonzero(turns) <= 4  # it falls, rises to side light, to raking light, and falls


def test_shadow_depth_is_there_for_drops_in_side_light_and_steady():
    depths = [taken(float(a), 480, "draft")[1].shadow_depth_stops for a in range(20, 181, 5)]
    known = [depth for depth in depths if depth is not None]
    assert len(known) >= 4
    assert all(depth > 0.5 for depth in known)
    together = [(a, b) for a, b in pairwise(depths) if a is not None and b is not None]
    assert max(abs(a - b) for a, b in together) < 0.5


@pytest.mark.parametrize("angle_deg", [20.0, 75.0, 105.0])
def test_the_picture_alone_gives_the_same_contrast(angle_deg):
    photo, known = taken(angle_deg, 480, "final")
    drops = photo.maps.drops
    discs = [(x, y, r) for (x, y), r in zip(drops.centre_px, drops.radius_px, strict=True)]
    by_mask = measure_photograph(photo.linear, photo.mm_per_px, petal=bare_petal(photo.maps))
    assert by_mask.petal_contrast_stops == pytest.approx(known.petal_contrast_stops, abs=1e-3)
    by_drops = measure_photograph(
        photo.linear, photo.mm_per_px, discs, petal=photo.maps.backdrop_cover < 0.02
    )
    assert by_drops.petal_contrast_stops == pytest.approx(known.petal_contrast_stops, abs=0.1)

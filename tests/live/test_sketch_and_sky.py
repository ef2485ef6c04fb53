"""How large a sketch is, and which places the sky is filled at."""

from dataclasses import replace

import pytest

from lightsim.live.sketch_size import AIM_S, NOTES, STEPS, SketchSize
from lightsim.live.sky import Sky, place_of, sky_places
from lightsim.scene.file.write import template_scene
from lightsim.scene.settings.quantities import change_scene


def test_a_quick_machine_gets_larger_sketches_and_a_slow_one_the_smallest():
    size = SketchSize()
    for _ in range(NOTES):
        size.note(AIM_S / 100, STEPS[0][0])
    assert size.better() == len(STEPS) - 1
    size.take(len(STEPS) - 1)
    assert (size.width_px, size.samples) == STEPS[-1]
    assert size.better() is None
    for _ in range(NOTES):
        size.note(10.0, STEPS[-1][0])
    assert size.better() == 0


def test_a_size_is_kept_until_enough_sketches_tell():
    size = SketchSize()
    for _ in range(NOTES - 1):
        size.note(0.001, STEPS[0][0])
    assert size.better() is None


def test_the_sky_begins_coarse_and_comes_to_every_place_once():
    found = list(sky_places())
    assert len(found) == len(set(found)) == 35 * 48 + 2
    coarse = found[: 5 * 4 + 2]
    assert all(angle % 30 == 0 and clock % 3 == 0 for angle, clock in coarse)


@pytest.mark.parametrize(
    ("angle", "clock", "place"),
    [
        (75.0, 10.25, (75.0, 10.25)),
        (180.0, 3.0, (180.0, 12.0)),
        (75.0, 0.0, (75.0, 12.0)),
        (76.0, 10.0, None),
    ],
)
def test_the_key_stands_on_a_place_of_the_sky_or_between(angle, clock, place):
    scene = template_scene()
    moved = change_scene(scene, {"angle": angle, "clock": clock}, scene.lights[0].name)
    assert place_of(moved) == place


def test_a_ring_at_the_lens_has_no_sky_to_fill():
    scene = template_scene()
    ring = replace(scene.lights[0], shape="ring", width_mm=120.0, inner_width_mm=70.0, diffuser=None)
    assert Sky().has_more(scene)
    assert not Sky().has_more(replace(scene, lights=(ring,)))

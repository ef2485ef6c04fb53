"""Lights mixed and exposed: ISO 12232:2006 worked numbers, guide numbers (ISO 1230), stops, white balance."""

from dataclasses import replace
from math import pi

import colour
import numpy as np
import pytest

from lightsim.errors import SceneError
from lightsim.optics.colour import light_xy, white_of_temperature
from lightsim.optics.exposure_values import flash_intensity_cd_s
from lightsim.photograph.exposing import expose_layers
from lightsim.photograph.mix import Source, mix_layers
from lightsim.picture import luminance
from lightsim.scene.records import Exposure
from tests.photograph.synthetic import layer, layers_of, stage_of

WHITE = (1.0, 1.0, 1.0)
PLAIN = Exposure(iso=100, shutter_s=1 / 128, white_balance=6504.0)


def scene_of_three(ambient_lx=300.0, n_eff=16.0):
    """A flash, a lamp and the dome on a pink petal, with all parts of a layer in use."""
    petal = np.array((0.4, 0.2, 0.3), np.float32)
    layers = layers_of(
        layer("flash", "cd s", petal, glint=0.1, surface=0.02, water=0.05),
        layer("lamp", "cd", petal * 0.5, surface=0.01),
        layer("ambient", "lx", petal / pi),
    )
    lights = (("flash", "flash", 2.0, 5600.0), ("lamp", "continuous", 150.0, 3200.0))
    return layers, stage_of(*lights, ambient_lx=ambient_lx, ambient_kelvin=4000.0, n_eff=n_eff)


def test_worked_exposure_comes_out_at_the_mid_tone():
    # ISO 12232:2006: L = 4000 cd/m2, f/8, 1/250 s has the exposure index 61.38973, and so is 0.18 at that
    # speed.
    layers = layers_of(layer("lamp", "cd", WHITE))
    stage = stage_of(("lamp", "continuous", 4000.0, 6504.0), n_eff=8.0)
    photo = expose_layers(layers, stage, Exposure(iso=61.38973, shutter_s=1 / 250, white_balance="lamp"))
    assert photo.luminance() == pytest.approx(0.18, abs=1e-5)


def test_saturation_is_where_the_standard_puts_it():
    # 78 N^2 / (q S t) = 12.8 x the mid-tone's luminance, less the rounding of 78: H = 78 / S.
    layers = layers_of(layer("lamp", "cd", WHITE))
    exposure = Exposure(iso=61.38973, shutter_s=1 / 250, white_balance="lamp")
    for luminous, clipped in ((4000 * 7.79, 0.0), (4000 * 7.81, 1.0)):
        stage = stage_of(("lamp", "continuous", luminous, 6504.0), n_eff=8.0)
        assert expose_layers(layers, stage, exposure).notes["clipped_share"] == clipped


@pytest.mark.parametrize(("rho", "h_s"), [(0.18, 9.33), (0.5, 25.9), (0.9, 46.7)])
def test_known_reflectance_under_a_known_guide_number(rho, h_s):
    # H S = q rho C / pi with C = 250 (ISO 2720, ISO 12232): guide number 24 m, 1/16, 0.25 m, life size.
    distance_m = 0.25
    n = 24 * (1 / 16) ** 0.5 / (distance_m * 2)  # ISO 1230 with the light lost to extension, 1 + m
    facing = np.full(3, rho / pi / distance_m**2)
    layers = layers_of(layer("flash", "cd s", facing))
    stage = stage_of(("flash", "flash", flash_intensity_cd_s(24, 1 / 16), 5600.0), n_eff=2 * n)
    photo = expose_layers(layers, stage, PLAIN)
    expected = 0.018 * h_s
    assert photo.luminance() == pytest.approx(expected, rel=3e-3)


def doubled(name):
    """Layers, stage and exposure with one stop more of something."""
    layers, stage = scene_of_three()
    if name == "iso":
        return layers, stage, replace(PLAIN, iso=200)
    if name == "f-number":
        return layers, replace(stage, camera=replace(stage.camera, effective_f_number=16 / 2**0.5)), PLAIN
    lights = tuple(replace(light, output=2 * light.output) for light in stage.lights)
    return layers, replace(stage, lights=lights, ambient_illuminance_lx=600.0), PLAIN


@pytest.mark.parametrize("what", ["iso", "f-number", "outputs"])
def test_one_stop_of_anything_moves_the_picture_one_stop(what):
    layers, stage = scene_of_three()
    before = expose_layers(layers, stage, PLAIN)
    after = expose_layers(*doubled(what))
    assert after.linear == pytest.approx(2 * before.linear, rel=1e-5)
    assert after.glint == pytest.approx(2 * before.glint, rel=1e-5)
    brighter = expose_layers(layers, stage, PLAIN, gain_stops=1.0)
    assert brighter.linear == pytest.approx(2 * before.linear, rel=1e-5)


def test_marked_speeds_stand_for_exact_ones():
    # Thirds of a stop are 2^(1/3) apart; the marks 125 and 160 are rounded (common practice, ISO 5800).
    layers, stage = scene_of_three()
    pictures = [expose_layers(layers, stage, replace(PLAIN, iso=iso)) for iso in (100, 125, 160, 200)]
    for third, photo in enumerate(pictures):
        assert photo.linear == pytest.approx(2 ** (third / 3) * pictures[0].linear, rel=1e-5)
    assert [photo.notes["iso"] for photo in pictures] == [100, 125, 160, 200]  # told as marked


def test_shutter_moves_the_room_and_not_the_flash():
    layers, stage = scene_of_three()
    longer = replace(PLAIN, shutter_s=1 / 64)
    dark = {"lamp": Source("continuous", 0.0, 3200.0), "ambient": Source("ambient", 0.0, 4000.0)}
    flash = [expose_layers(layers, stage, each, sources=dark).linear for each in (PLAIN, longer)]
    assert np.array_equal(flash[0], flash[1])
    off = {"flash": Source("flash", 0.0, 5600.0)}
    room = [expose_layers(layers, stage, each, sources=off).linear for each in (PLAIN, longer)]
    assert room[1] == pytest.approx(2 * room[0], rel=1e-5)


def test_light_adds():
    layers, stage = scene_of_three()
    off = {name: Source("continuous", 0.0, 5000.0) for name in layers.by_light}
    alone = [
        expose_layers(layers, stage, PLAIN, sources={key: off[key] for key in off if key != name}).linear
        for name in off
    ]
    assert sum(alone) == pytest.approx(expose_layers(layers, stage, PLAIN).linear, rel=1e-5)


def test_f8_to_f22_is_paid_for_by_three_stops_of_flash():
    # 1/128 to 1/16 for f/8 to f/22, 1/16 to 1/8 for f/22 to f/32: common practice, no source; exact in
    # powers of two.
    layers = layers_of(layer("flash", "cd s", WHITE))
    pictures = [
        expose_layers(layers, stage_of(("flash", "flash", 500 * power, 5600.0), n_eff=2 * n), PLAIN).linear
        for n, power in ((8, 1 / 128), (8 * 2**1.5, 1 / 16), (32, 1 / 8))
    ]
    assert pictures[1] == pytest.approx(pictures[0], rel=1e-5)
    assert pictures[2] == pytest.approx(pictures[0], rel=1e-5)


@pytest.mark.parametrize("kelvin", [2856.0, 3200.0, 4500.0, 5600.0, 9000.0])
def test_white_balance_makes_a_white_petal_neutral(kelvin):
    layers = layers_of(layer("lamp", "cd", WHITE))
    stage = stage_of(("lamp", "continuous", 100.0, kelvin))
    for white_balance in ("key", "lamp", kelvin):
        pixel = expose_layers(layers, stage, replace(PLAIN, white_balance=white_balance)).linear[0, 0]
        assert pixel == pytest.approx(np.full(3, pixel[1]), rel=1e-4)


@pytest.mark.parametrize(("light", "balance"), [(3200.0, 5600.0), (5600.0, 3200.0), (2856.0, 6504.0)])
def test_mixed_light_keeps_its_tint(light, balance):
    # The same by colour-science: the light's white adapted from the balanced white to D65 (Bradford).
    layers = layers_of(layer("lamp", "cd", WHITE))
    stage = stage_of(("lamp", "continuous", 100.0, light))
    pixel = expose_layers(layers, stage, replace(PLAIN, white_balance=balance)).linear[0, 0]
    whites = [colour.xy_to_XYZ(light_xy(kelvin)) for kelvin in (light, balance)]
    adapted = colour.adaptation.chromatic_adaptation_VonKries(
        whites[0], whites[1], colour.xy_to_XYZ((0.3127, 0.3290)), transform="Bradford"
    )
    expected = colour.XYZ_to_sRGB(adapted, apply_cctf_encoding=False)
    assert pixel / pixel[1] == pytest.approx(expected / expected[1], rel=2e-3)


def test_balance_by_name():
    layers, stage = scene_of_three()
    tungsten = expose_layers(layers, stage, replace(PLAIN, white_balance="lamp")).linear[0, 0]
    flash = expose_layers(layers, stage, replace(PLAIN, white_balance="key")).linear[0, 0]
    room = expose_layers(layers, stage, replace(PLAIN, white_balance="ambient")).linear[0, 0]
    assert tungsten[2] / tungsten[0] > room[2] / room[0] > flash[2] / flash[0]


@pytest.mark.parametrize(
    ("white_balance", "sentence"),
    [
        (
            "sun",
            'white_balance: "sun" names no light; allowed are "key", "flash", "lamp", "ambient", or 1000',
        ),
        (500.0, "white_balance: 500 kelvin is out of range; .* 1000 to 25000 kelvin"),
    ],
)
def test_white_balance_that_names_no_light(white_balance, sentence):
    layers, stage = scene_of_three()
    with pytest.raises(SceneError, match=sentence):
        expose_layers(layers, stage, replace(PLAIN, white_balance=white_balance))


@pytest.mark.parametrize(("height", "width"), [(1, 1), (5, 7), (200, 480), (113, 701), (3, 45_000)])
def test_mixing_is_the_plain_sum(height, width):
    # A slow twin: every layer's total times its matrix, whatever the size of the picture.
    random = np.random.default_rng(height)
    shape = (height, width, 3)
    drawn = [
        layer(
            name,
            "cd",
            random.random(shape),
            random.random(shape[:2]),
            random.random(shape),
            random.random(shape),
        )
        for name in ("a", "b")
    ]
    layers = layers_of(*drawn)
    by_light = {name: random.random((3, 3)).astype(np.float32) for name in ("a", "b")}
    twin = sum(layers.by_light[name].total() @ by_light[name] for name in by_light)
    assert np.allclose(mix_layers(layers, by_light), twin, rtol=1e-5)


def test_layers_stay_as_they_were():
    layers, stage = scene_of_three()
    before = [part.copy() for each in layers.by_light.values() for part in (each.glint, each.petal)]
    expose_layers(layers, stage, replace(PLAIN, auto=True))
    after = [part for each in layers.by_light.values() for part in (each.glint, each.petal)]
    assert all(np.array_equal(*pair) for pair in zip(before, after, strict=True))


def test_glint_is_its_part_of_the_luminance():
    layers, stage = scene_of_three()
    photo = expose_layers(layers, stage, PLAIN)
    no_glint = {
        name: replace(each, glint=np.zeros_like(each.glint)) for name, each in layers.by_light.items()
    }
    without = expose_layers(replace(layers, by_light=no_glint), stage, PLAIN)
    assert photo.luminance() - luminance(without.linear) == pytest.approx(photo.glint, rel=1e-4)
    assert white_of_temperature(5600.0)[2] < 1

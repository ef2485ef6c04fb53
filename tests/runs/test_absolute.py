"""Brightness and sharpness in absolute terms, from the set to the pixel, with the real tracer.

Each expected value is worked out here by itself, from published formulas, in plain numbers.
"""

from __future__ import annotations

from dataclasses import replace
from math import cos, log2, pi, radians

import numpy as np
import pytest

from lightsim.optics.airy import diffraction_contrast
from lightsim.optics.exposure_values import stops
from lightsim.runs.photographing import photograph
from lightsim.scene.build import build
from lightsim.scene.records import (
    Ambient,
    Camera,
    Diffuser,
    Drops,
    Exposure,
    Focus,
    Lens,
    Light,
    Motion,
    Petal,
    PlacedDrop,
    Scene,
)
from lightsim.tracer import View, trace_layers

REFLECTED = 0.4
WIDTH_PX = 96

# A matt grey petal without texture that fills the frame, and one small round flash, half a metre away.
PETAL = Petal(
    form="flat",
    outline="rectangle",
    width_mm=60.0,
    length_mm=60.0,
    mesh_spacing_mm=4.0,
    reflectance_foot=(REFLECTED,) * 3,
    reflectance_tip=(REFLECTED,) * 3,
    transmittance_foot=(0.0,) * 3,
    transmittance_tip=(0.0,) * 3,
    veins=0,
    relief_mm=0.0,
    gloss=0.0,
)
FLASH = Light(
    shape="round",
    width_mm=20.0,
    angle_deg=40.0,
    clock=9.0,
    distance_mm=500.0,
    guide_number_m=24.0,
    power=1 / 8,
)
DARK = Ambient(illuminance_lx=0.0)
GREY = Scene(
    petal=PETAL,
    drops=Drops(count=0),
    camera=Camera(f_number=8.0, width_px=WIDTH_PX),
    lens=Lens(extension_tubes_mm=(25.0,), native_working_distance_mm=150.0),  # 1.25 times life size
    exposure=Exposure(white_balance="key"),
    lights=(FLASH,),
    ambient=DARK,
    bodies=False,  # the closed forms know no lens in the light's way
)
MAGNIFICATION = 1.0 + 25.0 / 100.0

# ISO 12232:2006: q = pi/4 T fv cos^4 theta = 0.65 with T = 0.9, fv = 0.98, theta = 10 degrees; H = 10/S is
# the mid-tone, which stands at 0.18 on the linear scale (output level 0.461, decoded by IEC 61966-2-1).
Q = pi / 4 * 0.9 * 0.98 * cos(radians(10.0)) ** 4


def photo_of(scene, layers=None, **options):
    layers = trace_layers(scene, samples=16) if layers is None else layers
    return photograph(layers, scene, build(scene), **options)


def middle(photo):
    """Mean luminance of the middle of the picture."""
    seen = photo.luminance()
    height, width = seen.shape
    return float(seen[height // 2 - 4 : height // 2 + 4, width // 2 - 4 : width // 2 + 4].mean())


def linear_value(exposure_lx_s, iso, effective_f_number):
    """The petal's value: Lambert's L = R E / pi, then ISO 12232's H = q L t / N^2 over 10/S, times 0.18."""
    luminance = REFLECTED * exposure_lx_s / pi
    return 0.18 * Q * luminance / effective_f_number**2 / (10.0 / iso)


@pytest.fixture(scope="module")
def grey_layers():
    """Traced once for all that needs no tracing."""
    return trace_layers(GREY, samples=16)


def flash_exposure_lx_s(guide_number_m, power, distance_m, incidence_deg):
    """E t = 250 GN^2 p / 100 / d^2 cos: ISO 1230 with the incident-light constant of ISO 2720."""
    return 250.0 * guide_number_m**2 * power / 100.0 / distance_m**2 * cos(radians(incidence_deg))


def test_a_grey_petal_under_a_known_flash_has_the_predicted_value(grey_layers):
    # f/8 is exactly 8; N_eff = 8 (1 + 1.25) = 18 (ISO 12232).
    effective = 8.0 * (1.0 + MAGNIFICATION)
    expected = linear_value(flash_exposure_lx_s(24.0, 1 / 8, 0.5, 40.0), 100.0, effective)
    assert 0.05 < expected < 1.0
    # 0.5 % for the flash's size and the frame's part of its fall-off.
    assert middle(photo_of(GREY, grey_layers)) == pytest.approx(expected, rel=0.005)


def test_the_same_through_a_diffuser_and_a_close_up_lens():
    # The diffuser takes 1.5 stops. A close-up lens of 4 dioptres costs no light: N_eff stays 8 (1 + 1.25).
    lens = replace(GREY.lens, close_up_dioptres=4.0)
    soft = replace(FLASH, diffuser=Diffuser(shape="round", width_mm=30.0, loss_stops=1.5))
    scene = replace(GREY, lens=lens, lights=(soft,))
    flash = flash_exposure_lx_s(24.0, 1 / 8, 0.5, 40.0) / 2.0**1.5
    expected = linear_value(flash, 100.0, 8.0 * (1.0 + MAGNIFICATION))
    assert middle(photo_of(scene)) == pytest.approx(expected, rel=0.01)


def test_a_pupil_ratio_changes_the_light_lost_to_extension():
    # N_eff = N (1 + m / P): Conrad, Depth of Field in Depth; van Walree.
    scene = replace(GREY, lens=replace(GREY.lens, pupil_ratio=1.6))
    expected = linear_value(flash_exposure_lx_s(24.0, 1 / 8, 0.5, 40.0), 100.0, 8.0 * (1.0 + 1.25 / 1.6))
    assert middle(photo_of(scene)) == pytest.approx(expected, rel=0.005)


def test_a_petal_in_the_room_s_light_has_the_predicted_value():
    # EV 9 at ISO 100 is 250 2^9 / 100 = 1280 lx (ISO 2720); a matt surface gets it wherever it faces.
    room = Ambient(ev100=9.0, colour_temperature_k=5600.0)
    exposure = Exposure(iso=400.0, shutter_s=1 / 4, white_balance="ambient")
    scene = replace(GREY, lights=(), ambient=room, exposure=exposure)
    expected = linear_value(1280.0 / 4, 400.0, 8.0 * (1.0 + MAGNIFICATION))
    assert middle(photo_of(scene)) == pytest.approx(expected, rel=0.01)


def test_one_stop_of_power_or_iso_is_one_stop_in_the_picture(grey_layers):
    plain = middle(photo_of(GREY, grey_layers))
    stronger = replace(GREY, lights=(replace(FLASH, power=1 / 4),))
    faster = replace(GREY, exposure=replace(GREY.exposure, iso=200.0))
    longer = replace(GREY, exposure=replace(GREY.exposure, shutter_s=1 / 30))
    assert stops(middle(photo_of(stronger, grey_layers)) / plain) == pytest.approx(1.0, abs=1e-4)
    assert stops(middle(photo_of(faster, grey_layers)) / plain) == pytest.approx(1.0, abs=1e-4)
    # The flash is over long before the shutter closes.
    assert middle(photo_of(longer, grey_layers)) == pytest.approx(plain)


def test_one_stop_of_shutter_is_one_stop_of_the_room_s_light():
    scene = replace(
        GREY, lights=(), ambient=Ambient(illuminance_lx=800.0), exposure=Exposure(iso=400.0, shutter_s=1 / 8)
    )
    layers = trace_layers(scene, samples=4)
    longer = replace(scene, exposure=replace(scene.exposure, shutter_s=1 / 4))
    change = stops(middle(photo_of(longer, layers)) / middle(photo_of(scene, layers)))
    assert change == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize(("wider", "narrower", "expected"), [(8.0, 11.0, 1.0), (8.0, 22.0, 3.0)])
def test_f_numbers_differ_by_their_marked_stops(wider, narrower, expected):
    # f/8, f/11, f/22 are marked for 8, 11.31, 22.63 (ISO 517).
    values = []
    for f_number in (wider, narrower):
        camera = replace(GREY.camera, f_number=f_number)
        values.append(middle(photo_of(replace(GREY, camera=camera))))
    assert stops(values[0] / values[1]) == pytest.approx(expected, abs=0.005)


def test_an_extension_darkens_the_picture_as_it_magnifies():
    # ISO 12232: the light on the sensor goes with 1 / (1 + m)^2.
    longer = replace(GREY, lens=replace(GREY.lens, extension_tubes_mm=(25.0, 75.0)))
    change = stops(middle(photo_of(GREY)) / middle(photo_of(longer)))
    assert change == pytest.approx(2.0 * log2((1.0 + 2.0) / (1.0 + 1.25)), abs=0.005)


WET = replace(
    GREY,
    drops=Drops(
        count=0, placed=(PlacedDrop(0.0, 0.0, 1.6), PlacedDrop(4.0, 3.0, 1.2), PlacedDrop(-5.0, 2.0, 1.0))
    ),
    camera=replace(GREY.camera, width_px=240),
    lights=(replace(FLASH, power=1 / 128),),
    exposure=replace(GREY.exposure, iso=800.0),
)


def test_f_8_to_f_22_with_eight_times_the_power_is_the_same_picture_but_for_depth_and_diffraction():
    # 1/128 at f/8 to 1/16 at f/22: three stops each way. Common practice, no source.
    open_set = replace(WET, camera=replace(WET.camera, diffraction=False))
    stopped = replace(
        open_set,
        camera=replace(open_set.camera, f_number=22.0),
        lights=(replace(FLASH, power=1 / 16),),
    )
    first, second = photo_of(open_set), photo_of(stopped)
    petal = first.maps.petal_cover > 0.999
    away = petal & (np.nan_to_num(first.lit, nan=0.0) > 0.99)
    change = np.log2(second.luminance()[away] / first.luminance()[away])
    assert float(np.median(np.abs(change))) < 0.02
    assert second.linear.mean() == pytest.approx(first.linear.mean(), rel=0.02)
    # With diffraction the small opening's picture keeps its light and loses its fine contrast.
    soft = photo_of(replace(stopped, camera=replace(stopped.camera, diffraction=True)))
    assert soft.linear.mean() == pytest.approx(second.linear.mean(), rel=0.02)
    assert np.abs(np.diff(soft.luminance())).mean() < np.abs(np.diff(second.luminance())).mean()


def test_a_highlight_out_of_focus_is_a_disc_of_the_closed_form_s_size():
    # One drop, the focus 4 mm before the petal. Its highlight is a small image of the light, R/2 behind the
    # drop's surface (Hecht, Optics, ch. 5); the lens draws a point z behind the focus as a disc as wide as
    # the cone from the pupil there, D z / (u + z) (Conrad, Depth of Field in Depth).
    drop = Drops(count=0, placed=(PlacedDrop(0.0, 0.0, 0.8),), contact_angle_deg=110.0)
    camera = Camera(
        f_number=4.0, sensor_mm=(3.0, 2.0), width_px=120, diffraction=False,
        focus=Focus(on="offset", offset_mm=4.0),
    )  # fmt: skip
    large = replace(FLASH, angle_deg=20.0, width_mm=90.0, distance_mm=400.0)
    scene = replace(GREY, drops=drop, camera=camera, lights=(large,))
    stage = build(scene)
    layers = View(scene, samples=256).trace(scene)
    glint = layers.by_light["flash"].glint.astype(float)
    # u = 100 (1 + 1/1.25) mm from the pupil, D = f / N for a pupil ratio of 1 (Hecht, Optics, ch. 5).
    u, diameter = 100.0 * (1.0 + 1.0 / 1.25), 100.0 / 4.0
    behind = -(float(stage.drops.centre[0, 2]) + 0.4 * (cos(radians(10.0)) - 0.5))
    disc_mm = diameter * behind / (u + behind)
    image_mm = 0.4 / 2 * 90.0 / 400.0
    # An even disc of diameter w has the second moment w^2 / 8 about its middle; those of a blur add.
    expected_mm = np.sqrt(disc_mm**2 + image_mm**2)
    rows, columns = np.mgrid[0 : glint.shape[0], 0 : glint.shape[1]]
    weight = glint / glint.sum()
    row, column = (weight * rows).sum(), (weight * columns).sum()
    from_middle = np.hypot(rows - row, columns - column)
    moment = (weight * from_middle**2).sum()
    assert np.sqrt(8.0 * moment) * layers.mm_per_px == pytest.approx(expected_mm, rel=0.03)
    # Even out to its edge: half the light lies within 1 / sqrt(2) of its radius.
    half = 0.5 * expected_mm / layers.mm_per_px / np.sqrt(2.0)
    assert weight[from_middle < half].sum() == pytest.approx(0.5, abs=0.05)
    # Round: as much spread up as across.
    across, up = (weight * (columns - column) ** 2).sum(), (weight * (rows - row) ** 2).sum()
    assert across == pytest.approx(up, rel=0.1)


def test_the_picture_of_a_point_has_its_first_dark_ring_where_it_should():
    # A speck of light in the layers stands for a point. The first dark ring's radius is 1.22 lambda N_eff at
    # the sensor, 1.22 lambda N_eff / m at the subject (Airy; Hecht, Optics, ch. 10).
    sensor = (1.5, 1.0)  # a small part of a sensor: 500 pixels of 3 um
    camera = replace(GREY.camera, f_number=22.0, sensor_mm=sensor, sensor_px=(500, 333), width_px=500)
    scene = replace(GREY, camera=camera)
    layers = trace_layers(scene, samples=4)
    point = layers.by_light["flash"]
    for part in (point.glint, point.surface, point.water, point.petal):
        part[...] = 0.0
    point.petal[166, 250] = 1.0
    green = photo_of(scene, layers).linear[..., 1]
    radius = np.hypot(*(np.mgrid[0:333, 0:500] - np.array([166, 250])[:, None, None]))
    rings = [green[(radius >= r - 0.5) & (radius < r + 0.5)].mean() for r in range(40)]
    expected_px = 1.21967 * 0.54 * (2**4.5 * (1.0 + MAGNIFICATION)) / 3.0
    first = next(r for r in range(1, 39) if rings[r] < rings[r - 1] and rings[r] <= rings[r + 1])
    assert first == pytest.approx(expected_px, abs=0.75)
    assert rings[first] < 0.01 * rings[0]


def test_a_slanted_edge_has_the_contrast_of_the_closed_form():
    # The petal's own edge against the dark, turned by 5 degrees (ISO 12233 asks for a slightly slanted edge).
    petal = replace(PETAL, width_mm=30.0, turn_deg=5.0, mesh_spacing_mm=2.0)
    sensor = (1.5, 1.0)  # 375 pixels of 4 um
    camera = Camera(
        f_number=16.0, sensor_mm=sensor, sensor_px=(375, 250), width_px=375, focus=Focus(x_mm=14.99)
    )
    scene = replace(GREY, petal=petal, camera=camera, lights=(replace(FLASH, angle_deg=0.0),))
    green = photo_of(scene, View(scene, samples=64).trace(scene)).linear[..., 1].astype(float)
    per_mm, contrast = edge_contrast(green, 0.004)
    used = (per_mm > 2) & (per_mm < 0.8 * 1e6 / (540 * 16 * (1 + MAGNIFICATION)))
    by_lens = diffraction_contrast(per_mm, 16.0 * (1 + MAGNIFICATION), 540.0)
    # The pixel's own contrast enters twice: it gathers the traced picture and the lens's pattern.
    expected = by_lens * np.sinc(per_mm * 0.004) ** 2
    assert used.sum() >= 6
    assert contrast[used] == pytest.approx(expected[used], abs=0.03)


def edge_contrast(picture, pixel_mm, fine=4):
    """Contrast at each frequency from a slanted edge: rows shifted onto one another, differences, Fourier
    transform. The method of ISO 12233."""
    height, width = picture.shape
    columns = np.arange(width)
    steps = np.abs(np.diff(picture, axis=1))
    places = (steps * (columns[:-1] + 1.0)).sum(axis=1) / steps.sum(axis=1)
    slope, start = np.polyfit(np.arange(height), places, 1)
    along = columns[None, :] + 0.5 - (slope * np.arange(height) + start)[:, None]
    distance = along / np.hypot(1.0, slope)
    bins = np.floor(distance * fine).astype(int)
    low, high = -140 * fine, 140 * fine
    profile = np.array([picture[bins == b].mean() for b in range(low, high)])
    line = np.diff(profile)
    spectrum = np.abs(np.fft.rfft(line))
    per_mm = np.fft.rfftfreq(len(line), pixel_mm / fine)
    return per_mm, spectrum / spectrum[0] / np.sinc(per_mm * pixel_mm / fine)


def test_a_moving_petal_leaves_a_ghost_of_the_predicted_length():
    # The petal's edge crosses the frame. 40 mm/s for 1/32 s is 1.25 mm: in the room's light the edge becomes
    # a ramp that long; the flash of 1/10000 s moves it by 4 um.
    petal = replace(PETAL, width_mm=30.0, mesh_spacing_mm=2.0)
    camera = replace(GREY.camera, width_px=192, diffraction=False, focus=Focus(x_mm=14.99))
    flash = replace(FLASH, angle_deg=0.0, flash_duration_s=1e-4)
    still = replace(
        GREY, petal=petal, camera=camera, lights=(flash,), ambient=Ambient(illuminance_lx=2000.0),
        exposure=Exposure(iso=100.0, shutter_s=1 / 32),
    )  # fmt: skip
    moving = replace(still, motion=Motion(40.0, clock=3.0))
    layers = trace_layers(still, samples=16)
    by_room = {"lights": (replace(flash, power=0.0005),)}
    for scene, expected_mm in ((replace(moving, **by_room), 40.0 / 32), (moving, None)):
        photo = photo_of(scene, layers)
        assert photo.notes["ghost_mm"] == pytest.approx(40.0 / 32)
        assert photo.notes["ghost_px"] == pytest.approx(40.0 / 32 / layers.mm_per_px)
        profile = photo.luminance()[40:90].mean(axis=0)
        if expected_mm is not None:
            inner, outer = profile[:40].mean(), profile[-40:].mean()
            share = (profile - outer) / (inner - outer)
            between = np.interp([0.1, 0.9], share[::-1], np.arange(192.0)[::-1])
            # 10 % to 90 % of a straight ramp is 0.8 of its length.
            assert abs(between[1] - between[0]) * layers.mm_per_px == pytest.approx(
                0.8 * expected_mm, rel=0.03
            )
    below = photo_of(moving, layers).notes["room_light_stops_below_flash"]
    flash_lx_s = flash_exposure_lx_s(24.0, 1 / 8, 0.5, 0.0)
    assert below == pytest.approx(log2(flash_lx_s / (2000.0 / 32)), abs=0.02)


def test_automatic_exposure_says_by_how_many_stops_it_moved(grey_layers):
    by_hand = middle(photo_of(GREY, grey_layers))
    auto = photo_of(GREY, grey_layers, auto=True)
    assert middle(auto) == pytest.approx(0.18, rel=0.01)
    assert auto.notes["auto_stops"] == pytest.approx(log2(0.18 / by_hand), abs=0.01)

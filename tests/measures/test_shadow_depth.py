"""Shadow depth on drawn petals: cast shadow apart from petal that is turned away."""

from dataclasses import replace

import numpy as np
import pytest

from lightsim.measures import measure_frame
from lightsim.measures.bare_petal import PetalPlaces
from lightsim.measures.measure_records import LightPlace
from lightsim.measures.petal_measures import cosine_to
from lightsim.scene.faces import direction
from tests.measures.drawing import MM_PER_PX, coverage, ellipse, wet_petal

SHAPE = (120, 160)
KEY = {"light_clock": 9.0, "light_angle_deg": 60.0, "light_distance_mm": 200.0}


def halves(bright, dark):
    picture = np.full(SHAPE, float(bright))
    picture[:, 80:] = dark
    return picture


def petal(light=None, lit=None, slope=0.0, drops=()):
    """Level at the left; at the right it falls by `slope` mm for each mm to the right."""
    photo = wet_petal(SHAPE, list(drops), light=halves(0.8, 0.2) if light is None else light,
                      lit=halves(1.0, 0.0) if lit is None else lit, saturation=50.0)  # fmt: skip
    fall = np.maximum(np.arange(160) - 79.5, 0.0) * MM_PER_PX * slope
    depth = np.broadcast_to(-fall, SHAPE).astype(np.float32)
    return replace(photo, maps=replace(photo.maps, depth_mm=depth))


def test_lit_petal_to_cast_shadow():
    m = measure_frame(petal(), **KEY)
    assert m.shadow_depth_ratio == pytest.approx(4.0, rel=1e-6)
    assert m.shadow_depth_stops == pytest.approx(2.0, rel=1e-6)
    assert m.cast_shadow_share == pytest.approx(0.5)
    assert m.facing_away_share == 0.0


def test_petal_that_faces_away_is_no_cast_shadow():
    # The key stands at 60 degrees at the left; a slope of 45 degrees to the right has its normal 105 degrees
    # off it, one of 15 degrees 75.
    away = measure_frame(petal(slope=1.0), **KEY)
    assert away.shadow_depth_ratio is None
    assert (
        away.missing["shadow_depth_ratio"] == "less than 0.2 % of the bare petal is in a shadow that is cast"
    )
    assert away.facing_away_share == pytest.approx(0.5, abs=0.02)


def test_lit_petal_counts_that_faces_the_key_as_the_shadow_does():
    # Level petal in light 0.8; petal that slopes 15 degrees away in light 0.4, in shadow 0.1.
    slope = np.tan(np.radians(15.0))
    light, lit = halves(0.8, 0.4), np.ones(SHAPE)
    light[60:], lit[60:, 80:] = 0.1, 0.0
    light[60:, :80] = 0.8
    m = measure_frame(petal(light, lit, slope=slope), **KEY)
    assert m.facing_away_share == 0.0
    assert m.shadow_depth_ratio == pytest.approx(4.0, rel=1e-6)
    alone = measure_frame(petal(slope=slope), **KEY)
    assert alone.missing["shadow_depth_ratio"] == "no petal in the key’s light faces it as the shadow does"


def test_penumbra_drops_and_bright_spots_do_not_count():
    light, lit = halves(0.8, 0.2), halves(1.0, 0.0)
    light[:, 70:80], lit[:, 70:80] = 5.0, 0.5
    light[:, 80:][np.random.default_rng(3).random((120, 80)) < 0.25] = 30.0
    drop = (38.0, 60.0, 20.0)
    light[coverage(ellipse(drop[:2], (38.0, 38.0)), SHAPE) > 0.0] = 9.0
    m = measure_frame(petal(light, lit, drops=[drop]), **KEY)
    assert m.shadow_depth_ratio == pytest.approx(4.0, rel=1e-3)


@pytest.mark.parametrize("lit", [0.0, 1.0])
def test_a_part_below_its_least_share_says_so(lit):
    shares = np.full(SHAPE, 1.0 - lit)
    shares[0, :36] = lit  # 36 of 19,200 pixels
    m = measure_frame(petal(lit=shares), **KEY)
    assert m.shadow_depth_ratio is None
    assert m.missing["shadow_depth_ratio"].startswith("less than 0.2 % of the bare petal ")
    assert m.missing["shadow_depth_ratio"].endswith("nothing between" if lit else "cast")


def test_where_the_key_stands_has_to_be_known():
    m = measure_frame(petal())
    assert m.missing["shadow_depth_ratio"] == "where the key stands is not known"
    m = measure_frame(replace(petal(), lit=None), **KEY)
    assert m.missing["cast_shadow_share"] == "the key’s visibility is not known"
    black = measure_frame(petal(light=halves(0.8, 0.0)), **KEY)
    assert black.missing["shadow_depth_ratio"] == "the petal in shadow is black"


@pytest.mark.parametrize(("right", "up"), [(0.0, 0.0), (0.7, -0.3), (-1.2, 0.4)])
def test_the_angle_to_the_key_on_a_plane(right, up):
    # z = right x + up y has the normal (-right, -up, 1).
    key = LightPlace(50.0, 2.0, 1e6)
    row, column = np.mgrid[:40, :60] + 0.5
    depth = (right * (column - 30.0) - up * (row - 20.0)) * MM_PER_PX
    bare = coverage(ellipse((30.0, 20.0), (16.0, 16.0)), (40, 60)) < 0.5
    found = cosine_to(key, PetalPlaces(bare, MM_PER_PX, depth))
    normal = np.array([-right, -up, 1.0]) / np.sqrt(1.0 + right**2 + up**2)
    assert found[bare] == pytest.approx(float(normal @ direction(50.0, 2.0)), abs=0.02)
    assert np.isnan(found[~bare]).all()
    assert key.place_mm == pytest.approx(1e6 * direction(50.0, 2.0))

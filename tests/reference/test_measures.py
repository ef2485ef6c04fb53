"""Contrast ratio and highlights, measured alike in our picture and in Mitsuba's of the same set.

Both are measured as a photograph whose mirror images are not known: the highlight is found by its brightness.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from lightsim.measures.frame_measures import measure_frame
from lightsim.measures.measure_records import DropMeasures, FrameMeasures
from lightsim.picture import Layers, Photograph
from lightsim.scene.records import Light
from tests.reference.cases import SIDE, SOFT, Case, seen
from tests.reference.compare import RARE, Agreement, Effort, rendered_by_both
from tests.tracer.sets import one_drop, plain_petal, simple

# A path tracer follows one path in fifty into a mirror image, and finds gathered light by chance: many paths
# are needed for even highlights, and for a shadow's median that noise does not lower.
LONG = Effort(width_px=64, our_seeds=12, our_samples=64, their_seeds=12, their_samples=8192)
LARGE = SOFT.moved(width_mm=80.0, height_mm=80.0)
BRIGHT_SPOTS = seen(simple(plain_petal(0.2), one_drop(90.0, 1.0), field_mm=2.2), (LARGE,))
SHORT = Effort(width_px=64, their_samples=256)
SMALL = SIDE.moved(width_mm=50.0, height_mm=50.0)
SHADOWS = seen(simple(plain_petal(0.5), one_drop(110.0)), (SMALL,))
SIDE_BY_SIDE = 3  # pictures that are put together before they are measured
# By how much of the reference a measure may differ beside its noise. Places and sizes: a pixel's share of
# the highlight. Contrast: as the classes of pixels that it is made of, and what noise takes from a median.
CONTRAST = {"petal_contrast_ratio": 0.03, "shadow_depth_ratio": 0.03}
HIGHLIGHT = {
    "highlight_disc_share": 0.02,
    "highlight_long_mm": 0.01,
    "highlight_short_mm": 0.01,
    "highlight_place_share": 0.005,
    "highlight_clock": 0.005,
    "highlight_stops_above_petal": 0.03,
}
Measures = FrameMeasures | DropMeasures
Sides = tuple[list[FrameMeasures], list[FrameMeasures]]


def measures(light: NDArray, known: Layers, lamp: Light) -> FrameMeasures:
    """What a picture of luminances (h, w) gives, its drops and shadows known."""
    lit = known.by_light["lamp"].lit
    linear = np.repeat(light[..., None], 3, axis=2).astype(np.float32)
    photo = Photograph(linear, known.mm_per_px, saturation=1e9, lit=lit, maps=known.maps)
    return measure_frame(photo, light_clock=lamp.clock, light_angle_deg=lamp.angle_deg,
                   light_distance_mm=lamp.distance_mm)  # fmt: skip


def measured(case: Case, effort: Effort) -> Sides:
    """Our measures and the reference's, of pictures put together from a few seeds each."""
    made = rendered_by_both(case.scene, case.lights, effort)
    lamp = case.scene.lights[0]

    def of(pictures: NDArray) -> list[FrameMeasures]:
        together = pictures.reshape(-1, SIDE_BY_SIDE, *pictures.shape[1:]).mean(axis=1)
        return [measures(one, made.known, lamp) for one in together]

    return of(made.ours), of(made.theirs)


@pytest.fixture(scope="module")
def shadows() -> Sides:
    """A small light from the side."""
    return measured(SHADOWS, LONG)


@pytest.fixture(scope="module")
def bright_spots() -> Sides:
    """A large light at three quarters on a dark petal."""
    return measured(BRIGHT_SPOTS, LONG)


def agree(both: tuple[list[Measures], list[Measures]], key: str, share: float, asked: int) -> None:
    """Hold one measure to the reference's, one of `asked` that are held together."""
    ours, theirs = (np.array([getattr(one, key) for one in side], dtype=float) for side in both)
    found = Agreement.of(ours, theirs)
    print(f"{key}: ours {ours.mean():.4f}, theirs {theirs.mean():.4f}, error {found.error:.4f}")
    assert np.isfinite(ours).all()
    assert np.isfinite(theirs).all()
    assert found.chance(share) > RARE / asked


def test_how_bright_the_petal_is():
    agree(measured(SHADOWS, SHORT), "petal_linear", 0.005, 1)


@pytest.mark.slow
@pytest.mark.parametrize("key", CONTRAST)
def test_contrast_agrees(shadows, key):
    agree(shadows, key, CONTRAST[key], len(CONTRAST))


@pytest.mark.slow
@pytest.mark.parametrize("key", HIGHLIGHT)
def test_highlights_agree(bright_spots, key):
    ours, theirs = ([one.drops[0] for one in side] for side in bright_spots)
    agree((ours, theirs), key, HIGHLIGHT[key], len(HIGHLIGHT))

"""The highlight's place and brightness in closed form."""

import pytest

from lightsim.optics.fresnel import highlight_luminance_share, highlight_place


@pytest.mark.parametrize(
    ("phase_deg", "place", "luminance"),
    [
        (0, 0.0, 0.020373),
        (30, 0.258819, 0.020428),
        (60, 0.5, 0.021436),
        (90, 0.707107, 0.027898),
        (120, 0.866025, 0.059691),
    ],
)
def test_place_and_luminance(phase_deg, place, luminance):
    assert highlight_place(phase_deg) == pytest.approx(place, abs=1e-6)
    # Fresnel's reflectance at half the phase angle, n = 1.333; Born and Wolf, sec. 1.5.
    assert highlight_luminance_share(phase_deg, 1.333) == pytest.approx(luminance, abs=2e-6)


def test_luminance_far_round():
    assert highlight_luminance_share(150, 1.333) == pytest.approx(0.212378, abs=2e-6)

"""Water against IAPWS releases, independent formulations and a printed table."""

import pytest

from lightsim import constants
from lightsim.optics.water import (
    bond_number,
    capillary_length_mm,
)


# At 20 C: R9-97 at 589.3 nm with the density of IAPWS-95, against air of 1.000272 (Ciddor 1996, from memory);
# IAPWS-95 at 0.101325 MPa; IAPWS R1-76(2014), 72.74 mN/m in Haar, Gallagher and Kell (1984), p. 267.
def test_constants_are_the_published_ones():
    assert pytest.approx(1.333349 / 1.000272, abs=2e-5) == constants.WATER_INDEX
    assert pytest.approx(998.2072, abs=1e-3) == constants.WATER_DENSITY_KG_M3
    assert pytest.approx(0.072736, abs=1e-6) == constants.WATER_SURFACE_TENSION_N_M


# sqrt(gamma / (rho g)); de Gennes, Brochard-Wyart and Quere (2004), ch. 2. Tension and density at 10 C: R1-76
# and Tanaka et al., Metrologia 38 (2001) 301.
@pytest.mark.parametrize(
    ("tension", "density", "expected_mm"), [(0.07422, 999.70, 2.7515), (0.072736, 998.207, 2.7259)]
)
def test_capillary_length(tension, density, expected_mm):
    assert capillary_length_mm(tension, density) == pytest.approx(expected_mm, abs=1e-3)


def test_bond_number_is_one_at_the_capillary_length():
    assert bond_number(capillary_length_mm()) == pytest.approx(1.0)
    # The radius from which a drop is called flattened, 0.86 mm.
    assert bond_number(0.862) == pytest.approx(constants.FLATTENED_BOND_NUMBER, rel=2e-3)

"""Water against IAPWS releases, independent formulations and a printed table."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim import constants
from lightsim.optics.water import (
    air_index,
    bond_number,
    capillary_length_mm,
    surface_tension_n_m,
    water_density_kg_m3,
    water_index,
    water_index_in_air,
)


@pytest.mark.parametrize(
    ("wavelength_nm", "temperature_k", "density", "expected", "tolerance"),
    [
        # Test values of IAPWS R9-97 as carried by an open-source IAPWS library.
        (226.5, 298.15, 997.047435, 1.39277824, 5e-9),
        (589.3, 773.15, 30.4758534, 1.00949307, 5e-9),
        # The same release by a second, independent library (chemicals 1.5).
        (589.3, 298.15, 997.047435, 1.3328581926, 1e-9),
        # Schiebener et al., J. Phys. Chem. Ref. Data 19 (1990) 677: the older formulation, 294 K, 1000 kg/m3.
        (400.0, 294.0, 1000.0, 1.3441433, 5e-6),
        (500.0, 294.0, 1000.0, 1.3373637, 5e-6),
        (600.0, 294.0, 1000.0, 1.3335851, 5e-6),
    ],
)
def test_index_agrees_with_published_points(wavelength_nm, temperature_k, density, expected, tolerance):
    found = water_index(wavelength_nm, temperature_k - 273.15, density)
    assert found == pytest.approx(expected, abs=tolerance)


# R9-97 with the density of IAPWS-95 at 0.101325 MPa.
@pytest.mark.parametrize(
    ("temperature_c", "wavelength_nm", "expected"),
    [
        (20, 486.1, 1.337492),
        (20, 589.3, 1.333349),
        (20, 656.3, 1.331513),
        (20, 450.0, 1.339608),
        (20, 550.0, 1.334683),
        (20, 650.0, 1.331668),
        (25, 486.1, 1.336992),
        (25, 589.3, 1.332858),
        (25, 656.3, 1.331027),
        (25, 450.0, 1.339104),
        (25, 550.0, 1.334189),
        (25, 650.0, 1.331181),
    ],
)
def test_index_of_liquid_water(temperature_c, wavelength_nm, expected):
    assert water_index(wavelength_nm, temperature_c) == pytest.approx(expected, abs=2e-5)


# Daimon and Masumura, Appl. Opt. 46 (2007) 3811: Sellmeier terms (A, B) for 20.0 C, from a public-domain
# data set.
DAIMON_20_C = (
    (0.5684027565, 5.101829712e-3),
    (0.1726177391, 1.821153936e-2),
    (2.086189578e-2, 2.620722293e-2),
    (0.1130748688, 10.69792721),
)


@pytest.mark.parametrize("wavelength_nm", [404.7, 450.0, 486.1, 546.1, 589.3, 632.8, 656.3, 700.0])
def test_index_agrees_with_an_independent_measurement(wavelength_nm):
    w2 = (wavelength_nm / 1000) ** 2
    measured = np.sqrt(1 + sum(a * w2 / (w2 - b) for a, b in DAIMON_20_C))
    assert water_index(wavelength_nm, 20.0) == pytest.approx(measured, abs=5e-6)


def test_index_in_air_is_the_everyday_one():
    # Air at 20 C and 589 nm: 1.000272, from memory (Ciddor, Appl. Opt. 35 (1996) 1566 gives the formula).
    assert air_index(589.3, 20.0) == pytest.approx(1.000272, abs=1e-6)
    assert water_index_in_air(589.3, 20.0) == pytest.approx(1.332987, abs=2e-5)
    assert water_index_in_air(589.3) == pytest.approx(constants.WATER_INDEX, abs=2e-5)


@given(st.floats(380, 1000), st.floats(1, 1.1), st.floats(5, 35))
def test_index_falls_with_wavelength_and_warmth(wavelength_nm, factor, temperature_c):
    here = water_index(wavelength_nm, temperature_c)
    assert water_index(wavelength_nm * factor, temperature_c) <= here
    assert water_index(wavelength_nm, temperature_c + 1) < here


# Density from the IAPWS-95 formulation, 0.101325 MPa; the function follows Tanaka et al. 2001.
@pytest.mark.parametrize(("temperature_c", "expected"), [(20, 998.2072), (25, 997.0476)])
def test_density(temperature_c, expected):
    assert water_density_kg_m3(temperature_c) == pytest.approx(expected, abs=1e-3)


# IAPWS R1-76(2014); 10, 20, 30 and 40 C are also printed in Haar, Gallagher and Kell, NBS/NRC Steam Tables
# (1984), p. 267, as 74.22, 72.74, 71.20 and 69.60 mN/m.
@pytest.mark.parametrize(
    ("temperature_c", "mn_m"),
    [(10, 74.22), (20, 72.736), (20, 72.74), (25, 71.972), (30, 71.20), (40, 69.60)],
)
def test_surface_tension(temperature_c, mn_m):
    assert 1000 * surface_tension_n_m(temperature_c) == pytest.approx(mn_m, abs=0.01)


# sqrt(gamma / (rho g)); de Gennes, Brochard-Wyart and Quere (2004), ch. 2.
@pytest.mark.parametrize(
    ("temperature_c", "expected_mm"), [(10, 2.7515), (20, 2.7259), (25, 2.7131), (30, 2.7003)]
)
def test_capillary_length(temperature_c, expected_mm):
    found = capillary_length_mm(surface_tension_n_m(temperature_c), water_density_kg_m3(temperature_c))
    assert found == pytest.approx(expected_mm, abs=1e-3)


def test_constants_are_those_of_the_formulas():
    assert surface_tension_n_m(20.0) == pytest.approx(constants.WATER_SURFACE_TENSION_N_M, abs=1e-6)
    assert water_density_kg_m3(20.0) == pytest.approx(constants.WATER_DENSITY_KG_M3, abs=1e-3)


def test_bond_number_is_one_at_the_capillary_length():
    assert bond_number(capillary_length_mm()) == pytest.approx(1.0)
    # The radius from which a drop is called flattened, 0.86 mm.
    assert bond_number(0.862) == pytest.approx(constants.FLATTENED_BOND_NUMBER, rel=2e-3)

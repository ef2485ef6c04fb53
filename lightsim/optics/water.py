"""Water: index of refraction, density, surface tension, and when gravity flattens a drop of it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.constants import (
    GRAVITY_M_S2,
    WATER_DENSITY_KG_M3,
    WATER_SURFACE_TENSION_N_M,
)

Array = NDArray[np.float64]

# IAPWS R9-97: coefficients a0 to a7, and the resonances in units of 0.589 um.
_INDEX = (
    0.244257733,
    9.74634476e-3,
    -3.73234996e-3,
    2.68678472e-4,
    1.58920570e-3,
    2.45934259e-3,
    0.900704920,
    -1.66626219e-2,
)
_ULTRAVIOLET, _INFRARED = 0.2292020, 5.432937

_CRITICAL_TEMPERATURE_K = 647.096
_ZERO_CELSIUS_K = 273.15


def water_density_kg_m3(temperature_c: ArrayLike) -> Array:
    """Density at 0.101325 MPa, kg/m3, 0 to 40 C, any shape. Tanaka et al., Metrologia 38 (2001) 301."""
    t = np.asarray(temperature_c, dtype=float)
    loss = (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881))
    return 999.974950 * (1 - loss)


def water_index(
    wavelength_nm: ArrayLike, temperature_c: ArrayLike = 20.0, density_kg_m3: ArrayLike | None = None
) -> Array:
    """Index of refraction against vacuum, broadcast shape. IAPWS R9-97 (200 to 1100 nm, -12 to 500 C).

    Harvey, Gallagher and Levelt Sengers, J. Phys. Chem. Ref. Data 27 (1998) 761. Without a density, that of
    liquid water at 0.101325 MPa (0 to 40 C) is taken.
    """
    rho = water_density_kg_m3(temperature_c) if density_kg_m3 is None else np.asarray(density_kg_m3, float)
    rho = rho / 1000.0
    t = (np.asarray(temperature_c, dtype=float) + _ZERO_CELSIUS_K) / _ZERO_CELSIUS_K
    w2 = (np.asarray(wavelength_nm, dtype=float) / 589.0) ** 2
    a0, a1, a2, a3, a4, a5, a6, a7 = _INDEX
    refraction = a0 + a1 * rho + a2 * t + a3 * w2 * t + a4 / w2 + a7 * rho**2
    refraction = refraction + a5 / (w2 - _ULTRAVIOLET**2) + a6 / (w2 - _INFRARED**2)
    lorentz = refraction * rho  # (n^2 - 1) / (n^2 + 2)
    return np.sqrt((1 + 2 * lorentz) / (1 - lorentz))


def air_index(wavelength_nm: ArrayLike, temperature_c: ArrayLike = 20.0) -> Array:
    """Index of dry air at 0.101325 MPa, broadcast shape. Ciddor, Appl. Opt. 35 (1996) 1566: standard air
    at 15 C, thinned here as an ideal gas; 1.000272 at 589 nm and 20 C."""
    wavenumber2 = (1000.0 / np.asarray(wavelength_nm, dtype=float)) ** 2  # per square micrometre
    at_15_c = 0.05792105 / (238.0185 - wavenumber2) + 0.00167917 / (57.362 - wavenumber2)
    return 1 + at_15_c * 288.15 / (np.asarray(temperature_c, dtype=float) + _ZERO_CELSIUS_K)


def water_index_in_air(wavelength_nm: ArrayLike, temperature_c: ArrayLike = 20.0) -> Array:
    """Index of water against the air round it: what bends light at a drop's surface. 1.3330 at 589 nm and
    20 C."""
    return water_index(wavelength_nm, temperature_c) / air_index(wavelength_nm, temperature_c)


def surface_tension_n_m(temperature_c: ArrayLike) -> Array:
    """Surface tension of water against its vapour, N/m, any shape. IAPWS R1-76(2014), 0.01 C to the
    critical point."""
    below = 1 - (np.asarray(temperature_c, dtype=float) + _ZERO_CELSIUS_K) / _CRITICAL_TEMPERATURE_K
    return 0.2358 * below**1.256 * (1 - 0.625 * below)


def capillary_length_mm(
    surface_tension: float = WATER_SURFACE_TENSION_N_M,
    density_kg_m3: float = WATER_DENSITY_KG_M3,
    gravity_m_s2: float = GRAVITY_M_S2,
) -> float:
    """sqrt(gamma / (rho g)), mm; 2.73 for water at 20 C. de Gennes, Brochard-Wyart and Quere, Capillarity and
    Wetting Phenomena (2004), ch. 2."""
    return 1000.0 * float(np.sqrt(surface_tension / (density_kg_m3 * gravity_m_s2)))


def bond_number(radius_mm: ArrayLike, capillary_mm: float | None = None) -> Array:
    """rho g R^2 / gamma, any shape: well under 1 the drop is a sphere cut by the petal. de Gennes et al.
    2004."""
    length = capillary_length_mm() if capillary_mm is None else capillary_mm
    return (np.asarray(radius_mm, dtype=float) / length) ** 2

"""When gravity flattens a drop of water."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.constants import GRAVITY_M_S2, WATER_DENSITY_KG_M3, WATER_SURFACE_TENSION_N_M

Array = NDArray[np.float64]


def capillary_length_mm(
    surface_tension: float = WATER_SURFACE_TENSION_N_M,
    density_kg_m3: float = WATER_DENSITY_KG_M3,
) -> float:
    """sqrt(gamma / (rho g)), mm; 2.73 for water at 20 C. de Gennes, Brochard-Wyart and Quere, Capillarity and
    Wetting Phenomena (2004), ch. 2."""
    return 1000.0 * float(np.sqrt(surface_tension / (density_kg_m3 * GRAVITY_M_S2)))


def bond_number(radius_mm: ArrayLike) -> Array:
    """rho g R^2 / gamma, any shape: well under 1 the drop is a sphere cut by the petal. de Gennes et al.
    2004."""
    return (np.asarray(radius_mm, dtype=float) / capillary_length_mm()) ** 2

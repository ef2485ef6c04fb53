"""The smooth forms of a petal: heights over its own plane, in closed form.

Each form is a function of the place in shares of the half sizes, u across (-1 left, 1 right) and v along
(-1 foot, 1 tip). It returns the height in units of the form's depth, and the slopes dz/du, dz/dv. To add
a form, write such a function and name it in FORMS.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Heights = tuple[NDArray, NDArray, NDArray]


def flat(u: NDArray, v: NDArray, ruffles: int) -> Heights:
    """No height at all."""
    return np.zeros_like(u), np.zeros_like(u), np.zeros_like(u)


def cupped(u: NDArray, v: NDArray, ruffles: int) -> Heights:
    """A bowl, z = u^2 + v^2: the rim of an ellipse stands one depth above the middle."""
    return u * u + v * v, 2.0 * u, 2.0 * v


def saddle(u: NDArray, v: NDArray, ruffles: int) -> Heights:
    """Sides up, foot and tip down, z = u^2 - v^2."""
    return u * u - v * v, 2.0 * u, -2.0 * v


def ruffled(u: NDArray, v: NDArray, ruffles: int) -> Heights:
    """Waves that grow toward the edge and the tip, on a shallow bowl.

    z = r^2 / 4 + r^4 g(v) sin(n a) / 2 with r the distance and a the direction from the middle, and
    g = (1 + v)^2 / 4 keeping the foot calm.
    """
    r2 = u * u + v * v
    angle = ruffles * np.arctan2(u, v)
    wave, turned = np.sin(angle), np.cos(angle)
    calm, calm_slope = 0.25 * (1.0 + v) ** 2, 0.5 * (1.0 + v)
    z = 0.25 * r2 + 0.5 * r2 * r2 * calm * wave
    along = 2.0 * r2 * calm * wave  # d/dr of r^4, as a factor of u or v
    around = 0.5 * ruffles * r2 * calm * turned  # r^4 d/da, with da/du = v / r^2 and da/dv = -u / r^2
    z_u = 0.5 * u + along * u + around * v
    z_v = 0.5 * v + along * v - around * u + 0.5 * r2 * r2 * calm_slope * wave
    return z, z_u, z_v


FORMS: dict[str, Callable[[NDArray, NDArray, int], Heights]] = {
    "flat": flat,
    "cupped": cupped,
    "ruffled": ruffled,
    "saddle": saddle,
}

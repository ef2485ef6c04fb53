"""Fresnel and Snell at water, in scalars. The array forms with their sources are in `optics.fresnel`."""

from __future__ import annotations

from math import sqrt

from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.vectors import dot


@jit
def fresnel(cos_i, eta):
    """Unpolarised reflectance for a ray at cos_i in a medium, eta = index beyond / index before.

    Born and Wolf, Principles of Optics, 1.5. 1 beyond the critical angle.
    """
    sin2_t = (1.0 - cos_i * cos_i) / (eta * eta)
    if sin2_t >= 1.0:
        return 1.0
    cos_t = sqrt(1.0 - sin2_t)
    # rs and rp over one denominator: a division takes longer than all the rest
    across, along_it = cos_i + eta * cos_t, eta * cos_i + cos_t
    s = (cos_i - eta * cos_t) * along_it
    p = (eta * cos_i - cos_t) * across
    whole = across * along_it
    return 0.5 * (s * s + p * p) / (whole * whole)


@jit
def mirror(d, n):
    """Direction d reflected at a surface with normal n."""
    k = -2.0 * dot(d, n)
    return d[0] + k * n[0], d[1] + k * n[1], d[2] + k * n[2]


@jit
def bend(d, n, cos_i, eta):
    """Direction d refracted at a surface whose normal n faces the ray; eta = index beyond / index before.

    To be called only where `fresnel` is below 1.
    """
    cos_t = sqrt(max(0.0, 1.0 - (1.0 - cos_i * cos_i) / (eta * eta)))
    k = cos_i / eta - cos_t
    return d[0] / eta + k * n[0], d[1] / eta + k * n[1], d[2] / eta + k * n[2]

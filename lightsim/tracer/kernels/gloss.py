"""The petal's weak gloss: a rough mirror over the matt petal, sharing the light between them without loss.

GGX facets: Walter et al., EGSR 2007; height-correlated masking: Heitz, JCGT 3 (2014) 2. The matt part gets
what the gloss lets through on the way in and out, divided by the mean, which keeps a white petal white.
"""

from __future__ import annotations

from math import pi, sqrt

from lightsim.constants import CUTICLE_INDEX
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.refraction import fresnel
from lightsim.tracer.kernels.vectors import dot


@jit
def mirrored_share(gloss, cosine):
    """Share of light at this cosine that the gloss mirrors."""
    return gloss * fresnel(min(1.0, max(0.0, cosine)), CUTICLE_INDEX)


@jit
def response(gloss, gloss_mean, roughness, n, view, light):
    """(factor on the matt radiance, glossy radiance per unit of irradiance); view, light: unit vectors."""
    cos_o = dot(n, view)
    cos_i = dot(n, light)
    if gloss <= 0.0 or cos_i <= 0.0 or cos_o <= 1e-3:
        return 1.0, 0.0
    through = (1.0 - mirrored_share(gloss, cos_i)) * (1.0 - mirrored_share(gloss, cos_o)) / (1.0 - gloss_mean)
    half = sqrt(max(0.5 * (1.0 + dot(view, light)), 1e-12))  # cosine of half the angle between them
    cos_h = 0.5 * (cos_o + cos_i) / half
    a2 = roughness * roughness
    k = cos_h * cos_h * (a2 - 1.0) + 1.0
    facets = a2 / (pi * k * k)
    mask_o = cos_i * sqrt(cos_o * cos_o * (1.0 - a2) + a2)
    mask_i = cos_o * sqrt(cos_i * cos_i * (1.0 - a2) + a2)
    visible = 0.5 / (mask_o + mask_i)
    return through, mirrored_share(gloss, half) * facets * visible

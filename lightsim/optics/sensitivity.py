"""What reaches the sensor and what an ISO speed means. ISO 12232:2006, Digital still cameras:
determination of exposure index, ISO speed ratings, standard output sensitivity, and recommended exposure
index."""

from __future__ import annotations

from math import cos, pi, radians

# The lens' share in q: transmittance 0.9, vignetting 0.98, 10 degrees off the axis. ISO 12232:2006.
LENS_TRANSMITTANCE = 0.9
LENS_VIGNETTING = 0.98
FIELD_ANGLE_DEG = 10.0

# Image-plane exposure in lx s times the ISO speed: at saturation, and at the output's mid-tone. ISO
# 12232:2006.
SATURATION_LXS = 78.0
MID_TONE_LXS = 10.0

# The mid-tone on a linear scale where 1 is the level of a perfectly white petal in a correct exposure: the
# output level 0.461 of the standard output sensitivity, decoded by IEC 61966-2-1.
MID_TONE = 0.18

# The sensor's limit on that scale: 0.18 * 78 / 10 = 1.404, half a stop above white.
SATURATION = MID_TONE * SATURATION_LXS / MID_TONE_LXS


def exposure_constant(
    transmittance: float = LENS_TRANSMITTANCE,
    vignetting: float = LENS_VIGNETTING,
    angle_deg: float = FIELD_ANGLE_DEG,
) -> float:
    """q = pi/4 T fv cos^4(angle), without unit; 0.652 for the standard's own figures. ISO 12232:2006."""
    return pi / 4 * transmittance * vignetting * cos(radians(angle_deg)) ** 4


LENS_CONSTANT = exposure_constant()


def image_exposure_lxs(
    luminance_cd_m2: float,
    effective_f_number: float,
    time_s: float = 1.0,
    q: float = LENS_CONSTANT,
    flare_lxs: float = 0.0,
) -> float:
    """H = q L t / N_eff^2 + flare, lux seconds. ISO 12232:2006.

    The standard's factor F^2/i^2 = 1/(1 + m)^2, the light lost to extension, is in the effective f-number.
    For a flash give cd s/m2 and leave the time at 1.
    """
    return q * luminance_cd_m2 * time_s / effective_f_number**2 + flare_lxs


def linear_per_lxs(iso: float) -> float:
    """Value on the linear scale (0.18 at the mid-tone) for one lux second on the sensor."""
    return MID_TONE / MID_TONE_LXS * iso

"""What reaches the sensor and what an ISO speed means. ISO 12232:2006, Digital still cameras:
determination of exposure index, ISO speed ratings, standard output sensitivity, and recommended exposure
index."""

from __future__ import annotations

from math import cos, log2, pi, radians

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


def saturation_exposure_lxs(iso: float) -> float:
    """H_sat = 78/S, lux seconds. ISO 12232:2006."""
    return SATURATION_LXS / iso


def mid_tone_exposure_lxs(iso: float) -> float:
    """H = 10/S, lux seconds, for the standard output sensitivity and the exposure index. ISO 12232:2006."""
    return MID_TONE_LXS / iso


def saturation_speed(exposure_lxs: float) -> float:
    """S_sat = 78/H_sat. ISO 12232:2006."""
    return SATURATION_LXS / exposure_lxs


def exposure_index(exposure_lxs: float) -> float:
    """EI = 10/H of the mid-tone. ISO 12232:2006."""
    return MID_TONE_LXS / exposure_lxs


def saturation_luminance_cd_m2(f_number: float, time_s: float, iso: float, q: float = LENS_CONSTANT) -> float:
    """Luminance that just clips, cd/m2: 78 N^2 / (q S t), from ISO 12232:2006. N is the effective
    f-number."""
    return SATURATION_LXS * f_number**2 / (q * iso * time_s)


def headroom_stops(luminance_constant: float = 12.5, q: float = LENS_CONSTANT) -> float:
    """Stops from a metered mid-tone (ISO 2720, K in cd s/m2) to saturation: log2(78/(q K))."""
    return log2(SATURATION_LXS / (q * luminance_constant))

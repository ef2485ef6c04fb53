"""Stops, exposure values, light meters, the light of a flash by its guide number, what an ISO speed means.

f-numbers are effective ones wherever light on the sensor is meant; times in seconds, speeds as ISO
numbers. ISO 2720:1974, General purpose photographic exposure meters; ASA PH2.5-1960 for the additive
system; ISO 1230:2007, Photography: determination of flash guide numbers. A guide number, in metres, gives the
intensity far away; close up the size of the flash's face matters too (`trade.FaceSize`). What reaches the
sensor: ISO 12232:2006, Digital still cameras: determination of exposure index, ISO speed ratings, standard
output sensitivity, and recommended exposure index.
"""

from __future__ import annotations

from math import cos, log2, pi, radians


def stops(ratio: float) -> float:
    """A ratio of light in stops; for a lighting ratio (key + fill) : fill, between its two metered sides."""
    return log2(ratio)


# ISO 2720 lets K lie from 10.6 to 13.4 cd s/m2 and, for a flat receptor, C from 240 to 400 lx s; these are
# the usual.
LUMINANCE_CONSTANT = 12.5
ILLUMINANCE_CONSTANT = 250.0


def effective_f_number(f_number: float, magnification: float, pupil_ratio: float = 1.0) -> float:
    """The f-number by which a lens by itself lights the sensor: N (1 + m / P), N as marked for infinity.

    ISO 12232 has the case P = 1; P is exit pupil / entrance pupil. Conrad, Depth of Field in Depth.
    """
    return f_number * (1 + magnification / pupil_ratio)


def aperture_value(f_number: float) -> float:
    """Av = 2 log2 N. ASA PH2.5-1960."""
    return 2 * log2(f_number)


def time_value(time_s: float) -> float:
    """Tv = -log2 t. ASA PH2.5-1960."""
    return -log2(time_s)


def exposure_value(f_number: float, time_s: float) -> float:
    """EV = Av + Tv = log2(N^2 / t): the settings alone; 0 is f/1 for 1 s."""
    return aperture_value(f_number) + time_value(time_s)


def ev100(f_number: float, time_s: float, iso: float = 100.0) -> float:
    """The light for which these settings are right, as EV at ISO 100: EV - log2(S/100)."""
    return exposure_value(f_number, time_s) - log2(iso / 100.0)


def illuminance_of_ev100(ev: float, constant: float = ILLUMINANCE_CONSTANT) -> float:
    """lx: C 2^EV / 100. ISO 2720."""
    return constant * 2.0**ev / 100.0


def ev100_of_luminance(luminance_cd_m2: float, constant: float = LUMINANCE_CONSTANT) -> float:
    """What a reflected-light meter reads, as EV at ISO 100: log2(100 L / K). ISO 2720."""
    return log2(100.0 * luminance_cd_m2 / constant)


def flash_intensity_cd_s(
    guide_number_m: float, power: float = 1.0, constant: float = ILLUMINANCE_CONSTANT
) -> float:
    """Light of one flash on its axis, candela seconds: C GN^2 power / S with GN given for ISO 100.

    From the incident-light exposure E t = C N^2 / S (ISO 2720) with N = GN / d and E t = I t / d^2.
    """
    return constant * guide_number_m**2 * power / 100.0


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

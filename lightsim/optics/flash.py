"""Flash by its guide number. Distances in metres here, as guide numbers are.

ISO 1230:2007, Photography: determination of flash guide numbers. The number fixes the light far away; close
up the size of the flash's face matters too (`radiometry.inverse_square_share`), and the pictures have that
in them.
"""

from __future__ import annotations

from math import log, sqrt

from lightsim.optics.exposure_values import ILLUMINANCE_CONSTANT

FEET_PER_METRE = 3.28084

# Flash duration to a tenth of the peak over that to half of it, for a tube that dies away exponentially: ln
# 10 / ln 2. ISO 2827 defines both times; a flash that is cut off early comes nearer to 1.
TENTH_OVER_HALF_DURATION = log(10) / log(2)


def guide_number_at(guide_number_m: float, power: float = 1.0, iso: float = 100.0) -> float:
    """Guide number (metres) at a share of the power and another ISO speed: GN sqrt(power) sqrt(S/100)."""
    return guide_number_m * sqrt(power) * sqrt(iso / 100.0)


def flash_f_number(guide_number_m: float, distance_m: float) -> float:
    """The effective f-number for a correct exposure: GN / d. ISO 1230."""
    return guide_number_m / distance_m


def flash_marked_f_number(
    guide_number_m: float,
    distance_m: float,
    magnification: float = 0.0,
    pupil_ratio: float = 1.0,
    power: float = 1.0,
    iso: float = 100.0,
) -> float:
    """The f-number to set on the lens, close up: GN sqrt(power) sqrt(S/100) / (d (1 + m/P))."""
    number = guide_number_at(guide_number_m, power, iso)
    return flash_f_number(number, distance_m) / (1 + magnification / pupil_ratio)


def flash_power(
    guide_number_m: float, distance_m: float, effective_f_number: float, iso: float = 100.0
) -> float:
    """The share of full power for a correct exposure: (N d / GN)^2 100 / S. Over 1 the flash is out of
    its range."""
    return (effective_f_number * distance_m / guide_number_m) ** 2 * 100.0 / iso


def flash_distance_m(
    guide_number_m: float, effective_f_number: float, power: float = 1.0, iso: float = 100.0
) -> float:
    """The distance for a correct exposure."""
    return guide_number_at(guide_number_m, power, iso) / effective_f_number


def flash_intensity_cd_s(
    guide_number_m: float, power: float = 1.0, constant: float = ILLUMINANCE_CONSTANT, iso: float = 100.0
) -> float:
    """Light of one flash on its axis, candela seconds: C GN^2 power / S with GN given at speed S.

    From the incident-light exposure E t = C N^2 / S (ISO 2720) with N = GN / d and E t = I t / d^2.
    """
    return constant * guide_number_m**2 * power / iso


def guide_number_of_intensity(
    intensity_cd_s: float, constant: float = ILLUMINANCE_CONSTANT, iso: float = 100.0
) -> float:
    """Guide number in metres at that speed, the inverse of `flash_intensity_cd_s` at full power."""
    return sqrt(intensity_cd_s * iso / constant)


def flash_exposure_lx_s(intensity_cd_s: float, distance_m: float) -> float:
    """Light on the subject, facing a far flash, lux seconds: I t / d^2."""
    return intensity_cd_s / distance_m**2

"""The light of a flash by its guide number, in metres.

ISO 1230:2007, Photography: determination of flash guide numbers. The number gives the intensity far away;
close up the size of the flash's face matters too (`trade.FaceSize`).
"""

from __future__ import annotations

from lightsim.optics.exposure_values import ILLUMINANCE_CONSTANT


def flash_intensity_cd_s(
    guide_number_m: float, power: float = 1.0, constant: float = ILLUMINANCE_CONSTANT
) -> float:
    """Light of one flash on its axis, candela seconds: C GN^2 power / S with GN given for ISO 100.

    From the incident-light exposure E t = C N^2 / S (ISO 2720) with N = GN / d and E t = I t / d^2.
    """
    return constant * guide_number_m**2 * power / 100.0

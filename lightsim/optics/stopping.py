"""What stopping down does to sharpness: depth gained, detail lost, and the frames of a stack instead."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from lightsim.optics.airy import FIRST_DARK_RING, GREEN_NM, airy_diameter_um, resolved_detail_um
from lightsim.optics.depth import defocus_blur_mm, depth_of_field, focus_stack, total_blur_mm
from lightsim.optics.lens_chain import chain_of
from lightsim.optics.lens_train import LensTrain

STACK_OVERLAP = 0.2  # share of its depth that a frame of a stack has in common with the next


@dataclass(frozen=True)
class AtStop:
    """A lens train at one f-number (exact). Lengths in um are at the subject.

    depth_of_field_mm : exact, for the circle of confusion.  diffraction_um : diameter of the Airy disc.
    defocus_um, edge_blur_um : a point at the nearer end of the wanted depth, focused on its middle, by
    defocus alone and with diffraction (added as squares).
    stack_frames, stack_step_mm : frames that would cover the wanted depth, and the focus step between them.
    """

    f_number: float
    effective_f_number: float
    depth_of_field_mm: float
    diffraction_um: float
    detail_um: float
    defocus_um: float
    edge_blur_um: float
    stack_frames: int
    stack_step_mm: float


def at_stop(lens: LensTrain, f_number: float, wanted_depth_mm: float) -> AtStop:
    """The lens train stopped down (or opened) to an exact f-number, for a wanted depth."""
    chain = chain_of(lens, f_number=f_number)
    n_eff, m = chain.effective_f_number, chain.magnification
    pupil_mm, distance = chain.pupil.diameter_mm, chain.pupil_distance_mm
    depth = depth_of_field(distance, pupil_mm, m, lens.circle_of_confusion_mm).total_mm
    half = min(wanted_depth_mm / 2, 0.999 * abs(distance))
    defocus = defocus_blur_mm(distance, pupil_mm, m, half)
    frames, step = focus_stack(wanted_depth_mm, depth, STACK_OVERLAP) if isfinite(depth) else (1, depth)
    return AtStop(
        f_number=f_number,
        effective_f_number=n_eff,
        depth_of_field_mm=depth,
        diffraction_um=float(airy_diameter_um(n_eff)) / m,
        detail_um=float(resolved_detail_um(n_eff, m)),
        defocus_um=1000.0 * defocus / m,
        edge_blur_um=1000.0 * total_blur_mm(defocus, n_eff) / m,
        stack_frames=frames,
        stack_step_mm=step,
    )


def pixel_limited_f_number(lens: LensTrain) -> float:
    """The f-number to set (exact) beyond which diffraction, not the sensor, limits detail in the focus.

    There the Rayleigh distance 1.22 lambda N_eff equals two pixels.
    """
    pixel_mm = lens.sensor_mm[0] / lens.sensor_px[0]
    effective = 2 * pixel_mm / (FIRST_DARK_RING * GREEN_NM * 1e-6)
    return effective * lens.exact_f_number / lens.lens_effective_f_number

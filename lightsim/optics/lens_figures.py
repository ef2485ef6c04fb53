"""All that follows from a lens train, the model named and how far to trust it; what stopping down does."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import isfinite

from lightsim.optics.airy import (
    FIRST_DARK_RING,
    GREEN_NM,
    airy_diameter_um,
    cut_off_per_mm,
    diffraction_contrast,
    object_aperture,
    resolved_detail_um,
)
from lightsim.optics.depth import (
    close_up_depth_mm,
    defocus_blur_mm,
    depth_of_field,
    focus_stack,
    sharpest_effective_f_number,
    total_blur_mm,
)
from lightsim.optics.lens_chain import chain_of
from lightsim.optics.lens_range import Ranges, Span, ranges, suppositions
from lightsim.optics.lens_train import LensTrain
from lightsim.optics.marks import F_NUMBERS


@dataclass(frozen=True)
class TrainFigures:
    """Figures of a lens train. Depths and details are at the subject, Airy disc and cut-off at the sensor.

    f_number is the marked one, exact_f_number what the mark stands for.
    """

    magnification: float
    field_width_mm: float
    field_height_mm: float
    subject_pixel_um: float
    sensor_pixel_um: float
    focal_length_mm: float
    working_distance_mm: float
    sensor_distance_mm: float
    mount_distance_mm: float
    f_number: float
    exact_f_number: float
    effective_f_number: float
    light_lost_stops: float
    pupil_diameter_mm: float
    pupil_distance_mm: float
    circle_of_confusion_mm: float
    depth_of_field_mm: float
    depth_near_mm: float
    depth_far_mm: float
    depth_of_field_approximate_mm: float
    object_aperture: float
    airy_diameter_um: float
    cut_off_per_mm: float
    contrast_at_half_pixel_frequency: float
    diffraction_detail_um: float
    resolved_detail_um: float
    limited_by: str
    magnification_range: Span
    working_distance_range_mm: Span
    effective_f_number_range: Span
    sensor_distance_range_mm: Span
    model: str
    supposed: tuple[str, ...]
    trust: tuple[str, ...]


def train_figures(lens: LensTrain) -> TrainFigures:
    """All figures of a lens train; those of diffraction for green light."""
    m, n_eff = lens.magnification, lens.effective_f_number
    pixel_mm = lens.sensor_mm[0] / lens.sensor_px[0]
    detail = float(resolved_detail_um(n_eff, m))
    two_pixels = 2000.0 * pixel_mm / m
    depth, range_of = lens.depth, ranges(lens)
    return TrainFigures(
        magnification=m,
        field_width_mm=lens.sensor_mm[0] / m,
        field_height_mm=lens.sensor_mm[1] / m,
        subject_pixel_um=1000.0 * pixel_mm / m,
        sensor_pixel_um=1000.0 * pixel_mm,
        focal_length_mm=lens.focal_length_in_use_mm,
        working_distance_mm=lens.working_distance_mm,
        sensor_distance_mm=lens.sensor_distance_mm,
        mount_distance_mm=lens.mount_distance_mm,
        f_number=lens.f_number,
        exact_f_number=lens.exact_f_number,
        effective_f_number=n_eff,
        light_lost_stops=lens.light_lost_stops,
        pupil_diameter_mm=lens.pupil_diameter_mm,
        pupil_distance_mm=lens.pupil_distance_mm,
        circle_of_confusion_mm=lens.circle_of_confusion_mm,
        depth_of_field_mm=depth.total_mm,
        depth_near_mm=depth.near_mm,
        depth_far_mm=depth.far_mm,
        depth_of_field_approximate_mm=close_up_depth_mm(n_eff, m, lens.circle_of_confusion_mm),
        object_aperture=object_aperture(n_eff, m),
        airy_diameter_um=float(airy_diameter_um(n_eff)),
        cut_off_per_mm=cut_off_per_mm(n_eff),
        contrast_at_half_pixel_frequency=float(diffraction_contrast(0.25 / pixel_mm, n_eff)),
        diffraction_detail_um=detail,
        resolved_detail_um=max(detail, two_pixels),
        limited_by="diffraction" if detail > two_pixels else "pixels",
        magnification_range=range_of.magnification,
        working_distance_range_mm=range_of.working_distance_mm,
        effective_f_number_range=range_of.effective_f_number,
        sensor_distance_range_mm=range_of.sensor_distance_mm,
        model=model_used(lens),
        supposed=tuple(suppositions(lens)),
        trust=tuple(trust(lens, range_of)),
    )


def sharpest_f_number(lens: LensTrain, depth_mm: float) -> float:
    """The f-number to set (exact, not a mark) for the least blur at both ends of a wanted depth; see
    `depth`."""
    effective = sharpest_effective_f_number(depth_mm, lens.magnification)
    return effective * lens.exact_f_number / lens.lens_effective_f_number


def model_used(lens: LensTrain) -> str:
    """The model in one line."""
    places = [element.name for element in lens.chain.elements]
    parts = [f"thin elements at their places ({', '.join(places)})"]
    if lens.pupil_ratio == 1:
        parts.append("the lens's pupils in its principal planes")
    else:
        parts.append(f"pupil ratio {lens.pupil_ratio:g}")
    return ", ".join(parts)


EXACT_SHARE = 0.005  # a span within which a figure is said to be settled, and a change not worth a word


def trust(lens: LensTrain, found: Ranges) -> Iterator[str]:
    """How far to trust the figures, in sentences; each number in them worked out for this train."""
    m, distance = found.magnification, found.working_distance_mm
    if max(m.share, distance.share) < EXACT_SHARE:
        yield (
            "Magnification and working distance follow from the figures given, which are taken as exact; a "
            "ruler in the frame makes sure."
        )
    else:
        spans = [f"magnification may be {m.low:.2f} to {m.high:.2f}"] if m.share >= EXACT_SHARE else []
        if distance.share >= EXACT_SHARE:
            spans.append(f"the working distance may be {distance.low:.0f} to {distance.high:.0f} mm")
        yield f"Over what is supposed, {' and '.join(spans)}; a ruler in the frame makes sure."
    yield from about_second_lens(lens)
    yield from _about_pupils(lens)
    if lens.pupil_distance_mm < 0:
        yield (
            "What stands before the lens throws its entrance pupil beyond the subject: what is nearer to the "
            "lens is drawn smaller."
        )
    yield "The elements' own faults are not in the figures, nor light cut off at their rims."


def about_second_lens(lens: LensTrain) -> Iterator[str]:
    """Which of the two f-numbers counts where a second lens is screwed before the first."""
    if lens.stacked is None:
        return
    ours, own = lens.lens_effective_f_number, lens.second_effective_f_number
    mark = F_NUMBERS.label(lens.exact_f_number)
    if lens.stacked.f_number is None:
        wide_open = replace(lens, stacked=replace(lens.stacked, f_number=1.0))
        needed = F_NUMBERS.label(ours / wide_open.second_effective_f_number)
        yield (
            f"The f-number is that of the lens at the camera; the second lens is taken to be so wide that it "
            f"limits nothing, at {mark} {needed} or wider (lens.stacked.f_number)."
        )
    elif own > ours * (1 + EXACT_SHARE):
        until = F_NUMBERS.label(lens.exact_f_number * own / ours)
        yield (
            f"The second lens, set to f/{lens.stacked.f_number:g}, is the stop: the f-number of the lens at "
            f"the camera changes nothing up to {until}."
        )
    else:
        yield (
            f"The lens at the camera is the stop at {mark}; the second lens, set to "
            f"f/{lens.stacked.f_number:g}, limits nothing."
        )


def _about_pupils(lens: LensTrain) -> Iterator[str]:
    """What another pupil ratio would do to the light; macro lenses lie between these, common practice."""
    others = [replace(lens, pupil_ratio=lens.pupil_ratio * factor) for factor in (1.4, 1 / 1.4)]
    low, high = sorted(other.effective_f_number for other in others)
    if high / low > 1 + EXACT_SHARE:
        yield (
            f"With a pupil ratio 1.4 times as large or small the effective f-number would be {low:.1f} or "
            f"{high:.1f}; the marked f-number is taken to hold for the focal length in use."
        )


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

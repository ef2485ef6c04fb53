"""All that follows from a lens train, in one record, with the model named and how far to trust it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.optics.airy import (
    GREEN_NM,
    airy_diameter_um,
    cut_off_per_mm,
    defocus_contrast,
    diffraction_contrast,
    object_aperture,
    pixel_contrast,
    resolved_detail_um,
)
from lightsim.optics.depth import close_up_depth_mm, defocus_blur_mm, sharpest_effective_f_number
from lightsim.optics.lens_train import LensTrain

_ABOUT_MAGNIFICATION = (
    "Magnification and field are good to a few per cent; measure a ruler in the frame to be sure."
)
_ABOUT_FIXED_FOCUS = (
    "A lens that focuses inside shortens its focal length close up: tubes then magnify more, and the subject "
    "stands nearer, than these figures say."
)
_ABOUT_INSIDE_FOCUS = (
    "The f-number is taken as marked for the shortened focal length; such lenses differ here by up to half a "
    "stop."
)
_ABOUT_DISTANCE = (
    "The working distance counts from the principal plane: the free distance before the glass is shorter."
)
_ABOUT_PUPILS = "A pupil ratio other than 1 changes the light lost and the depth of field."
_ABOUT_CLOSE_UP = "A close-up lens is taken as thin and touching; its own faults are not in the figures."
_ABOUT_FAULTS = "Diffraction and depth of field are those of a lens without faults."


@dataclass(frozen=True)
class TrainFigures:
    """Figures of a lens train. Depths and details are at the subject, Airy disc and cut-off at the sensor."""

    magnification: float
    field_width_mm: float
    field_height_mm: float
    subject_pixel_um: float
    sensor_pixel_um: float
    focal_length_mm: float
    subject_distance_mm: float
    working_distance_mm: float
    f_number: float
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
    model: str
    trust: tuple[str, ...]


def train_figures(lens: LensTrain, wavelength_nm: float = GREEN_NM) -> TrainFigures:
    """Work all of it out, for one colour of light."""
    m, n_eff = lens.magnification, lens.effective_f_number
    pixel_mm = lens.sensor_mm[0] / lens.sensor_px[0]
    detail = float(resolved_detail_um(n_eff, m, wavelength_nm))
    two_pixels = 2000.0 * pixel_mm / m
    depth = lens.depth
    return TrainFigures(
        magnification=m,
        field_width_mm=lens.sensor_mm[0] / m,
        field_height_mm=lens.sensor_mm[1] / m,
        subject_pixel_um=1000.0 * pixel_mm / m,
        sensor_pixel_um=1000.0 * pixel_mm,
        focal_length_mm=lens.combined_focal_length_mm,
        subject_distance_mm=lens.subject_distance_mm,
        working_distance_mm=lens.working_distance_mm,
        f_number=lens.exact_f_number,
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
        airy_diameter_um=float(airy_diameter_um(n_eff, wavelength_nm)),
        cut_off_per_mm=cut_off_per_mm(n_eff, wavelength_nm),
        contrast_at_half_pixel_frequency=float(diffraction_contrast(0.25 / pixel_mm, n_eff, wavelength_nm)),
        diffraction_detail_um=detail,
        resolved_detail_um=max(detail, two_pixels),
        limited_by="diffraction" if detail > two_pixels else "pixels",
        model=model_used(lens),
        trust=trust(lens),
    )


def lens_contrast(
    lens: LensTrain, per_mm: ArrayLike, offset_mm: float = 0.0, wavelength_nm: float = GREEN_NM
) -> NDArray[np.float64]:
    """Contrast left at a frequency (cycles/mm at the sensor, any shape) of a subject `offset_mm` nearer
    than the focus.

    Diffraction times defocus by rays times the pixel's own; the product is exact in focus and far out of
    it, and somewhat pessimistic between. Below zero light and dark change places.
    """
    blur = defocus_blur_mm(lens.pupil_distance_mm, lens.pupil_diameter_mm, lens.magnification, offset_mm)
    pixel_mm = lens.sensor_mm[0] / lens.sensor_px[0]
    by_lens = diffraction_contrast(per_mm, lens.effective_f_number, wavelength_nm)
    return by_lens * defocus_contrast(per_mm, blur) * pixel_contrast(per_mm, pixel_mm)


def sharpest_f_number(lens: LensTrain, depth_mm: float, wavelength_nm: float = GREEN_NM) -> float:
    """The f-number to set (exact, not a mark) for the least blur at both ends of a wanted depth; see
    `depth`."""
    effective = sharpest_effective_f_number(depth_mm, lens.magnification, wavelength_nm)
    return effective * lens.exact_f_number / lens.effective_f_number


def model_used(lens: LensTrain) -> str:
    """The model in one line."""
    parts = ["thin lens"]
    if lens.close_up_dioptres > 0:
        parts = ["thin lenses in contact"]
    if lens.focal_length_close_mm is None:
        parts.append("internal focusing ignored")
    else:
        parts.append("focal length at the closest focus given")
    if lens.pupil_ratio == 1:
        parts.append("pupils in the principal planes")
    else:
        parts.append(f"pupil ratio {lens.pupil_ratio:g}")
    return ", ".join(parts)


def trust(lens: LensTrain) -> tuple[str, ...]:
    """How far to trust the figures, in sentences."""
    said = [_ABOUT_MAGNIFICATION]
    said.append(_ABOUT_FIXED_FOCUS if lens.focal_length_close_mm is None else _ABOUT_INSIDE_FOCUS)
    if lens.native_working_distance_mm is None:
        said.append(_ABOUT_DISTANCE)
    if lens.pupil_ratio == 1:
        said.append(_ABOUT_PUPILS)
    if lens.close_up_dioptres > 0:
        said.append(_ABOUT_CLOSE_UP)
    said.append(_ABOUT_FAULTS)
    return tuple(said)

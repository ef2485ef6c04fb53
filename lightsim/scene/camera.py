"""What the tracer needs to know of a camera, framed by a lens train or by a field width."""

from __future__ import annotations

from dataclasses import fields
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from lightsim.optics.exposure_values import effective_f_number
from lightsim.optics.lens_chain import NOMINAL
from lightsim.optics.lens_records import CameraGeometry
from lightsim.optics.lens_train import LENS, SHORTEST_MM, LensTrain, Piece, pieces_of
from lightsim.optics.marks import F_NUMBERS
from lightsim.scene.records import Camera, Lens

FIELD_WIDTH_MM = 24.0  # where neither a lens train nor a width says it
WORKING_DISTANCE_MM = 120.0


def lens_train(camera: Camera, lens: Lens) -> LensTrain:
    """The lens train's closed forms. SceneError for figures that cannot be."""
    figures = {field.name: getattr(lens, field.name) for field in fields(lens)}
    return LensTrain(
        **figures, f_number=camera.f_number, sensor_mm=camera.sensor_mm, sensor_px=camera.sensor_px
    )


def camera_geometry(camera: Camera, lens: Lens | None = None) -> CameraGeometry:
    """The camera's geometry: that of its lens train, or for a field width a thin lens with a pupil ratio of
    1, its pupil at its front.

    m = sensor width / field width; effective N = N (1 + m); the object-side aperture m / (2 N_eff), a
    tangent, gives the pupil's radius at the working distance. Hecht, Optics, ch. 5.
    """
    if lens is not None:
        return lens_train(camera, lens).geometry()
    width = FIELD_WIDTH_MM if camera.field_width_mm is None else camera.field_width_mm
    distance = WORKING_DISTANCE_MM if camera.working_distance_mm is None else camera.working_distance_mm
    magnification = camera.sensor_mm[0] / width
    effective = effective_f_number(F_NUMBERS.exact(camera.f_number), magnification)
    return CameraGeometry(
        field_width_mm=width,
        aspect=camera.sensor_mm[0] / camera.sensor_mm[1],
        pupil_distance_mm=distance,
        pupil_radius_mm=distance * magnification / (2.0 * effective),
        working_distance_mm=distance,
        magnification=magnification,
        effective_f_number=effective,
        mount_distance_mm=distance * (1.0 + magnification) - NOMINAL.flange_mm,
        sensor_distance_mm=distance * (1.0 + magnification),  # f (1 + m) is m times f (1 + 1/m)
    )


def barrel_pieces(camera: Camera, lens: Lens | None, geometry: CameraGeometry) -> tuple[Piece, ...]:
    """What the barrel is made of, from the subject to the camera's mount; without a lens train one lens."""
    if lens is not None:
        return pieces_of(lens_train(camera, lens))
    front = geometry.working_distance_mm
    return (Piece(LENS, front, max(geometry.mount_distance_mm, front + SHORTEST_MM)),)


def up_in_picture(looks_down_deg: float) -> NDArray[np.float64]:
    """The direction against gravity, (3,), for a camera that looks down by an angle."""
    angle = radians(looks_down_deg)
    return np.array([0.0, cos(angle), sin(angle)])


def half_field_mm(camera: CameraGeometry) -> NDArray[np.float64]:
    """Half the width and height of the field at the plane of sharp focus, (2,)."""
    half = 0.5 * camera.field_width_mm
    return np.array([half, half / camera.aspect])


def in_view(camera: CameraGeometry, points: NDArray) -> NDArray[np.bool_]:
    """Which points (n, 3) lie in the lens's view: between the pupil and the field, or beyond the field."""
    share = points[:, 2:] / camera.pupil_distance_mm  # 0 at the field, 1 at the pupil
    edge = np.abs(1.0 - share) * half_field_mm(camera) + np.abs(share) * camera.pupil_radius_mm
    return (points[:, 2] < view_end_mm(camera)) & (np.abs(points[:, :2]) <= edge).all(axis=1)


def view_end_mm(camera: CameraGeometry) -> float:
    """How far before the field the view ends: at the pupil, or at the lens's front if the pupil lies beyond
    the subject."""
    return camera.pupil_distance_mm if camera.pupil_distance_mm > 0.0 else camera.working_distance_mm


def toward_lens(camera: CameraGeometry, points: NDArray) -> NDArray[np.float64]:
    """From points (..., 3) the way that light takes to the lens: to the middle of the pupil, or away from it
    where it lies beyond the subject."""
    side = np.sign(camera.pupil_distance_mm)
    return np.asarray(side * (np.array([0.0, 0.0, camera.pupil_distance_mm]) - points))

"""The lens as frozen records: what is screwed together, and what the tracer needs to know of the whole."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class StackedLens:
    """A second lens, focused at infinity, screwed back to front before the first.

    f_number : as marked, where it is stopped down; None leaves it so wide that it limits nothing.
    thread_mm : its filter thread ahead of its front principal plane, where known.
    flange_distance_mm : from its mount to the sensor that it was made for; None takes the camera's.
    """

    focal_length_mm: float = 50.0
    f_number: float | None = None
    pupil_ratio: float = 1.0
    thread_mm: float | None = None
    flange_distance_mm: float | None = None


@dataclass(frozen=True)
class Lens:
    """The lens, what lengthens it and what is screwed before it.

    focal_length_mm : as marked.
    native_magnification : what the lens gives by itself where its focus ring stands; 0 at infinity.
    native_working_distance_mm, native_focus_distance_mm, focal_length_close_mm : there and without anything
        put on, each where known: free distance before the lens, subject to sensor, and the focal length,
        which lenses that focus inside shorten.
    extension_tubes_mm : lengths that add up.
    close_up_dioptres : of the close-up lenses, the one next to the subject first.
    close_up_spacing_mm : from the front of the lens to the first close-up lens, and from one to the next.
    teleconverter : its factor, 1 for none.  teleconverter_on : "camera" or "lens", where the tubes end.
    teleconverter_length_mm : by how much it moves the camera back, where known.
    reversed : mounted back to front.
    flange_distance_mm : from the camera's mount to the sensor, where known.  lens_flange_distance_mm : the
        same of the camera that the lens was made for; None takes this one's.
    pupil_ratio : exit pupil / entrance pupil.
    barrel_diameter_mm : width of the lens.  barrel_length_mm : from its mount to its front, as it is focused,
        where known.
    widest_f_number : smallest f-number the lens has, where known.
    circle_mm : circle of confusion at the sensor; None takes the sensor's diagonal / 1500.
    stacked : a second lens, reversed, before the first.
    """

    focal_length_mm: float = 100.0
    native_magnification: float = 1.0
    native_working_distance_mm: float | None = None
    native_focus_distance_mm: float | None = None
    focal_length_close_mm: float | None = None
    extension_tubes_mm: tuple[float, ...] = ()
    close_up_dioptres: tuple[float, ...] = ()
    close_up_spacing_mm: float = 0.0
    teleconverter: float = 1.0
    teleconverter_on: str = "camera"
    teleconverter_length_mm: float | None = None
    reversed: bool = False
    flange_distance_mm: float | None = None
    lens_flange_distance_mm: float | None = None
    pupil_ratio: float = 1.0
    barrel_diameter_mm: float | None = None
    barrel_length_mm: float | None = None
    widest_f_number: float | None = None
    circle_mm: float | None = None
    stacked: StackedLens | None = None


@dataclass(frozen=True)
class CameraGeometry:
    """All that the tracer needs to know of the camera.

    field_width_mm : width of the field at the plane of sharp focus.
    aspect : width / height of the picture.
    pupil_distance_mm : from the focus to the entrance pupil, along +z; negative for one beyond the subject.
    pupil_radius_mm : radius of the entrance pupil; 0 for a pinhole.
    working_distance_mm : from the focus to the foremost thing that is screwed on.
    magnification, effective_f_number : for the exposure and the diffraction.
    mount_distance_mm, sensor_distance_mm : from the focus to the camera's mount and to the sensor. The
        barrel, with all that is put on, spans from the working distance to the mount.
    """

    field_width_mm: float
    aspect: float
    pupil_distance_mm: float
    pupil_radius_mm: float
    working_distance_mm: float
    magnification: float
    effective_f_number: float
    mount_distance_mm: float
    sensor_distance_mm: float

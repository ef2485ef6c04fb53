"""The lens train laid out as a chain: where each element stands, and what is supposed where nobody says it.

From the subject: close-up lenses, a second lens reversed, the lens (either way round), tubes and
teleconverter, the sensor. f is the focal length of the lens as it is focused, m0 its native magnification.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

from lightsim.optics.marks import F_NUMBERS
from lightsim.optics.ray_matrices import Chain, Element, Stop

if TYPE_CHECKING:
    from lightsim.optics.lens_records import StackedLens
    from lightsim.optics.lens_train import LensTrain

CLOSE_UP = "close-up lens"
STACKED = "reversed second lens"
MAIN = "lens"
TELECONVERTER = "teleconverter"


class Supposed(NamedTuple):
    """What stands in for figures that are not known. All of it common practice, no source.

    close_focal_share : of the focal length, what is left at life size and closer (in proportion farther off).
    planes_apart_share : of the focal length, from the front to the rear principal plane.
    closest_share : of the focal length, from subject to sensor at life size; a thin lens has 4, and lenses
        that focus inside or lengthen their barrel by less have less (in proportion farther off).
    front_share : of the focal length, how far the front stands ahead of the front principal plane.
    thread_mm : the same for a lens that is reversed, whose filter thread then faces the sensor.
    flange_mm : from the mount to the sensor.
    """

    close_focal_share: float = 1.0
    planes_apart_share: float = 0.0
    closest_share: float = 3.0
    front_share: float = 0.6
    thread_mm: float = 45.0
    flange_mm: float = 44.0


NOMINAL = Supposed()
TELECONVERTER_MM_PER_FACTOR = 50.0  # length supposed for a teleconverter of factor T: 50 (T - 1) mm


class Planes(NamedTuple):
    """A lens's principal planes in its barrel, as it is focused.

    focal_length_mm : in use.  apart_mm : from the front to the rear principal plane.
    front_mm : its front (and filter thread) ahead of the front principal plane.
    mount_mm : its mount behind the rear principal plane; negative where the plane lies behind the mount.
    """

    focal_length_mm: float
    apart_mm: float
    front_mm: float
    mount_mm: float


def planes_of(train: LensTrain, supposed: Supposed = NOMINAL) -> Planes:
    """The principal planes of the lens by itself, the right way round."""
    m = train.native_magnification
    focal = _focal_length_in_use(train, supposed)
    apart = _planes_apart(train, focal, supposed)
    front = _front(train, focal, supposed)
    return Planes(focal, apart, front, focal * (1 + m) - lens_flange_mm(train, supposed))


def flange_mm(train: LensTrain, supposed: Supposed = NOMINAL) -> float:
    """From the camera's mount to its sensor."""
    return supposed.flange_mm if train.flange_distance_mm is None else train.flange_distance_mm


def lens_flange_mm(train: LensTrain, supposed: Supposed = NOMINAL) -> float:
    """The same of the camera that the lens was made for."""
    given = train.lens_flange_distance_mm
    return flange_mm(train, supposed) if given is None else given


def track_mm(train: LensTrain, supposed: Supposed = NOMINAL) -> float | None:
    """From the subject to the sensor with the bare lens at its native magnification: as given, or free
    distance, barrel and flange together; None where not known."""
    if train.native_magnification == 0:
        return None
    free, barrel = train.native_working_distance_mm, train.barrel_length_mm
    if train.native_focus_distance_mm is not None or free is None or barrel is None:
        return train.native_focus_distance_mm
    return free + barrel + lens_flange_mm(train, supposed)


def free_mm(train: LensTrain, supposed: Supposed = NOMINAL) -> float | None:
    """Free distance before the bare lens at its native magnification: as given, or what barrel and flange
    leave of the closest focus; None where not known."""
    if train.native_magnification == 0:
        return None
    closest, barrel = train.native_focus_distance_mm, train.barrel_length_mm
    if train.native_working_distance_mm is not None or closest is None or barrel is None:
        return train.native_working_distance_mm
    return closest - barrel - lens_flange_mm(train, supposed)


def _focal_length_in_use(train: LensTrain, supposed: Supposed) -> float:
    """The one given; from the closest focus, (track - planes apart) / (2 + m0 + 1/m0); else as supposed."""
    if train.focal_length_close_mm is not None:
        return train.focal_length_close_mm
    m, marked, track = train.native_magnification, train.focal_length_mm, track_mm(train, supposed)
    if track is not None:
        return (track - supposed.planes_apart_share * marked) / (2 + m + 1 / m)
    return marked * (1 - (1 - supposed.close_focal_share) * min(m, 1.0))


def _planes_apart(train: LensTrain, focal: float, supposed: Supposed) -> float:
    """Distance between the principal planes, from the closest focus where that is known."""
    m, track = train.native_magnification, track_mm(train, supposed)
    if track is None and closest_is_open(train):
        track = supposed_track_mm(train, supposed)
    if track is not None:
        return track - focal * (2 + m + 1 / m)
    return supposed.planes_apart_share * train.focal_length_mm


def closest_is_open(train: LensTrain) -> bool:
    """Whether nothing says how far from the subject the camera stands with the bare lens close up."""
    return train.native_magnification > 0 and train.focal_length_close_mm is None and track_mm(train) is None


def supposed_track_mm(train: LensTrain, supposed: Supposed = NOMINAL) -> float:
    """From the subject to the sensor with the bare lens at its native magnification, where nothing says it:
    free distance, barrel and flange where there is a barrel, else a share of the focal length."""
    m, marked = train.native_magnification, train.focal_length_mm
    if train.barrel_length_mm is not None:
        free = marked * (1 + 1 / m - supposed.front_share)
        return free + train.barrel_length_mm + lens_flange_mm(train, supposed)
    return marked * (2 + m + 1 / m - (4 - supposed.closest_share) * min(m, 1.0))


def _front(train: LensTrain, focal: float, supposed: Supposed) -> float:
    """The front ahead of the front principal plane: what the subject distance f (1 + 1/m0) has over the free
    distance. That is given, or is what the marked focal length would leave with the supposed front."""
    m, marked, free = train.native_magnification, train.focal_length_mm, free_mm(train, supposed)
    if free is not None:
        return focal * (1 + 1 / m) - free
    if m == 0 and train.barrel_length_mm is not None:
        return train.barrel_length_mm + lens_flange_mm(train, supposed) - focal
    if train.reversed:
        return supposed.thread_mm
    shrunk = (marked - focal) * (1 + 1 / m) if m > 0 else 0.0
    return supposed.front_share * marked - shrunk


def chain_of(train: LensTrain, supposed: Supposed = NOMINAL, f_number: float | None = None) -> Chain:
    """All elements at their places, and the sensor. f_number : of the lens, exact; None takes the one set."""
    flange = flange_mm(train, supposed)
    elements = list(_close_ups(train))
    front = train.close_up_spacing_mm * len(elements)
    if train.stacked is not None:
        element, front = _stacked(train.stacked, front, flange, supposed)
        elements.append(element)
    planes = planes_of(train, supposed)
    exact = train.exact_f_number if f_number is None else f_number
    lens, image = _main(train, planes, front, flange, exact)
    return _with_what_lengthens(train, [*elements, lens], image)


def _close_ups(train: LensTrain) -> Iterator[Element]:
    for number, dioptres in enumerate(each for each in train.close_up_dioptres if each > 0):
        place = number * train.close_up_spacing_mm
        yield Element(f"{CLOSE_UP} +{dioptres:g}", place, 1000.0 / dioptres)


def _main(train: LensTrain, planes: Planes, front: float, flange: float, n: float) -> tuple[Element, float]:
    """The lens, its foremost plane at `front`, at f-number n, and the distance from its rear principal
    plane to the sensor without tubes and teleconverter."""
    f, p = planes.focal_length_mm, train.pupil_ratio
    if not train.reversed:
        element = Element(MAIN, front + planes.front_mm, f, planes.apart_mm, _entrance(f, p, n))
        return element, f * (1 + train.native_magnification)
    element = Element(MAIN, front + planes.mount_mm, f, planes.apart_mm, _exit(f, p, n))
    return element, planes.front_mm + flange


def _entrance(focal: float, ratio: float, f_number: float) -> Stop:
    """Entrance pupil of a lens by itself: f (1/P - 1) behind the front principal plane, f/N wide."""
    return Stop(focal * (1 / ratio - 1), focal / f_number)


def _exit(focal: float, ratio: float, f_number: float) -> Stop:
    """Exit pupil, which a reversed lens turns to the subject: f (P - 1) behind the plane that then comes
    first, P f/N wide."""
    return Stop(focal * (ratio - 1), ratio * focal / f_number)


def _stacked(lens: StackedLens, front: float, flange: float, supposed: Supposed) -> tuple[Element, float]:
    """The second lens, its mount at `front`, focused at infinity; and where its filter thread ends."""
    f = lens.focal_length_mm
    mount = f - (flange if lens.flange_distance_mm is None else lens.flange_distance_mm)
    thread = supposed.thread_mm if lens.thread_mm is None else lens.thread_mm
    n = float("nan") if lens.f_number is None else F_NUMBERS.exact(lens.f_number)
    stop = None if lens.f_number is None else _exit(f, lens.pupil_ratio, n)
    return Element(STACKED, front + mount, f, stop=stop), front + mount + thread


def _with_what_lengthens(train: LensTrain, elements: list[Element], image: float) -> Chain:
    """The chain with tubes and teleconverter: a thin negative lens where the image that it takes over still
    has a to go; it sends it b = T a on, and is b - a long."""
    tubes, factor, rear = train.extension_mm, train.teleconverter, elements[-1].rear_mm
    if factor == 1.0:
        return Chain(tuple(elements), rear + image + tubes)
    length = teleconverter_length_mm(train)
    a = length / (factor - 1)
    before = tubes if train.teleconverter_on == "camera" else 0.0
    place = rear + image - a + before
    element = Element(TELECONVERTER, place, -factor * a / (factor - 1))
    return Chain((*elements, element), place + factor * a + tubes - before)


def teleconverter_length_mm(train: LensTrain) -> float:
    """By how much the teleconverter moves the camera back: the length given, or the one supposed."""
    given = train.teleconverter_length_mm
    return TELECONVERTER_MM_PER_FACTOR * (train.teleconverter - 1) if given is None else given

"""What cannot be in a lens train: one sentence each, with the element that is at fault and what would do."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from copy import copy
from math import isfinite
from typing import TYPE_CHECKING, Any, NamedTuple

from lightsim.optics.lens_chain import chain_of, free_mm, planes_of
from lightsim.optics.marks import F_NUMBERS

if TYPE_CHECKING:
    from lightsim.optics.lens_train import LensTrain

LEAST_F_NUMBER = 0.5  # no lens can draw a wider cone: the sine condition
KEY = "lens"
CAMERA_KEYS = ("f_number", "sensor_mm", "sensor_px")  # these are set on the camera
_HALVINGS = 60


def problems_of(train: LensTrain) -> Iterator[str]:
    """One sentence for each figure that cannot be; the last ones only when each figure by itself is sound."""
    wrong = [*_wrong_numbers(train), *_wrong_sensor(train)]
    yield from wrong or _wrong_together(train)


def _wrong(key: str, found: object, allowed: str) -> str:
    section = "camera" if key in CAMERA_KEYS else KEY
    return f"{section}.{key}: found {found}, allowed {allowed}"


_ABOVE_0 = (
    "focal_length_mm",
    "pupil_ratio",
    "focal_length_close_mm",
    "native_focus_distance_mm",
    "flange_distance_mm",
    "lens_flange_distance_mm",
    "barrel_length_mm",
    "teleconverter_length_mm",
    "native_working_distance_mm",
    "circle_mm",
    "stacked.focal_length_mm",
    "stacked.pupil_ratio",
    "stacked.flange_distance_mm",
)
LEAST_MAGNIFICATION = 1e-4  # smaller ones are infinity
_0_OR_MORE = ("native_magnification", "close_up_spacing_mm")
_LISTS = ("extension_tubes_mm", "close_up_dioptres")


def _value(train: LensTrain, key: str) -> Any:
    """The value of a key such as stacked.f_number; None where there is no such element."""
    found: Any = train
    for part in key.split("."):
        found = None if found is None else getattr(found, part)
    return found


def _wrong_numbers(train: LensTrain) -> Iterator[str]:
    for key in _ABOVE_0:
        value = _value(train, key)
        if value is not None and not (isfinite(value) and value > 0):
            yield _wrong(key, value, "a number over 0")
    for key in ("f_number", "widest_f_number", "stacked.f_number"):
        value = _value(train, key)
        if value is not None and not (isfinite(value) and value >= LEAST_F_NUMBER):
            yield _wrong(key, value, f"{LEAST_F_NUMBER} or more")
    for key in _0_OR_MORE:
        value = _value(train, key)
        if not (isfinite(value) and value >= 0):
            yield _wrong(key, value, "0 or more")
    if 0 < train.native_magnification < LEAST_MAGNIFICATION:
        allowed = f"0 (at infinity), or {LEAST_MAGNIFICATION:g} and more"
        yield _wrong("native_magnification", train.native_magnification, allowed)
    for key in _LISTS:
        for place, value in enumerate(_value(train, key)):
            if not (isfinite(value) and value >= 0):
                yield _wrong(f"{key}[{place}]", value, "0 or more")
    if not (isfinite(train.teleconverter) and train.teleconverter >= 1):
        yield _wrong("teleconverter", train.teleconverter, "1 (none) or more")


def _wrong_sensor(train: LensTrain) -> Iterator[str]:
    for key, kind in (("sensor_mm", "two lengths over 0"), ("sensor_px", "two whole numbers over 0")):
        pair = getattr(train, key)
        if len(pair) != 2 or not all(isfinite(side) and side > 0 for side in pair):
            yield _wrong(key, list(pair), kind)


def _wrong_together(train: LensTrain) -> Iterator[str]:
    widest = train.widest_f_number
    if widest is not None and train.exact_f_number < F_NUMBERS.exact(widest) * 0.999:
        yield _wrong("f_number", f"{train.f_number:g}", f"{widest:g} (the widest) or more")
    if train.reversed and train.stacked is not None:
        yield _wrong("stacked", "a second lens with reversed = true", "one before a lens the right way round")
        return
    free, closest = free_mm(train), train.native_focus_distance_mm
    if free is not None and closest is not None and free <= 0:
        found = f"{closest:g}, of which the lens and the camera leave nothing free"
        yield _wrong("native_focus_distance_mm", found, f"more than {closest - free:g}")
        return
    chain = chain_of(train)
    if chain.magnification <= 1e-9:
        yield _no_image(train)
    elif chain.working_distance_mm <= 0:
        yield no_room(train, 0.0, "with which the subject would be inside the lens")


def _no_image(train: LensTrain) -> str:
    """No real image of any subject reaches the sensor."""
    if not train.reversed:
        others = "tubes, close-up lens or a second lens"
        return _wrong("native_magnification", f"0 without {others}", "more than 0")
    planes, flange = planes_of(train), chain_of(train).sensor_mm - chain_of(train).elements[-1].rear_mm
    lacks = planes.focal_length_mm - flange + train.extension_mm
    found = f"{train.extension_mm:g} mm behind the reversed lens, too near the sensor to draw anything"
    return _wrong("extension_tubes_mm", found, f"more than {max(lacks, 0.0):.1f} mm")


class Fault(NamedTuple):
    """An element that takes the room before the lens. key : of the scene.  found, allowed : in words."""

    key: str
    found: str
    allowed: str
    room_without_mm: float


def no_room(train: LensTrain, needed_mm: float, what: str) -> str:
    """The sentence for a train that leaves no more than `needed_mm` free, naming the element whose removal
    would leave most."""
    faults = sorted(_faults(train, needed_mm), key=lambda fault: -fault.room_without_mm)
    if not faults or faults[0].room_without_mm <= needed_mm:
        return f"{KEY}: found a train {what}, allowed another lens or a lower native_magnification"
    fault = faults[0]
    return _wrong(fault.key, f"{fault.found}, {what}", fault.allowed)


def train_room_mm(train: LensTrain) -> float:
    """Free distance before the foremost element; below 0 where the subject would be inside."""
    chain = chain_of(train)
    return chain.working_distance_mm if chain.magnification > 0 else -1.0


def _faults(train: LensTrain, needed_mm: float) -> Iterator[Fault]:
    if any(train.extension_tubes_mm):
        most = _most(lambda share: _with_tubes(train, share), needed_mm) * train.extension_mm
        yield Fault(
            "extension_tubes_mm",
            f"a length of {train.extension_mm:g} mm",
            f"up to {_down(most)} mm",
            train_room_mm(_with_tubes(train, 0.0)),
        )
    if any(train.close_up_dioptres):
        total = sum(train.close_up_dioptres)
        most = _most(lambda share: _with_close_ups(train, share), needed_mm) * total
        yield Fault(
            "close_up_dioptres",
            f"+{total:g}",
            f"up to +{_down(most)}",
            train_room_mm(_changed(train, close_up_dioptres=())),
        )
    if train.teleconverter > 1:
        without = _changed(train, teleconverter=1.0)
        yield Fault("teleconverter", f"{train.teleconverter:g}", "1 (none)", train_room_mm(without))
    if train.stacked is not None:
        without = _changed(train, stacked=None)
        yield Fault("stacked", "a second lens", "the lens without it", train_room_mm(without))


def _down(value: float) -> str:
    """Rounded down to a tenth, so that what is named does."""
    return f"{int(value * 10.0) / 10.0:g}"


def _with_tubes(train: LensTrain, share: float) -> LensTrain:
    return _changed(train, extension_tubes_mm=tuple(share * tube for tube in train.extension_tubes_mm))


def _with_close_ups(train: LensTrain, share: float) -> LensTrain:
    return _changed(train, close_up_dioptres=tuple(share * each for each in train.close_up_dioptres))


def _most(with_share: Callable[[float], LensTrain], needed_mm: float) -> float:
    """The largest share, 0..1, of an element with which more than the needed room is left, by halving."""
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if train_room_mm(with_share(middle)) > needed_mm else (low, middle)
    return low


def _changed(train: LensTrain, **changes: object) -> LensTrain:
    """A copy with other figures, unchecked: it serves to find out what would do."""
    made = copy(train)
    vars(made).pop("chain", None)
    vars(made).update(changes)
    return made

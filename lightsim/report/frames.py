"""What sheets, charts and animations are made of: a picture, its measures, its place in the sweep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lightsim.errors import PictureError
from lightsim.measures.measure_records import FrameMeasures
from lightsim.report.words import MARKED, marked, plain, quantity, trade_name

if TYPE_CHECKING:
    from PIL.Image import Image

    from lightsim.picture import DropsSeen

_AXIS_NAMES = {
    "angle": "angle off the lens axis",
    "clock": "clock position",
    "distance": "distance of the light",
    "size": "width of the light",
    "extension": "length of the tubes",
    "power": "power of the flash",
    "shutter": "shutter time",
    "ISO speed": "ISO speed",
}
_AXIS_UNITS = {
    "deg": "degrees",
    "clock": "12 above, seen from the camera",
    "power": "",
    "ISO": "",
    "mm of tubes": "mm",
    "switch": "",
    "drops": "",
}
IN_STOPS = frozenset(("f/", *MARKED))  # units of settings that go in factors


@dataclass(frozen=True)
class Varied:
    """What a sweep moves, and where it stands: name "angle", value 75, unit "deg".

    value : a number, or words that stand as they are.
    unit : "deg" for angles, "clock" for clock positions, "f/" for f-numbers, "power", "s" for shutter times,
        "ISO", "switch" for what is on (1) or off (0), else as printed ("mm").
    text : takes the place of value and unit in captions: "drops of 2 mm".
    """

    name: str
    value: float | str
    unit: str = ""
    text: str = ""

    @property
    def words(self) -> str:
        """The value as it heads a caption."""
        return self.text or quantity(self.value, self.unit)

    @property
    def tick(self) -> str:
        """The value as it stands along an axis that has the unit."""
        if isinstance(self.value, str):
            return self.value
        if self.unit == "switch":
            return "on" if self.value else "off"
        if self.unit in MARKED:
            return marked(self.value, self.unit).removeprefix("ISO ").removesuffix(" s")
        return plain(self.value)

    @property
    def axis(self) -> str:
        """The name with its unit, as it stands along an axis."""
        if self.unit == "f/":
            return "f-number"
        unit = _AXIS_UNITS.get(self.unit, self.unit)
        name = _AXIS_NAMES.get(self.name, self.name)
        return f"{name} ({unit})" if unit else name

    @property
    def is_angle(self) -> bool:
        """Whether this is the light's angle off the lens axis."""
        return self.unit == "deg" and _AXIS_NAMES.get(self.name, self.name) == _AXIS_NAMES["angle"]


@dataclass(frozen=True)
class SheetFrame:
    """One frame of a sweep, ready to be shown.

    image : (h, w, 3) uint8, sRGB, at the exposure that all frames share.
    varied : what the sweep moves (two of them in a grid), the first one heads the caption.
    angle_deg, clock, distance_mm : where the light stands; an angle of None for a set without a light.
    inset_drop : the drop to show enlarged, or None where there is none.
    second_drop : another one, away from the focus, where the depth of field varies.
    mm_per_px : size of one pixel at the plane of sharp focus; None leaves the scale bar out.
    exposure_stops : where each frame has its own exposure, how far it lies from the common one.
    shows_level : whether the caption says how bright the petal comes out, since settings differ.
    not_buildable : why the set cannot be built so, in words; "" where it can.
    hidden_share : of the light that solid things hide; 0 where that is not worth a word.
    settings : of this picture's own, in short words or lines.
    measured_light : name of the light that is measured, where it is not the key.
    """

    image: NDArray[np.uint8]
    measures: FrameMeasures
    varied: tuple[Varied, ...]
    angle_deg: float | None
    clock: float
    distance_mm: float
    inset_drop: ReferenceDrop | None = None
    second_drop: ReferenceDrop | None = None
    mm_per_px: float | None = None
    exposure_stops: float | None = None
    shows_level: bool = False
    not_buildable: str = ""
    hidden_share: float = 0.0
    settings: tuple[str, ...] = ()
    measured_light: str = ""

    @property
    def heading(self) -> str:
        """The varied quantities in words, or the angle where nothing is varied."""
        if self.varied or self.angle_deg is None:
            return ", ".join(v.words for v in self.varied)
        return quantity(self.angle_deg, "deg")

    @property
    def light_name(self) -> str:
        """The trade's name of the light, and its angle where the heading does not give it."""
        if self.angle_deg is None:
            return ""
        if not self.varied or any(v.is_angle for v in self.varied):
            return trade_name(self.angle_deg)
        return f"{trade_name(self.angle_deg)} {quantity(self.angle_deg, 'deg')}"


def checked_frames(frames: Sequence[SheetFrame]) -> list[SheetFrame]:
    """The frames as a list.

    Raises PictureError where there is none, or where a picture is not (h, w, 3) uint8.
    """
    if not frames:
        raise PictureError("there is no frame to show; at least one is needed")
    for number, frame in enumerate(frames, 1):
        image = frame.image
        if image.dtype != np.uint8 or image.ndim != 3 or image.shape[2] != 3 or not image.size:
            raise PictureError(
                f"frame {number} is an array of shape {image.shape} and kind {image.dtype}; "
                "a picture of shape (height, width, 3) and kind uint8 is needed"
            )
    return list(frames)


LEAST_SECOND_PX = 5.0  # radius of a drop away from the focus that is worth enlarging
MARGIN = 1.4  # half the inset's side, in radii of the drop


@dataclass(frozen=True)
class ReferenceDrop:
    """The drop that is shown enlarged under every frame.

    centre_px : column and row of its centre; pixel centres are at .5.  radius_px : of its disc.
    """

    centre_px: tuple[float, float]
    radius_px: float


def reference_drop(drops: DropsSeen, index: int | None) -> ReferenceDrop | None:
    """A drop's place in the picture, or None where there is none to show."""
    if index is None:
        return None
    column, row = drops.centre_px[index]
    return ReferenceDrop((float(column), float(row)), float(drops.radius_px[index]))


def defocused_drop(drops: DropsSeen, shape: tuple[int, ...], but: int | None) -> ReferenceDrop | None:
    """The most blurred drop whole in the frame and large enough to see; None where there is none.

    shape : height and width of the picture, pixels.  but : the drop that is shown already.
    """
    height, width = shape[:2]
    room = np.minimum(drops.centre_px, np.array([width, height]) - drops.centre_px).min(
        axis=1, initial=np.inf
    )
    good = (room >= drops.radius_px) & (drops.radius_px >= LEAST_SECOND_PX) & (drops.blur_px > 0.0)
    if but is not None:
        good[but] = False
    if not good.any():
        return None
    return reference_drop(drops, int(np.argmax(np.where(good, drops.blur_px, -1.0))))


def inset_box(shape: tuple[int, ...], drop: ReferenceDrop) -> tuple[float, float, float, float]:
    """The square of the picture that the inset shows: left, top, right, bottom in pixels.

    Centred on the drop where it can be; it is moved to stay inside the frame.
    """
    height, width = shape[:2]
    half = min(MARGIN * drop.radius_px, width / 2, height / 2)
    column = min(max(drop.centre_px[0], half), width - half)
    row = min(max(drop.centre_px[1], half), height - half)
    return column - half, row - half, column + half, row + half


def enlarged(image: NDArray[np.uint8], drop: ReferenceDrop, side_px: int) -> Image:
    """The drop and a little of the petal around it, `side_px` square."""
    from PIL import Image

    box = inset_box(image.shape, drop)
    return Image.fromarray(image).resize((side_px, side_px), Image.Resampling.BICUBIC, box=box)

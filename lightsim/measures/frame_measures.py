"""One door to the measures of a simulated photograph."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from numpy.typing import NDArray

from lightsim.errors import PictureError
from lightsim.measures.bare_petal import petal_places
from lightsim.measures.caustic import measure_caustic
from lightsim.measures.drop_choice import (
    all_missing,
    choose_reference,
    hidden_reason,
    in_depth_of_field,
    reasons,
)
from lightsim.measures.highlight_patch import NO_IMAGE, Found, find_highlight, measure_highlight
from lightsim.measures.measure_records import DropMeasures, FrameMeasures, LightPlace
from lightsim.measures.patch_shape import Outline
from lightsim.measures.petal_measures import measure_petal
from lightsim.measures.shadow import measure_shadow
from lightsim.measures.summary import NONE_THERE, NOT_KNOWN, summarise_drops
from lightsim.measures.window import Frame, View, view_drop
from lightsim.optics.exposure_values import stops
from lightsim.picture import DropsSeen, Photograph

BEHIND_DEG = 120.0
BLOCKED = "no image of the key in this drop; it stands behind the subject"
CLIPPED_ENOUGH = 0.02


def measure_frame(
    photo: Photograph,
    *,
    light_clock: float | None = None,
    light_angle_deg: float | None = None,
    light_distance_mm: float | None = None,
    light_outline: Outline | None = None,
    fill_linear: NDArray | None = None,
    reference_drop: int | None = None,
) -> FrameMeasures:
    """Contrast, highlights, caustics and shadows of one photograph.

    Parameters
    ----------
    photo : with maps and the key's visibility for all measures; without them (a real photograph) what the
        picture alone can give.
    light_clock : where the key stands, seen from the camera: shadows and caustics are looked for on the
        side away from it. None looks all round, and may take a neighbour's.
    light_angle_deg, light_distance_mm : off the lens axis, and from the point of sharp focus: what faces the
        key is told from what faces away where both are given.
    light_outline : of the key's face, ROUND or RECTANGLE: the highlight has the same form.
    fill_linear : (h, w, 3), the same photograph without the key, so that other lights do not pass for
        caustics.
    reference_drop : the drop to show enlarged; chosen when None.

    Raises
    ------
    PictureError : fill_linear of another size than the photograph, or a reference drop that does not exist.
    """
    _check(photo, fill_linear, reference_drop)
    frame = Frame.of(photo, fill_linear, light_clock, light_angle_deg, light_outline)
    seen = None if photo.maps is None else photo.maps.drops
    drops = () if seen is None else measure_drops(frame, seen)
    places = None if photo.maps is None else petal_places(photo.maps, frame.mm_per_px)
    key = None
    if light_clock is not None and light_angle_deg is not None and light_distance_mm is not None:
        key = LightPlace(light_angle_deg, light_clock, light_distance_mm)
    return summed_up(photo, measure_petal(frame, places, key), drops, seen, reference_drop)


def summed_up(
    photo: Photograph,
    petal: Found,
    drops: tuple[DropMeasures, ...],
    seen: DropsSeen | None,
    reference_drop: int | None,
) -> FrameMeasures:
    """The photograph's record: its petal, the medians over its drops, the drop to show enlarged."""
    values, missing = petal
    medians, empty = summarise_drops(drops, NOT_KNOWN if seen is None else NONE_THERE)
    usable = [drop.measurable for drop in drops]
    if reference_drop is None and seen is not None:
        index = None if photo.maps is None else photo.maps.drop_index
        reference_drop = choose_reference(seen, photo.shape, drop_index=index, usable=usable)
    if reference_drop is None:
        empty["reference_drop"] = "no drop can be measured"
    numbers: dict[str, Any] = {**values, **medians}
    return FrameMeasures(
        **numbers,
        drops_measured=sum(usable),
        highlights_out_of_focus=sum(drop.measurable and not drop.in_depth_of_field for drop in drops),
        reference_drop=reference_drop,
        drops=drops,
        missing={**missing, **empty},
    )


def with_lighting_ratio(measures: FrameMeasures, ratio: float | None, reason: str) -> FrameMeasures:
    """The same with the lighting ratio, which is of the set and not of the picture, or why it has none."""
    keys = ("lighting_ratio", "lighting_stops")
    kept = {key: why for key, why in measures.missing.items() if key not in keys}
    if ratio is None:
        return replace(measures, missing={**kept, **dict.fromkeys(keys, reason)})
    return replace(measures, lighting_ratio=ratio, lighting_stops=stops(ratio), missing=kept)


def _check(photo: Photograph, fill_linear: NDArray | None, reference_drop: int | None) -> None:
    if fill_linear is not None and fill_linear.shape != photo.linear.shape:
        raise PictureError(
            f"the picture without the key is {fill_linear.shape[1]} x {fill_linear.shape[0]} pixels; "
            f"it must be {photo.shape[1]} x {photo.shape[0]}, as the photograph"
        )
    count = 0 if photo.maps is None else len(photo.maps.drops.radius_px)
    if reference_drop is not None and photo.maps is not None and not 0 <= reference_drop < count:
        raise PictureError(
            f"reference drop {reference_drop}: there are drops 0 to {count - 1} in this picture"
        )


def measure_drops(frame: Frame, drops: DropsSeen) -> tuple[DropMeasures, ...]:
    """One record a drop, in the order of the set; those that cannot be measured say why."""
    measured = []
    sharp = in_depth_of_field(drops, frame.photo.shape).tolist()
    for index, reason in enumerate(reasons(drops, frame.photo.shape)):
        centre = (float(drops.centre_px[index, 0]), float(drops.centre_px[index, 1]))
        radius = float(drops.radius_px[index])
        if reason is None:
            seen = view_drop(frame, index, centre, radius)
            reason = hidden_reason(seen)
        if reason is not None:
            missing = all_missing(reason)
            measured.append(DropMeasures(index, centre, radius, False, sharp[index], missing=missing))
        else:
            measured.append(_one_drop(seen, sharp[index]))
    return tuple(measured)


def _one_drop(seen: View, sharp: bool) -> DropMeasures:
    patch = find_highlight(seen)
    values: dict[str, Any] = {}
    missing: dict[str, str] = {}
    for found, empty in (
        measure_highlight(seen, patch),
        measure_caustic(seen, patch),
        measure_shadow(seen),
    ):
        values |= found
        missing |= empty
    angle_deg = seen.frame.light_angle_deg
    if angle_deg is not None and angle_deg > BEHIND_DEG:
        missing = {key: BLOCKED if why == NO_IMAGE else why for key, why in missing.items()}
    floor = seen.glint is None and values.get("highlight_clipped_share", 0.0) > CLIPPED_ENOUGH
    return DropMeasures(
        seen.index,
        seen.centre_px,
        seen.radius_px,
        in_depth_of_field=sharp,
        **values,
        highlight_stops_at_least=floor,
        missing=missing,
    )

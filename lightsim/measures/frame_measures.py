"""One door to the measures of a simulated photograph; medians and spreads over its drops."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lightsim.errors import PictureError
from lightsim.measures.bare_petal import petal_places
from lightsim.measures.clock import circular_deviations, circular_median
from lightsim.measures.drop_choice import (
    CUT,
    DROP_IS,
    OUTSIDE,
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
from lightsim.measures.shadow import measure_caustic, measure_shadow
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


NAMES = tuple(field.name for field in fields(FrameMeasures))
WITH_MEDIAN = tuple(name.removesuffix("_median") for name in NAMES if name.endswith("_median"))
NOT_KNOWN = "no drops in the picture are known"
OUT_OF_DEPTH = f"{DROP_IS}outside the depth of field"
NONE_THERE = "no drops in the picture"


def spread_of(values: np.ndarray) -> float:
    """Half the distance between the 16th and the 84th percentile: one standard deviation of a bell curve."""
    low, high = np.percentile(values, (16.0, 84.0))
    return float(high - low) / 2.0


def middle_and_spread(key: str, values: Sequence[float]) -> tuple[float, float]:
    """Median and spread, round the dial for clock positions."""
    if key.endswith("_clock"):
        middle = circular_median(values)
        return middle, spread_of(circular_deviations(values, middle))
    numbers = np.asarray(values, dtype=float)
    return float(np.median(numbers)), spread_of(numbers)


def summarise_drops(drops: Sequence[DropMeasures], no_drops: str) -> Found:
    """Medians and spreads under the names of FrameMeasures, and the reasons for the empty ones.

    no_drops : the reason when there are none.
    """
    values: dict[str, float] = {}
    missing: dict[str, str] = {}
    for key in WITH_MEDIAN:
        names = [name for name in (f"{key}_median", f"{key}_spread") if name in NAMES]
        numbers = [
            value for drop in drops if (value := getattr(drop, key)) is not None and not _left_out(key, drop)
        ]
        if numbers:
            values |= dict(zip(names, middle_and_spread(key, numbers), strict=False))
        else:
            missing |= dict.fromkeys(names, why_empty(key, drops) if drops else no_drops)
    return values, missing


def _left_out(key: str, drop: DropMeasures) -> bool:
    """Whether a number is that of a highlight outside the depth of field, which is drawn larger and fainter
    than it is."""
    return key.startswith("highlight_") and getattr(drop, key) is not None and not drop.in_depth_of_field


def why_empty(key: str, drops: Sequence[DropMeasures]) -> str:
    """The drops' reasons with their counts, the most telling first.

    First what stood in the way where a drop could be looked at, then why others could not, those that the
    frame leaves out last; among equals the most frequent first.
    """
    found = [(drop, OUT_OF_DEPTH if _left_out(key, drop) else drop.missing[key]) for drop in drops]
    counts = Counter((_rank(drop, why), why) for drop, why in found)
    if len(counts) == 1:
        ((_, why), _) = counts.popitem()
        return f"all {len(drops)} drops: {why}" if len(drops) > 1 else why
    ordered = sorted(counts.items(), key=lambda item: (item[0][0], -item[1]))
    return "; ".join(_counted(n, why) for (_, why), n in ordered)


def _rank(drop: DropMeasures, why: str) -> int:
    """0 for a drop that was looked at, 1 for one that could not be, 2 for one beyond the frame."""
    if drop.measurable:
        return 0
    return 2 if why in (OUTSIDE, CUT) else 1


def _counted(count: int, why: str) -> str:
    """ "3 drops out of focus", "1 drop: no shadow beside the drop"."""
    drops = "drop" if count == 1 else "drops"
    short = why.removeprefix(DROP_IS)
    return f"{count} {drops}: {why}" if short == why else f"{count} {drops} {short}"

"""What each measure is; measures as flat rows for files; two photographs' measures against each other."""

from __future__ import annotations

from dataclasses import fields
from math import log2
from typing import Any

from lightsim.measures.clock import hours_between
from lightsim.measures.measure_records import DropMeasures, FrameMeasures

SCHEMA_VERSION = 3

# key: (unit, description)
FRAME: dict[str, tuple[str, str]] = {
    "petal_contrast_ratio": (
        "ratio",
        "contrast of the petal: its bright parts : its dark parts, 95th : 5th percentile of luminance of the "
        "bare petal, drops and backdrop left out, detail under 0.25 mm averaged away",
    ),
    "petal_contrast_stops": ("stops", "the same in stops"),
    "shadow_depth_ratio": (
        "ratio",
        "how deep the shadows are: bare petal in the key's light : bare petal in a shadow that a drop or "
        "another part of the flower casts and that faces the key alike; median luminance to the 10th "
        "percentile, since drops gather light into their shadows; empty where either is under 0.2 % of the "
        "petal",
    ),
    "shadow_depth_stops": ("stops", "the same in stops"),
    "cast_shadow_share": ("share", "part of the bare petal in such a shadow, penumbra left out"),
    "facing_away_share": ("share", "part of the bare petal that is turned away from the key"),
    "texture_fine_rms": (
        "1",
        "texture of veins and skin: RMS contrast of the bare petal in detail of 0.25 to 1 mm (period; half "
        "the amplitude at both ends), logarithm of luminance over its local mean (Peli 1990); shadows count",
    ),
    "texture_fine_stops": ("stops", "the same in stops"),
    "texture_coarse_rms": ("1", "texture of folds and wrinkles: the same in detail of 1 to 4 mm"),
    "texture_coarse_stops": ("stops", "the same in stops"),
    "lighting_ratio": (
        "ratio",
        "(key + fill) : fill, the light that comes to the seen side of the petal, as metered there without "
        "shadows; fill is all but the key's straight light: other lamps, room, cards",
    ),
    "lighting_stops": ("stops", "the same in stops"),
    "petal_linear": (
        "1",
        "level of the petal: mean luminance of the bare petal, linear, before the tone curve and not cut "
        "where the sensor clips; 0.18 is the mid-tone",
    ),
    "petal_stops_from_mid_tone": ("stops", "the same in stops from the mid-tone"),
    "petal_clipped_share": ("share", "part of the bare petal with any channel at the sensor's limit"),
    "clipped_share": ("share", "part of the picture with any channel at the sensor's limit"),
    "drops_measured": ("count", "drops wholly in the frame, in focus and large enough"),
    "highlights_out_of_focus": (
        "count",
        "of these, drops with their front outside the depth of field: left out of the highlights' medians",
    ),
    "reference_drop": ("index", "the drop shown enlarged"),
}

DROP: dict[str, tuple[str, str]] = {
    "drop": ("index", "the drop's number on the set, from 0"),
    "centre_x_px": ("px", "column of the drop's centre; pixel centres are at .5"),
    "centre_y_px": ("px", "row of the drop's centre, from the top"),
    "radius_px": ("px", "radius of the drop's disc"),
    "measurable": ("yes/no", "wholly in the frame, in focus, large enough and not hidden"),
    "in_depth_of_field": (
        "yes/no",
        "its front has a defocus disc of at most the circle of confusion, a 1500th of the picture's diagonal",
    ),
    "highlight_disc_share": (
        "share",
        "how much of the drop it covers: area of the highlight / of the drop's disc",
    ),
    "highlight_area_mm2": ("mm2", "area of the highlight"),
    "highlight_area_px": ("px2", "area of the highlight"),
    "highlight_long_mm": (
        "mm",
        "length of the highlight: its full width, edge to edge, where it is widest; out of focus as blurred",
    ),
    "highlight_short_mm": ("mm", "its full width, edge to edge, across that"),
    "highlight_aspect": (
        "ratio",
        "long : short; the farther round the light stands, the longer a drop draws its image",
    ),
    "highlight_orientation_deg": ("deg", "direction of the long side, counter-clockwise from the right"),
    "highlight_place_share": (
        "share",
        "where the highlight sits: 0 in the middle of the drop (light from the lens), 1 at its rim (light "
        "from behind), 0.71 with light from the side; distance from the drop's centre / its radius",
    ),
    "highlight_clock": (
        "clock",
        "clock position of the highlight in the drop: the side the light comes from",
    ),
    "highlight_stops_above_petal": (
        "stops",
        "sparkle: the brightest part of the highlight above the petal beside the drop, linear levels",
    ),
    "highlight_stops_at_least": ("yes/no", "the highlight is clipped, so its stops are a lower limit"),
    "highlight_clipped_share": ("share", "part of the highlight with any channel at the sensor's limit"),
    "highlight_edge_width_mm": (
        "mm",
        "how soft the highlight's edge is: 10 % to 90 % rise, the pixel's own included",
    ),
    "caustic_stops_above_petal": (
        "stops",
        "the bright spot of light that the drop gathers like a lens, above the petal beside the drop",
    ),
    "caustic_place_share": (
        "share",
        "distance of that spot from the drop's centre / radius; over 1 in the drop's shadow",
    ),
    "caustic_clock": ("clock", "clock position of that spot: the side away from the light"),
    "shadow_clock": ("clock", "clock position toward which the drop's shadow falls"),
    "shadow_length_mm": ("mm", "length of the shadow beyond the drop's rim, as it looks in the picture"),
}


def _over_drops() -> dict[str, tuple[str, str]]:
    """Entries of the medians and spreads, from those of the drops."""
    entries = {}
    for f in fields(FrameMeasures):
        key, _, kind = f.name.rpartition("_")
        if kind in ("median", "spread"):
            unit, text = DROP[key]
            what = "median over the drops" if kind == "median" else "half the 16th to 84th percentile range"
            what += " within the depth of field" if key.startswith("highlight") and kind == "median" else ""
            entries[f.name] = ("hours" if unit == "clock" and kind == "spread" else unit, f"{text}: {what}")
    return entries


FRAME |= _over_drops()
# What a frame's row has beside its measures.
BESIDE: dict[str, tuple[str, str]] = {
    "room_light_stops_below_flash": (
        "stops",
        "room light below flash: the petal's level by the flashes to that by all other light",
    ),
}
MEASURES: dict[str, tuple[str, str]] = {**FRAME, **DROP, **BESIDE}


def frame_row(measures: FrameMeasures, **context: Any) -> dict[str, Any]:
    """One photograph as a flat row: schema version, context (the varied setting), every measure, reasons.

    Empty numbers are None; `missing` says why in one text, "" when nothing is.
    """
    numbers = {key: getattr(measures, key) for key in FRAME}
    return {"schema_version": SCHEMA_VERSION, **context, **numbers, "missing": reasons_text(measures.missing)}


def drop_rows(measures: FrameMeasures, **context: Any) -> list[dict[str, Any]]:
    """Every drop of a photograph as a flat row, in the order of the set."""
    return [{"schema_version": SCHEMA_VERSION, **context, **_drop_numbers(drop)} for drop in measures.drops]


def _drop_numbers(drop: DropMeasures) -> dict[str, Any]:
    placed = {"drop": drop.drop, "centre_x_px": drop.centre_px[0], "centre_y_px": drop.centre_px[1]}
    numbers = {key: getattr(drop, key) for key in DROP if key not in placed}
    reasons = reasons_text(drop.missing) if drop.measurable else next(iter(drop.missing.values()))
    return {**placed, **numbers, "missing": reasons}


def reasons_text(missing: Any) -> str:
    """Reasons as one text, each followed by the numbers that it empties: "no petal: a, b | dark: c"."""
    by_reason: dict[str, list[str]] = {}
    for key, reason in missing.items():
        by_reason.setdefault(reason, []).append(key)
    return " | ".join(f"{reason}: {', '.join(keys)}" for reason, keys in by_reason.items())


IN_STOPS = ("ratio", "mm")
COUNTED = ("count", "index")


def compare_measures(first: FrameMeasures, second: FrameMeasures) -> dict[str, tuple[float, str]]:
    """What changed from the first to the second: measure -> (difference, unit), for numbers that both have.

    Ratios, lengths, the petal's level and its texture change by a factor, given in stops (+1: twice as much);
    stops and shares by a plain difference; clock positions by hours the shorter way round, + clockwise. No
    spreads.
    """
    changed = {}
    for key, (unit, _) in FRAME.items():
        a, b = getattr(first, key), getattr(second, key)
        if a is None or b is None or unit in COUNTED or key.endswith("_spread"):
            continue
        difference = _difference(float(a), float(b), unit, key)
        if difference is not None:
            changed[key] = difference
    return changed


def _difference(a: float, b: float, unit: str, key: str) -> tuple[float, str] | None:
    if unit == "clock":
        return hours_between(a, b), "hours"
    if unit in IN_STOPS or key == "petal_linear" or key.endswith("_rms"):
        return (log2(b / a), "stops") if a > 0.0 and b > 0.0 else None
    return b - a, unit

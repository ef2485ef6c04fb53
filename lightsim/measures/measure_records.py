"""What is measured in a photograph. Every number carries its unit in its name; a number that cannot be had
is empty, with the reason beside it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import cos, radians, sin


@dataclass(frozen=True)
class LightPlace:
    """Where a light stands: degrees off the lens axis, clock position seen from the camera, mm from the point
    of sharp focus."""

    angle_deg: float
    clock: float
    distance_mm: float

    @property
    def place_mm(self) -> tuple[float, float, float]:
        """Right, up and toward the lens."""
        off, turn = radians(self.angle_deg), radians(30.0 * self.clock)
        across = self.distance_mm * sin(off)
        return across * sin(turn), across * cos(turn), self.distance_mm * cos(off)


@dataclass(frozen=True)
class DropMeasures:
    """One drop's highlight (the key's mirror image in it), its caustic and its shadow.

    Lengths in mm are at the plane of sharp focus. Clock positions as seen in the picture, 0 < clock <= 12.
    `measurable`: wholly in the frame, in focus, large enough, not hidden; nothing is measured of other drops.
    `missing` maps the name of each empty number to the reason why it cannot be had.
    """

    drop: int
    centre_px: tuple[float, float]
    radius_px: float
    measurable: bool = True
    in_depth_of_field: bool = True  # its front; only then its highlight counts in the medians
    highlight_disc_share: float | None = None  # highlight area / area of the drop's disc
    highlight_area_mm2: float | None = None
    highlight_area_px: float | None = None
    highlight_long_mm: float | None = None  # full widths of the bright area
    highlight_short_mm: float | None = None
    highlight_aspect: float | None = None  # long / short
    highlight_orientation_deg: float | None = None  # long axis, counter-clockwise from +x, 0 <= o < 180
    highlight_place_share: float | None = None  # distance from the drop's centre / radius
    highlight_clock: float | None = None
    highlight_stops_above_petal: float | None = None
    highlight_stops_at_least: bool = False  # the highlight is clipped: the stops above are a lower limit
    highlight_clipped_share: float | None = None
    highlight_edge_width_mm: float | None = None  # 10 % to 90 % rise
    caustic_stops_above_petal: float | None = None  # the caustic, beside the drop or inside it
    caustic_place_share: float | None = None  # distance from the drop's centre / radius
    caustic_clock: float | None = None
    shadow_clock: float | None = None
    shadow_length_mm: float | None = None
    missing: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class FrameMeasures:
    """One photograph's measures.

    The medians and spreads (half the distance between the 16th and 84th percentile) run over the drops that
    could be measured. `missing` as in DropMeasures.
    """

    petal_contrast_ratio: float | None = None  # 95th : 5th percentile of luminance of the bare petal
    petal_contrast_stops: float | None = None
    shadow_depth_ratio: float | None = None  # bare petal in the key's light : in its cast shadow
    shadow_depth_stops: float | None = None
    cast_shadow_share: float | None = None  # of the bare petal
    facing_away_share: float | None = None  # of the bare petal, from the key
    texture_fine_rms: float | None = None  # Peli 1990, of the bare petal; see `petal_measures.BANDS_MM`
    texture_fine_stops: float | None = None
    texture_coarse_rms: float | None = None
    texture_coarse_stops: float | None = None
    lighting_ratio: float | None = None  # (key + fill) : fill, of the light that comes to the petal
    lighting_stops: float | None = None
    petal_linear: float | None = (
        None  # mean luminance of bare petal, linear and not clipped; 0.18 is mid-tone
    )
    petal_stops_from_mid_tone: float | None = None
    petal_clipped_share: float | None = None  # of the bare petal, pixels with a clipped channel
    clipped_share: float | None = None  # share of pixels with a clipped channel
    drops_measured: int = 0
    highlights_out_of_focus: int = 0  # of these, left out of the highlights' medians
    reference_drop: int | None = None  # the drop to show enlarged: large, sharp, near the middle
    highlight_disc_share_median: float | None = None
    highlight_disc_share_spread: float | None = None
    highlight_long_mm_median: float | None = None
    highlight_long_mm_spread: float | None = None
    highlight_short_mm_median: float | None = None
    highlight_short_mm_spread: float | None = None
    highlight_aspect_median: float | None = None
    highlight_aspect_spread: float | None = None
    highlight_place_share_median: float | None = None
    highlight_place_share_spread: float | None = None
    highlight_clock_median: float | None = None
    highlight_clock_spread: float | None = None
    highlight_stops_above_petal_median: float | None = None
    highlight_stops_above_petal_spread: float | None = None
    highlight_clipped_share_median: float | None = None
    highlight_edge_width_mm_median: float | None = None
    caustic_stops_above_petal_median: float | None = None
    caustic_place_share_median: float | None = None
    shadow_clock_median: float | None = None
    shadow_length_mm_median: float | None = None
    drops: tuple[DropMeasures, ...] = ()
    missing: Mapping[str, str] = field(default_factory=dict)


KEY = "the key"


def name_light(text: str, light: str) -> str:
    """The text with the key called by another light's name.

    >>> name_light("no image of the key in this drop", "fill")
    'no image of “fill” in this drop'
    """
    return text.replace(KEY, f"“{light}”")


def with_light_named(measures: FrameMeasures, light: str) -> FrameMeasures:
    """The measures with every reason naming that light instead of the key."""
    drops = tuple(replace(drop, missing=_named(drop.missing, light)) for drop in measures.drops)
    return replace(measures, drops=drops, missing=_named(measures.missing, light))


def _named(missing: Mapping[str, str], light: str) -> dict[str, str]:
    return {key: name_light(reason, light) for key, reason in missing.items()}

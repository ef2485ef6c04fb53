"""How far a lens train's figures can be trusted: the chain run over all that the marked figures leave open.

What is known is taken as exact. What is not is let vary over the span in which lenses of the trade lie
(`OPEN`), all of it together; the figures' least and most are the range.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from typing import NamedTuple

from lightsim.optics.lens_chain import (
    NOMINAL,
    Supposed,
    chain_of,
    closest_is_open,
    free_mm,
    planes_of,
    supposed_track_mm,
    teleconverter_length_mm,
    track_mm,
)
from lightsim.optics.lens_train import LensTrain
from lightsim.optics.ray_matrices import Chain

# Span of each figure that is not known. Common practice, no source: lenses that focus inside have lost up to
# a third of their focal length at life size, and from subject to sensor there are 2.5 to 4 focal lengths;
# cameras with a mirror have 42 to 47 mm from mount to sensor, those without 16 to 20.
OPEN = {
    "close_focal_share": (0.7, 1.0),
    "planes_apart_share": (-0.2, 0.2),
    "closest_share": (2.5, 4.0),
    "front_share": (0.3, 0.9),
    "thread_mm": (30.0, 60.0),
    "flange_mm": (18.0, 46.0),
}


class Span(NamedTuple):
    """Least and most of a figure."""

    low: float
    high: float

    @property
    def share(self) -> float:
        """Half the span over its middle."""
        return (self.high - self.low) / (self.high + self.low) if self.high + self.low > 0 else 0.0


@dataclass(frozen=True)
class Ranges:
    """Least and most over what is left open. open : names of `OPEN` that matter here."""

    magnification: Span
    working_distance_mm: Span
    effective_f_number: Span
    sensor_distance_mm: Span
    open: tuple[str, ...]


def ranges(train: LensTrain) -> Ranges:
    """Run the chain over the ends of all that is left open, and over what is supposed."""
    names = tuple(open_figures(train))
    ends = product(*(OPEN[name] for name in names))
    kept = [NOMINAL, *(NOMINAL._replace(**dict(zip(names, each, strict=True))) for each in ends)]
    chains = [chain for chain in _chains(train, kept) if chain.draws_image]
    return Ranges(
        _span(chain.magnification for chain in chains),
        _span(max(chain.working_distance_mm, 0.0) for chain in chains),
        _span(chain.effective_f_number for chain in chains),
        _span(chain.working_distance_mm + chain.sensor_mm for chain in chains),
        names,
    )


def _chains(train: LensTrain, kept: list[Supposed]) -> Iterator[Chain]:
    for supposed in kept:
        if planes_of(train, supposed).focal_length_mm > 0:
            yield chain_of(train, supposed)


def _span(values: Iterator[float]) -> Span:
    found = list(values)
    return Span(min(found), max(found))


def open_figures(train: LensTrain) -> Iterator[str]:
    """Names of `OPEN` that bear on this train and are not known."""
    if train.focal_length_close_mm is None and train.native_magnification > 0:
        yield "close_focal_share" if track_mm(train) is None else "planes_apart_share"
    if closest_is_open(train) and train.barrel_length_mm is None:
        yield "closest_share"
    if _front_is_open(train):
        yield "thread_mm" if train.reversed else "front_share"
    stacked = train.stacked
    if stacked is not None and stacked.thread_mm is None and not train.reversed:
        yield "thread_mm"
    if train.flange_distance_mm is None and _rests_on_flange(train):
        yield "flange_mm"


def _front_is_open(train: LensTrain) -> bool:
    by_barrel = train.native_magnification == 0 and train.barrel_length_mm is not None
    return free_mm(train) is None and not by_barrel


def _rests_on_flange(train: LensTrain) -> bool:
    """Whether the camera's depth bears on more than where the camera stands."""
    if train.reversed or (train.stacked is not None and train.stacked.flange_distance_mm is None):
        return True
    if train.barrel_length_mm is None or train.lens_flange_distance_mm is not None:
        return False
    known = (train.native_focus_distance_mm, train.native_working_distance_mm)
    return train.native_magnification == 0 or known.count(None) == 1


def suppositions(train: LensTrain) -> Iterator[str]:
    """What stands in for figures that are not known, a phrase each, with the key that would settle it."""
    names = tuple(open_figures(train))
    if "close_focal_share" in names:
        left = 1 - (1 - OPEN["close_focal_share"][0]) * min(train.native_magnification, 1.0)
        yield (
            f"the lens keeps its {train.focal_length_mm:g} mm close up, where one that focuses inside may be "
            f"down to {left * train.focal_length_mm:.0f} mm (lens.native_focus_distance_mm)"
        )
    if "closest_share" in names:
        low, high = (
            supposed_track_mm(train, NOMINAL._replace(closest_share=end)) for end in OPEN["closest_share"]
        )
        yield (
            f"from subject to sensor the bare lens takes {supposed_track_mm(train):.0f} mm at "
            f"{train.native_magnification:g} : 1, {low:.0f} to {high:.0f} (lens.native_focus_distance_mm)"
        )
    if "planes_apart_share" in names:
        yield (
            f"the lens's principal planes coincide, so that it has {planes_of(train).focal_length_mm:.1f} mm "
            "close up (lens.focal_length_close_mm)"
        )
    if "front_share" in names:
        yield _front_words(train)
    if "thread_mm" in names:
        low, high = OPEN["thread_mm"]
        key = "barrel_length_mm" if train.reversed else "stacked.thread_mm"
        yield (
            f"the filter thread of the reversed lens stands {NOMINAL.thread_mm:g} mm ahead of its principal "
            f"plane, {low:g} to {high:g} (lens.{key})"
        )
    if "flange_mm" in names:
        low, high = OPEN["flange_mm"]
        yield (
            f"the camera has {NOMINAL.flange_mm:g} mm from mount to sensor, {low:g} to {high:g} "
            "(lens.flange_distance_mm)"
        )
    if train.teleconverter > 1 and train.teleconverter_length_mm is None:
        length = teleconverter_length_mm(train)
        yield f"the teleconverter is {length:.0f} mm long (lens.teleconverter_length_mm)"


def _front_words(train: LensTrain) -> str:
    low, high = (round(share * train.focal_length_mm) for share in OPEN["front_share"])
    ahead = NOMINAL.front_share * train.focal_length_mm
    if train.native_magnification == 0:
        return (
            f"the lens's front stands {ahead:.0f} mm ahead of its principal plane, {low} to {high} "
            "(lens.barrel_length_mm)"
        )
    bare = train.focal_length_mm * (1 + 1 / train.native_magnification) - ahead
    return (
        f"{bare:.0f} mm are free before the bare lens at {train.native_magnification:g} : 1, its front "
        f"{ahead:.0f} mm ahead of its principal plane, {low} to {high} (lens.native_working_distance_mm)"
    )

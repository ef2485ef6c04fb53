"""Photographs, maps and layers drawn with plain arrays, for sheets, charts and files to be made of."""

from __future__ import annotations

from math import cos, log2, radians, sin

import numpy as np
from numpy.typing import NDArray

from lightsim.measures.measure_records import FrameMeasures
from lightsim.picture import DropsSeen, Layer, Layers, Maps
from lightsim.report.frames import ReferenceDrop, SheetFrame, Varied

DROP = ReferenceDrop((60.0, 44.0), 16.0)


def petal_picture(angle_deg: float = 75.0, width: int = 120, height: int = 80) -> NDArray[np.uint8]:
    """A reddish gradient with one dark drop and its highlight, which moves with the light."""
    row, column = np.mgrid[:height, :width] + 0.5
    ramp = 90.0 + 90.0 * column / width
    image = np.stack([ramp, 0.6 * ramp, 0.8 * ramp], axis=-1)
    x, y = (column - DROP.centre_px[0]) / DROP.radius_px, (row - DROP.centre_px[1]) / DROP.radius_px
    image[x**2 + y**2 < 1.0] *= 0.5
    place = sin(radians(angle_deg) / 2)
    image[(x + 0.87 * place) ** 2 + (y + 0.5 * place) ** 2 < 0.02] = 255.0
    return image.astype(np.uint8)


def measured(angle_deg: float, clock: float = 10.0) -> FrameMeasures:
    """Measures that follow the closed forms of a small distant light."""
    half = radians(angle_deg) / 2
    ratio = 2.0 + 4.0 * sin(2 * half)
    return FrameMeasures(
        petal_contrast_ratio=ratio,
        petal_contrast_stops=log2(ratio),
        shadow_depth_ratio=8.0,
        shadow_depth_stops=3.0,
        petal_linear=0.09,
        clipped_share=0.004,
        drops_measured=12,
        highlight_long_mm_median=0.08 / cos(half),
        highlight_long_mm_spread=0.01,
        highlight_short_mm_median=0.08 * cos(half),
        highlight_short_mm_spread=0.01,
        highlight_disc_share_median=0.0064,
        highlight_place_share_median=sin(half),
        highlight_clock_median=clock,
        highlight_stops_above_petal_median=4.2,
    )


def frame(at_deg: float = 75.0, **changes: object) -> SheetFrame:
    """One frame of a sweep over the light's angle; `changes` are fields of the frame."""
    fields: dict[str, object] = {
        "image": petal_picture(at_deg),
        "measures": measured(at_deg),
        "varied": (Varied("angle", at_deg, "deg"),),
        "angle_deg": at_deg,
        "clock": 10.0,
        "distance_mm": 250.0,
        "inset_drop": DROP,
        "mm_per_px": 0.04,
    }
    return SheetFrame(**{**fields, **changes})  # type: ignore[arg-type]


def sweep(count: int) -> list[SheetFrame]:
    """Frames with the light at evenly spaced angles, three figures long at the end."""
    return [frame(round(165.0 * index / max(count - 1, 1), 1)) for index in range(count)]


def clock_sweep(clocks: list[float]) -> list[SheetFrame]:
    """Frames with the light at several clock positions."""
    return [frame(varied=(Varied("clock", clock, "clock"),), clock=clock) for clock in clocks]


def drop_maps(
    centres: list[tuple[float, float]], radii: list[float], blurs: list[float] | None = None
) -> Maps:
    """Maps of 120 x 80 pixels with discs; later ones hide earlier ones."""
    height, width = 80, 120
    row, column = np.mgrid[:height, :width] + 0.5
    index = np.full((height, width), -1, dtype=np.int32)
    for number, ((x, y), radius) in enumerate(zip(centres, radii, strict=True)):
        index[(column - x) ** 2 + (row - y) ** 2 < radius**2] = number
    cover = (index >= 0).astype(np.float32)
    seen = DropsSeen(
        centre_px=np.array(centres, dtype=float).reshape(-1, 2),
        radius_px=np.array(radii, dtype=float),
        blur_px=np.array([0.0] * len(radii) if blurs is None else blurs),
        radius_mm=0.04 * np.array(radii, dtype=float),
    )
    return Maps(1.0 - cover, cover, np.zeros_like(cover), index, np.zeros_like(cover), seen)


def layers() -> Layers:
    """Random layers of a flash whose name has a dot and a space in it, and of the room's light."""
    rng = np.random.default_rng(5)
    maps = drop_maps([(60.0, 40.0), (20.0, 20.0)], [12.0, 8.0])
    maps.depth_mm[:5] = np.nan
    shape = maps.drop_index.shape

    def plane() -> NDArray[np.float32]:
        return rng.random(shape, dtype=np.float32)

    def colour() -> NDArray[np.float32]:
        return rng.random((*shape, 3), dtype=np.float32)

    lit = plane()
    lit[maps.drop_index >= 0] = np.nan
    key = Layer("key no.1", "cd s", plane(), colour(), colour(), colour(), lit)
    room = Layer("ambient", "lx", np.zeros(shape, np.float32), colour(), colour(), colour(), None)
    return Layers({"key no.1": key, "ambient": room}, maps, 0.04)

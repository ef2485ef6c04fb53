"""Pictures drawn in code, whose measures are known beforehand."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from lightsim.picture import DropsSeen, Maps, Photograph

GREY_PETAL = 0.2
MM_PER_PX = 0.025
INDEX = 1.333


def coverage(
    inside: Callable[[NDArray, NDArray], NDArray], shape: tuple[int, int], finer: int = 8, corner=(0, 0)
) -> NDArray:
    """Share of each pixel in which inside(x, y) is true, from finer x finer points a pixel; y runs down."""
    steps = (np.arange(finer) + 0.5) / finer
    x = corner[0] + (np.arange(shape[1])[:, None] + steps).ravel()
    y = corner[1] + (np.arange(shape[0])[:, None] + steps).ravel()
    hits = np.asarray(inside(x[None, :], y[:, None]), dtype=float)
    return hits.reshape(shape[0], finer, shape[1], finer).mean(axis=(1, 3))


def ellipse(centre: tuple[float, float], full_axes: tuple[float, float], turn_deg: float = 0.0):
    """Inside test of an ellipse; turn_deg counter-clockwise from the right, as seen."""

    def inside(x: NDArray, y: NDArray) -> NDArray:
        along, across = _turned(x - centre[0], y - centre[1], turn_deg)
        return (2 * along / full_axes[0]) ** 2 + (2 * across / full_axes[1]) ** 2 <= 1.0

    return inside


def rectangle(centre: tuple[float, float], sides: tuple[float, float], turn_deg: float = 0.0):
    """Inside test of a rectangle; turned as the ellipse."""

    def inside(x: NDArray, y: NDArray) -> NDArray:
        along, across = _turned(x - centre[0], y - centre[1], turn_deg)
        return (np.abs(along) <= sides[0] / 2) & (np.abs(across) <= sides[1] / 2)

    return inside


def _turned(x: NDArray, y: NDArray, turn_deg: float) -> tuple[NDArray, NDArray]:
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    return c * x - s * y, -s * x - c * y


def fresnel(cos_in: NDArray) -> NDArray:
    """Unpolarised reflectance of water. Hecht, Optics, ch. 4; written apart from the project's own."""
    cos_out = np.sqrt(1 - (1 - cos_in**2) / INDEX**2)
    across = (cos_in - INDEX * cos_out) / (cos_in + INDEX * cos_out)
    along = (INDEX * cos_in - cos_out) / (INDEX * cos_in + cos_out)
    return 0.5 * (across**2 + along**2)


def sphere_glint(
    shape: tuple[int, int],
    centre: tuple[float, float],
    radius: float,
    angle_deg: float,
    clock: float,
    diameter_deg: float | tuple[float, float],
    finer: int = 8,
) -> NDArray:
    """Mirror image of a distant light of unit luminance in a sphere of water, seen from afar.

    Each point of each pixel is reflected: the normal is that of the sphere, and the mirrored ray 2 n_z n - z
    hits the disc of the light (within half its angular diameter) or not. Two diameters are the sides of a
    rectangle, in the plane of the light and the lens axis and across it.
    """
    t, turn = np.radians(angle_deg), np.radians(30.0 * clock)
    light = np.array([np.sin(t) * np.sin(turn), np.sin(t) * np.cos(turn), np.cos(t)])
    along = np.array([np.cos(t) * np.sin(turn), np.cos(t) * np.cos(turn), -np.sin(t)])
    across = np.cross(light, along)

    def shining(x: NDArray, y: NDArray) -> NDArray:
        nx, ny = (x - centre[0]) / radius, -(y - centre[1]) / radius
        nz = np.sqrt(np.maximum(1 - nx**2 - ny**2, 0.0))

        def toward(way: NDArray) -> NDArray:
            return 2 * nz * (nx * way[0] + ny * way[1] + nz * way[2]) - way[2]

        ahead = toward(light)
        if isinstance(diameter_deg, tuple):
            half = np.radians(diameter_deg) / 2
            off = (np.abs(np.arctan2(toward(way), ahead)) for way in (along, across))
            hit = np.logical_and(*(each <= most for each, most in zip(off, half, strict=True)))
        else:
            hit = ahead >= np.cos(np.radians(diameter_deg / 2))
        return np.where(hit & (nz > 0), fresnel(nz), 0.0)

    return coverage(shining, shape, finer)


def disc_maps(shape: tuple[int, int], drops: list[tuple[float, float, float]], blur_px: float = 0.0) -> Maps:
    """Maps of round drops (column, row, radius) on a petal that fills the frame."""
    cover = np.zeros(shape)
    index = np.full(shape, -1, np.int32)
    for k, (x, y, r) in enumerate(drops):
        disc = coverage(ellipse((x, y), (2 * r, 2 * r)), shape, 4)
        cover = np.maximum(cover, disc)
        index[disc > 0.5] = k
    table = np.array(drops, dtype=float).reshape(-1, 3)
    seen = DropsSeen(table[:, :2], table[:, 2], np.full(len(drops), blur_px), table[:, 2] * MM_PER_PX)
    nothing = np.zeros(shape, np.float32)
    return Maps((1 - cover).astype(np.float32), cover.astype(np.float32), nothing, index, nothing, seen)


def wet_petal(
    shape: tuple[int, int],
    drops: list[tuple[float, float, float]],
    *,
    glint: NDArray | None = None,
    lit: NDArray | None = None,
    light: NDArray | None = None,
    blur_px: float = 0.0,
    saturation: float = 1.4,
) -> Photograph:
    """A grey petal with round drops; `light` is its luminance without the mirror image, even when None."""
    maps = disc_maps(shape, drops, blur_px)
    glint = np.zeros(shape) if glint is None else glint
    light = np.full(shape, GREY_PETAL) if light is None else light
    lit = np.ones(shape) if lit is None else lit
    linear = (light + glint)[..., None].repeat(3, axis=-1)
    return Photograph(
        linear.astype(np.float32),
        MM_PER_PX,
        saturation,
        glint.astype(np.float32),
        np.where(maps.drop_cover > 0.5, np.nan, lit).astype(np.float32),
        maps,
    )

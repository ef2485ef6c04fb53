"""Flat meshes with a smooth outline, which the forms of a petal are raised from."""

from __future__ import annotations

from math import ceil

import numpy as np
from numpy.typing import NDArray

# Half the width of the outline "petal" against the distance from the foot t = 0 to the tip t = 1 is
# 2 sqrt(t (1 - t)) (FOOT + (1 - FOOT) t) / WIDEST: an ellipse made narrow toward the foot.
FOOT = 0.42
WIDEST = 0.760592468  # the largest value of 2 sqrt(t (1 - t)) (FOOT + (1 - FOOT) t), at t = 0.661573


def narrowing(v: NDArray) -> NDArray:
    """Width of the petal's outline against an ellipse's at v (-1 foot, 1 tip)."""
    return (FOOT + (1.0 - FOOT) * 0.5 * (v + 1.0)) / WIDEST


def triangles_needed(outline: str, width_mm: float, length_mm: float, spacing_mm: float) -> int:
    """Number of triangles that `flat_mesh` makes."""
    if outline == "rectangle":
        return 2 * ceil(width_mm / spacing_mm) * ceil(length_mm / spacing_mm)
    return 6 * _rings(width_mm, length_mm, spacing_mm) ** 2


def flat_mesh(outline: str, width_mm: float, length_mm: float, spacing_mm: float) -> tuple[NDArray, NDArray]:
    """A flat mesh centred on the origin.

    Returns
    -------
    xy : (n, 2) float64, mm.  faces : (m, 3) int32, counter-clockwise.
    """
    if outline == "rectangle":
        return _rectangle(width_mm, length_mm, ceil(width_mm / spacing_mm), ceil(length_mm / spacing_mm))
    disc, faces = _disc(_rings(width_mm, length_mm, spacing_mm))
    half = 0.5 * np.array([width_mm, length_mm])
    disc[:, 0] *= narrowing(disc[:, 1])
    return disc * half, faces


def _rings(width_mm: float, length_mm: float, spacing_mm: float) -> int:
    # Around a ring the vertices stand pi / 3 of the ring spacing apart.
    return max(3, ceil(0.5 * max(width_mm, length_mm) * (np.pi / 3.0) / spacing_mm))


def _rectangle(width_mm: float, length_mm: float, columns: int, rows: int) -> tuple[NDArray, NDArray]:
    x, y = np.linspace(-0.5, 0.5, columns + 1) * width_mm, np.linspace(-0.5, 0.5, rows + 1) * length_mm
    xy = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    row, column = np.divmod(np.arange(columns * rows), columns)
    a = row * (columns + 1) + column
    b, c, d = a + 1, a + columns + 2, a + columns + 1
    odd = ((row + column) % 2 == 1)[:, None]
    first = np.where(odd, np.stack([a, b, d], 1), np.stack([a, b, c], 1))
    second = np.where(odd, np.stack([b, c, d], 1), np.stack([a, c, d], 1))
    return xy, np.concatenate([first, second]).astype(np.int32)


def _disc(rings: int) -> tuple[NDArray, NDArray]:
    """The unit disc in rings of 6, 12, 18 ... vertices, the foot of the later petal at (0, -1)."""
    points, faces = [np.zeros((1, 2))], []
    for k in range(1, rings + 1):
        angle = np.arange(6 * k) * (np.pi / (3 * k)) - 0.5 * np.pi
        points.append(np.stack([np.cos(angle), np.sin(angle)], axis=1) * (k / rings))
        faces.append(_ring_faces(k))
    return np.concatenate(points), np.concatenate(faces).astype(np.int32)


def _ring_faces(k: int) -> NDArray:
    """Triangles between ring k - 1 and ring k; each of six sectors has k outer and k - 1 inner edges."""
    outer, inner = 1 + 3 * k * (k - 1), 1 + 3 * (k - 1) * (k - 2) if k > 1 else 0
    sector, j = np.divmod(np.arange(6 * k), k)
    on_inner = inner + (sector * (k - 1) + j) % max(6 * (k - 1), 1)
    standing = np.stack([outer + sector * k + j, outer + (sector * k + j + 1) % (6 * k), on_inner], axis=1)
    keep = j < k - 1
    sector, j = sector[keep], j[keep]
    hanging = np.stack(
        [
            inner + sector * (k - 1) + j,
            outer + sector * k + j + 1,
            inner + (sector * (k - 1) + j + 1) % max(6 * (k - 1), 1),
        ],
        axis=1,
    )
    return np.concatenate([standing, hanging])

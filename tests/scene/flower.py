"""The flower of the scene that shows a mesh of one's own: five petals grown together, as a PLY file.

`python -m tests.scene.flower scenes/five-petals.ply` writes it anew.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

PETALS = 5
AROUND, OUT = 150, 38  # vertices round the flower, and from the throat to the rim
RADIUS_CM = 1.7
THROAT = np.array([222, 184, 64])
NOTCH = 0.34  # how deep the gaps between the petals are, as a share of the radius


def flower() -> Any:
    """The mesh, in centimetres, opening toward +y, with colours at its vertices."""
    import trimesh

    turn = np.linspace(0.0, 2.0 * np.pi, AROUND, endpoint=False)
    out = np.linspace(0.0, 1.0, OUT + 1)[1:]
    share, angle = (grid.ravel() for grid in np.meshgrid(out, turn))
    across = np.sin(0.5 * PETALS * angle) ** 2  # 0 in the gap between two petals, 1 along a petal's middle
    rim = RADIUS_CM * (1.0 - NOTCH * (1.0 - across**0.45) * share**2)
    radius = share * rim
    height = _height(share, across, angle)
    vertices = np.column_stack([radius * np.sin(angle), height, radius * np.cos(angle)])
    vertices = np.vstack([vertices, [[0.0, 0.0, 0.0]]])
    colours = np.vstack([_colours(share, across, angle), THROAT.astype(np.uint8)])
    colours = np.column_stack([colours, np.full(len(colours), 255, np.uint8)])
    return trimesh.Trimesh(vertices, _faces(), vertex_colors=colours, process=False)


def _height(share: NDArray, across: NDArray, angle: NDArray) -> NDArray:
    bowl = 0.62 * share**1.5 - 0.26 * share**4  # a throat that opens and turns outward at the rim
    cupped = 0.16 * (1.0 - across) * np.sin(np.pi * np.minimum(share * 1.1, 1.0))
    waves = 0.035 * share**4 * np.sin(25.0 * angle + 1.0)
    veins = 0.006 * share * np.cos(45.0 * angle)
    return bowl + cupped + waves + veins


def _colours(share: NDArray, across: NDArray, angle: NDArray) -> NDArray:
    """sRGB codes (n, 3): a yellow throat, a pale ring, blue-violet petals with darker veins."""
    stops = np.array([0.0, 0.18, 0.30, 0.55, 1.0])
    ramp = np.array([THROAT, [232, 206, 116], [228, 224, 226], [170, 162, 212], [126, 114, 192]])
    rgb = np.stack([np.interp(share, stops, ramp[:, k]) for k in range(3)], axis=1)
    vein = np.clip(np.cos(45.0 * angle), 0.0, 1.0) ** 6 * np.clip(4.0 * (share - 0.15), 0.0, 1.0)
    middle = np.exp(-(((1.0 - across) / 0.02) ** 2)) * np.clip(4.0 * (share - 0.2), 0.0, 1.0)
    return (rgb * (1.0 - 0.16 * vein - 0.14 * middle)[:, None]).round().astype(np.uint8)


def _faces() -> NDArray:
    column, row = (grid.ravel() for grid in np.meshgrid(np.arange(AROUND), np.arange(OUT - 1), indexing="ij"))
    here, there = column * OUT + row, (column + 1) % AROUND * OUT + row
    first = np.arange(AROUND) * OUT
    throat = np.stack([np.full(AROUND, AROUND * OUT), first, np.roll(first, -1)], axis=1)
    return np.concatenate(
        [throat, np.stack([here, here + 1, there + 1], axis=1), np.stack([here, there + 1, there], axis=1)]
    )


if __name__ == "__main__":
    Path(sys.argv[1]).write_bytes(flower().export(file_type="ply"))

"""How large a petal is, and the scale that would help where a mesh's unit was taken for another."""

from __future__ import annotations

from math import log
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

# glTF 2.0 (Khronos Group, 2017), section 3.4: all linear distances are in metres.
IN_METRES = {".glb": 1000.0, ".gltf": 1000.0}
LEAST_MM, MOST_MM = 1.0, 1000.0
USUAL_MM = 40.0  # a petal's size
UNITS = {"metres": 1000.0, "centimetres": 10.0, "millimetres": 1.0, "micrometres": 0.001}


def unit_mm(file: Path) -> float:
    """Millimetres in one unit of a mesh file whose scene does not say."""
    return IN_METRES.get(file.suffix.lower(), 1.0)


def size_words(vertices: NDArray) -> str:
    """Width, height and depth of a mesh in words."""
    width, height, depth = np.ptp(vertices, axis=0)
    return f"{width:.4g} × {height:.4g} × {depth:.4g} mm"


def reach_words(vertices: NDArray) -> str:
    """From where to where a mesh reaches across and up, in words."""
    (left, below), (right, above) = vertices[:, :2].min(axis=0), vertices[:, :2].max(axis=0)
    return f"it reaches from x {left:.3g} to {right:.3g} mm and from y {below:.3g} to {above:.3g} mm"


def helpful_scale(largest_mm: float, scale: float) -> str:
    """The unit that would make a mesh as large as a petal, in words.

    largest_mm : its largest side at the scale that it has.

    >>> helpful_scale(0.04, 1.0)
    'scale = 1000, a file in metres, would make it 40 mm'
    """
    in_units = largest_mm / scale
    name, factor = min(UNITS.items(), key=lambda unit: abs(log(in_units * unit[1] / USUAL_MM)))
    if not LEAST_MM <= in_units * factor <= MOST_MM:
        factor = float(f"{USUAL_MM / in_units:.2g}")
        return f"scale = {factor:g} would make it {in_units * factor:.3g} mm"
    return f"scale = {factor:g}, a file in {name}, would make it {in_units * factor:.3g} mm"

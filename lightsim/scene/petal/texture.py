"""The colours of a mesh file, linear: from its vertices, its faces, its texture, or its material."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import ceil
from typing import Any

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Part:
    """One geometry of a mesh file.

    vertices : (n, 3).  faces : (m, 3).
    rgb : (n, 3) linear colours, or None.  uv : (n, 2) places in the image, its origin below left, or None.
    image : (h, w, 3) linear, its first row on top, or None.
    """

    vertices: NDArray
    faces: NDArray
    rgb: NDArray | None = None
    uv: NDArray | None = None
    image: NDArray | None = None

    def uv_or_zero(self) -> NDArray:
        """Places in the image, zeros without one."""
        return np.zeros((len(self.vertices), 2)) if self.uv is None else self.uv

    def rgb_or_nan(self) -> NDArray:
        """Colours, NaN without any."""
        return np.full((len(self.vertices), 3), np.nan) if self.rgb is None else self.rgb


MOST_PIXELS = 16_000_000  # of a texture that is kept; more could not be held by a mesh's vertices
SAMPLES_A_STEP = 2.0  # pixels that are kept of a texture for each edge of the finished mesh


def part_of(geometry: Any, transform: NDArray, spacing: float) -> Part:
    """A geometry that trimesh read, in its place; one without faces (points, lines) has none here either.

    spacing : between vertices of the finished mesh, in the file's units: what is finer in a texture is
    averaged.
    """
    vertices = np.asarray(geometry.vertices, dtype=float).reshape(-1, 3)
    faces = (
        np.asarray(getattr(geometry, "faces", np.zeros((0, 3)))).astype(np.int64, copy=False).reshape(-1, 3)
    )
    if len(faces) == 0:
        return Part(vertices, faces)
    with np.errstate(invalid="ignore"):  # what is not a number is reported later
        vertices = vertices @ transform[:3, :3].T + transform[:3, 3]
    if np.linalg.det(transform[:3, :3]) < 0.0:
        faces = faces[:, ::-1]
    visual = getattr(geometry, "visual", None)
    kind = getattr(visual, "kind", None)
    if kind in ("vertex", "face"):
        return Part(vertices, faces, rgb=_vertex_colours(visual, faces, len(vertices)))
    if kind == "texture":
        steps = float(np.ptp(vertices, axis=0).max()) / spacing
        return Part(vertices, faces, **_textured(visual, len(vertices), steps))
    return Part(vertices, faces)


def _vertex_colours(visual: Any, faces: NDArray, count: int) -> NDArray:
    if visual.kind == "vertex":
        return linear_from_bytes(np.asarray(visual.vertex_colors)[:, :3])
    rgb = linear_from_bytes(np.asarray(visual.face_colors)[:, :3])
    total, uses = np.zeros((count, 3)), np.zeros((count, 1))
    for k in range(3):
        np.add.at(total, faces[:, k], rgb)
        np.add.at(uses, faces[:, k], 1.0)
    return total / np.maximum(uses, 1.0)


def _textured(visual: Any, count: int, steps: float) -> dict[str, NDArray | None]:
    material, uv = visual.material, visual.uv
    picture = getattr(material, "baseColorTexture", None) or getattr(material, "image", None)
    factor = getattr(material, "baseColorFactor", None)
    tint = np.ones(3) if factor is None else _factor(factor)
    if picture is not None and uv is not None and len(uv) == count and not _stand_in(picture):
        uv = np.asarray(uv, dtype=float)
        image = averaged(picture, _pixels_averaged(picture.size, uv, steps)) * tint.astype(np.float32)
        return {"uv": uv, "image": image}
    return {"rgb": None if factor is None else np.tile(tint, (count, 1))}


def _pixels_averaged(size: tuple[int, int], uv: NDArray, steps: float) -> int:
    """Side of the squares of pixels that a texture is averaged over to be as fine as is needed."""
    with np.errstate(invalid="ignore"):
        shown = max(side * extent for side, extent in zip(size, np.ptp(uv, axis=0), strict=True))
    needed = shown / max(SAMPLES_A_STEP * steps, 1.0) if np.isfinite(shown) and np.isfinite(steps) else 1.0
    return max(1, int(needed), ceil((size[0] * size[1] / MOST_PIXELS) ** 0.5))


def averaged(picture: Any, side: int) -> NDArray[np.float32]:
    """A pillow picture as linear shares (h, w, 3), averaged over squares of pixels of that side, as light
    is; those at the edges may be a little smaller."""
    codes = np.asarray(picture.convert("RGB"))
    height, width = (ceil(length / side) for length in codes.shape[:2])
    rows = np.arange(height + 1) * codes.shape[0] // height
    columns = np.arange(width + 1) * codes.shape[1] // width
    image = np.empty((height, width, 3), np.float32)
    for row, (top, bottom) in enumerate(pairwise(rows)):
        across = linear_from_bytes(codes[top:bottom]).mean(axis=0)
        image[row] = np.add.reduceat(across, columns[:-1], axis=0) / np.diff(columns)[:, None]
    return image


def _stand_in(picture: Any) -> bool:
    """Whether a picture is what trimesh puts where a file has places in a texture but no texture."""
    from trimesh.visual.material import empty_material

    stand_in = empty_material().image
    return picture.size == stand_in.size and picture.tobytes() == stand_in.convert(picture.mode).tobytes()


def _factor(factor: Any) -> NDArray:
    """A material's linear factor on its colour (glTF 2.0, section 3.9.2), given as bytes or as shares."""
    factor = np.asarray(factor)
    return factor[:3].astype(float) / (255.0 if factor.dtype.kind in "ui" else 1.0)


def linear_from_bytes(values: NDArray) -> NDArray[np.float64]:
    """Linear shares from sRGB codes of 0 to 255, any shape. IEC 61966-2-1:1999."""
    codes = np.arange(256) / 255.0
    table = np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4)
    return table[np.asarray(values, dtype=np.uint8)]


def colours(uv: NDArray, rgb: NDArray, owner: NDArray, parts: list[Part], plain: NDArray) -> NDArray:
    """Reflectance (n, 3) of vertices from their part's texture, else their own colours, else plain ones.

    owner : (n,) the number of each vertex's part.
    """
    found = np.where(np.isnan(rgb), plain, rgb)
    for number, part in enumerate(parts):
        if part.image is not None:
            mine = owner == number
            found[mine] = sampled(part.image, uv[mine])
    return found


def sampled(image: NDArray, uv: NDArray) -> NDArray:
    """Colours (n, 3) of an image (h, w, 3) at places (n, 2), between the four nearest pixels; it repeats."""
    height, width = image.shape[:2]
    x, y = uv[:, 0] * width - 0.5, (1.0 - uv[:, 1]) * height - 0.5
    left, top = np.floor(x).astype(int), np.floor(y).astype(int)
    s, t = (x - left)[:, None], (y - top)[:, None]
    left, right = left % width, (left + 1) % width
    top, below = top % height, (top + 1) % height
    upper = (1.0 - s) * image[top, left] + s * image[top, right]
    lower = (1.0 - s) * image[below, left] + s * image[below, right]
    return (1.0 - t) * upper + t * lower

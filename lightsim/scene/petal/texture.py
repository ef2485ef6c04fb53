"""The colours of a mesh file, linear: from its vertices, its faces, its texture, or its material."""

from __future__ import annotations

from dataclasses import dataclass
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


def part_of(geometry: Any, transform: NDArray) -> Part:
    """A geometry that trimesh read, in its place; one without faces (points, lines) has none here either."""
    vertices = np.asarray(geometry.vertices, dtype=float).reshape(-1, 3)
    faces = np.asarray(getattr(geometry, "faces", np.zeros((0, 3)))).astype(np.int64).reshape(-1, 3)
    if len(faces) == 0:
        return Part(vertices, faces)
    with np.errstate(invalid="ignore"):  # what is not a number is told of later
        vertices = vertices @ transform[:3, :3].T + transform[:3, 3]
    if np.linalg.det(transform[:3, :3]) < 0.0:
        faces = faces[:, ::-1]
    visual = getattr(geometry, "visual", None)
    kind = getattr(visual, "kind", None)
    if kind in ("vertex", "face"):
        return Part(vertices, faces, rgb=_vertex_colours(visual, faces, len(vertices)))
    if kind == "texture":
        return Part(vertices, faces, **_textured(visual, len(vertices)))
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


def _textured(visual: Any, count: int) -> dict[str, NDArray | None]:
    material, uv = visual.material, visual.uv
    picture = getattr(material, "baseColorTexture", None) or getattr(material, "image", None)
    factor = getattr(material, "baseColorFactor", None)
    tint = np.ones(3) if factor is None else _factor(factor)
    if picture is not None and uv is not None and len(uv) == count and not _stand_in(picture):
        image = linear_from_bytes(np.asarray(picture.convert("RGB"))) * tint
        return {"uv": np.asarray(uv, dtype=float), "image": image}
    return {"rgb": None if factor is None else np.tile(tint, (count, 1))}


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

"""A part of the set as a mesh, and the few forms that parts are made of."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lightsim.report.theme import RGB8
from lightsim.scene.stage import Body, Face

if TYPE_CHECKING:
    from trimesh import Trimesh

ROUND_SIDES = 48
FEW = 200  # points


@dataclass(frozen=True)
class Part:
    """A convex piece of a thing, or the petal, the drops, a grid.

    thing : whose it is: "camera", "flower", "table", a light's or a card's name, "backdrop".
    what : what it is: "body", "lens", "tube", "close-up lens", "head", "face", "sheet", "stand" ...
    vertices : (n, 3) float64, mm, in the scene's frame.  faces : (m, 3) int.
    colour : sRGB.
    vertex_colours : (n, 3) uint8 sRGB, in the place of `colour`, or None.
    smooth : shaded as one curved surface.
    """

    thing: str
    what: str
    vertices: NDArray[np.float64]
    faces: NDArray[np.integer]
    colour: RGB8
    vertex_colours: NDArray[np.uint8] | None = None
    smooth: bool = False

    @property
    def bounds(self) -> NDArray[np.float64]:
        """Least and greatest corner, (2, 3) mm."""
        return np.array([self.vertices.min(axis=0), self.vertices.max(axis=0)])

    @cached_property
    def hull(self) -> NDArray[np.float64]:
        """The vertices (n, 3) on the part's convex outline; all where they are few."""
        from scipy.spatial import ConvexHull

        if len(self.vertices) <= FEW:
            return self.vertices
        return np.asarray(self.vertices[ConvexHull(self.vertices, qhull_options="QJ").vertices])


def _made(thing: str, what: str, mesh: Trimesh, colour: RGB8) -> Part:
    return Part(thing, what, np.asarray(mesh.vertices, float), np.asarray(mesh.faces), colour)


def box(thing: str, what: str, low: NDArray | tuple, high: NDArray | tuple, colour: RGB8) -> Part:
    """A box along the axes of the scene from corner to corner (3,)."""
    from trimesh.creation import box as made

    return _made(thing, what, made(bounds=np.array([low, high], dtype=float)), colour)


def box_at(thing: str, what: str, face: Face, low: tuple, high: tuple, colour: RGB8) -> Part:
    """A box in a face's own axes: right, up and out from its centre."""
    part = box(thing, what, low, high, colour)
    axes = np.array([face.right, face.up, face.out])
    return replace(part, vertices=face.centre + part.vertices @ axes)


def rod(thing: str, what: str, start: NDArray, end: NDArray, radius: float, colour: RGB8) -> Part:
    """A round rod between two points (3,)."""
    from trimesh.creation import cylinder

    sides = ROUND_SIDES if radius > 6.0 else 12
    mesh = cylinder(radius, segment=np.array([start, end], dtype=float), sections=sides)
    return _made(thing, what, mesh, colour)


def of_body(body: Body, colour: RGB8, thinner: float = 0.0) -> Part:
    """A solid thing of the set; thinner : by how much less its radius is drawn."""
    face = Face(body.centre, body.right, body.up, body.out, body.half_width_mm, body.half_height_mm)
    half = np.array([body.half_width_mm, body.half_height_mm, body.half_depth_mm])
    if body.round:
        deep = body.half_depth_mm
        return disc_at(body.thing, body.what, face, body.half_width_mm - thinner, -deep, deep, colour)
    return box_at(body.thing, body.what, face, tuple(-half), tuple(half), colour)


def disc_at(
    thing: str, what: str, face: Face, radius: float, back: float, front: float, colour: RGB8
) -> Part:
    """A round plate or drum about a face's axis, from `back` to `front` along the face's normal."""
    return rod(thing, what, face.centre + back * face.out, face.centre + front * face.out, radius, colour)


def spheres(thing: str, what: str, centres: NDArray, radii: NDArray, colour: RGB8, finer: int) -> Part:
    """Many spheres as one part. finer : 0, 1, 2 or 3 for 20, 80, 320 or 1280 triangles each."""
    from trimesh.creation import icosphere

    one = icosphere(subdivisions=finer)
    corners = len(one.vertices)
    vertices = centres[:, None, :] + radii[:, None, None] * np.asarray(one.vertices)[None]
    faces = np.asarray(one.faces)[None] + corners * np.arange(len(centres))[:, None, None]
    return Part(thing, what, vertices.reshape(-1, 3), faces.reshape(-1, 3), colour, smooth=True)

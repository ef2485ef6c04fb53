"""Outlines of the solids in a view, and which parts of them are hidden."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lightsim.report.setup.projection import SUPPORTS, Scale, View
from lightsim.report.setup.solid import Part, Solids
from lightsim.report.setup.solid.whole import FLOWER, TABLE

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

CREASE_DEG = 25.0  # edges between faces that meet at a smaller angle are not drawn
_CELL_MM = 0.1  # of the petal's silhouette, on the page
_TOUCHING_MM = 0.03  # outlines so near to another's are not hidden by it
_NOT_HIDDEN = ("screen", "finder", "grip", "release", "ring", "glass", "strut", "frame")


@dataclass(frozen=True)
class Outline:
    """A part in a view, on the page in mm.

    thing, what : as of a part.  area : what it covers.  edges : its lines.  depth : toward the viewer, mm.
    """

    thing: str
    what: str
    area: BaseGeometry
    edges: BaseGeometry
    depth: float


def outlines(solids: Solids, view: View, scale: Scale) -> list[Outline]:
    """The parts that are drawn in a view: all solids but table, drops, stands and what is too far away."""
    left_out = (*SUPPORTS, "drops", "grid", "top")
    shown = [
        part for part in solids.parts if part.what not in left_out and part.thing not in (*solids.far, TABLE)
    ]
    return [_outline(part, view, scale) for part in shown]


def _outline(part: Part, view: View, scale: Scale) -> Outline:
    from shapely.geometry import MultiLineString, MultiPoint

    flat = scale.page(view.flat(part.vertices))
    depth = float((part.vertices @ view.toward_viewer).mean())
    if part.thing == FLOWER and part.what == "petal":
        area = silhouette(flat, part.faces)
        return Outline(part.thing, part.what, area, area.boundary, depth)
    return Outline(
        part.thing,
        part.what,
        MultiPoint(flat).convex_hull,
        MultiLineString([flat[list(edge)] for edge in edges_of(part, view)]),
        depth,
    )


def edges_of(part: Part, view: View) -> NDArray[np.integer]:
    """Edges (n, 2) of a closed convex part, by its vertices: its outline and its sharp edges on the near
    side."""
    from trimesh import Trimesh

    mesh = Trimesh(part.vertices, part.faces, process=False)
    near = mesh.face_normals @ view.toward_viewer > 1e-9
    one, other = mesh.face_adjacency.T
    sharp = np.degrees(mesh.face_adjacency_angles) > CREASE_DEG
    drawn = (near[one] != near[other]) | (sharp & (near[one] | near[other]))
    return np.asarray(mesh.face_adjacency_edges[drawn])


def silhouette(flat: NDArray, faces: NDArray) -> BaseGeometry:
    """What a thin surface of any form covers, from its vertices (n, 2) on the page, mm."""
    from PIL import Image, ImageDraw
    from scipy.ndimage import binary_closing
    from shapely.geometry import Polygon
    from shapely.ops import unary_union
    from skimage.measure import find_contours

    low = flat.min(axis=0) - 4 * _CELL_MM
    shape = np.ceil((flat.max(axis=0) + 4 * _CELL_MM - low) / _CELL_MM).astype(int)
    cells = (flat - low) / _CELL_MM
    image = Image.new("1", (int(shape[0]), int(shape[1])))
    draw = ImageDraw.Draw(image)
    if len(faces) <= 20_000:
        for triangle in cells[faces]:
            draw.polygon([tuple(corner) for corner in triangle.tolist()], fill=1, outline=1)
    mask = np.array(image)
    columns, rows = cells.astype(int).T
    mask[rows, columns] = True
    mask = np.pad(binary_closing(mask, iterations=2), 1)
    rings = [Polygon(ring[:, ::-1]) for ring in find_contours(mask, 0.5) if len(ring) > 3]
    whole = unary_union([ring.buffer(0) for ring in rings])
    from shapely.affinity import affine_transform

    moved = [_CELL_MM, 0.0, 0.0, _CELL_MM, low[0] - _CELL_MM, low[1] - _CELL_MM]
    return affine_transform(whole, moved).simplify(0.05)


def shown_and_hidden(outline: Outline, others: Sequence[Outline]) -> tuple[BaseGeometry, BaseGeometry]:
    """The lines of a part that are seen, and those that another thing hides."""
    from shapely.geometry import LineString
    from shapely.ops import unary_union

    nearer = [each for each in others if each is not outline and each.depth > outline.depth]
    own = unary_union([each.area for each in nearer if each.thing == outline.thing])
    foreign = unary_union([each.area for each in nearer if each.thing != outline.thing])
    own, foreign = own.buffer(-_TOUCHING_MM), foreign.buffer(-_TOUCHING_MM)
    seen = outline.edges.difference(unary_union([own, foreign]))
    if outline.what in _NOT_HIDDEN:
        return seen, LineString()
    return seen, outline.edges.intersection(foreign).difference(own)


def line_strings(geometry: BaseGeometry) -> list[NDArray[np.float64]]:
    """The lines of a geometry as points (n, 2), those that meet joined."""
    from shapely.ops import linemerge

    if geometry.is_empty:
        return []
    parts = [each for each in getattr(geometry, "geoms", [geometry]) if each.geom_type.startswith("Line")]
    if not parts:
        return []
    merged = linemerge(parts) if len(parts) > 1 else parts[0]
    return [np.asarray(each.coords) for each in getattr(merged, "geoms", [merged]) if each.length > 0.05]

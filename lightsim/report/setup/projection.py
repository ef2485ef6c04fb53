"""How the set falls on the plan's views: directions and scale, outlines of the solids, what hides them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lightsim.report.drawing.sheet_of_paper import XY
from lightsim.report.setup.plan_records import room_axes
from lightsim.report.setup.solid.part import Part
from lightsim.report.setup.solid.whole import FLOWER, TABLE, Solids

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

# Of what is drawn to what is there, so that a ruler laid on the printed page can be read.
RATIOS = (1, 1.5, 2, 2.5, 3, 4, 5, 6, 7.5, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 75, 80, 100, 150, 200, 250,
          300, 400, 500, 1000, 2000, 5000, 10000)  # fmt: skip
BACKDROP_MAY_ADD = 1.5  # times the width or height of all else
SUPPORTS = ("arm", "post", "foot", "seat", "holder", "stem")
FAINT = ("top", "grid")


@dataclass(frozen=True)
class View:
    """How the room falls on the drawing. name : its title.

    across, along : the directions (3,) that run right and up on the drawing, in the scene's frame.
    """

    name: str
    across: NDArray[np.float64]
    along: NDArray[np.float64]

    @property
    def toward_viewer(self) -> NDArray[np.float64]:
        """The direction (3,) toward the eye."""
        return np.cross(self.across, self.along)

    def flat(self, points: NDArray) -> NDArray[np.float64]:
        """Points (n, 3) on the drawing, mm of the set: right and up from the subject."""
        points = np.atleast_2d(points)
        return np.column_stack([points @ self.across, points @ self.along])


def view_from_above(up: NDArray) -> View:
    """Over the view from the side, place for place: the camera's side at the left, its right at the foot."""
    axes = room_axes(up)
    return View("from above", -axes[1], -axes[0])


def view_from_the_side(up: NDArray) -> View:
    """Seen from the camera's right: the camera's side is at the left of the drawing."""
    axes = room_axes(up)
    return View("from the side", -axes[1], axes[2])


@dataclass(frozen=True)
class Scale:
    """Where the subject's point is on the page, mm, and the mm of the set for one mm of the page."""

    origin: XY
    ratio: float

    def page(self, flat: NDArray) -> NDArray[np.float64]:
        """Places (n, 2) on the page of places on the drawing."""
        flat = np.atleast_2d(flat)
        return np.column_stack(
            [self.origin[0] + flat[:, 0] / self.ratio, self.origin[1] - flat[:, 1] / self.ratio]
        )


def extent(view: View, solids: Solids) -> NDArray[np.float64]:
    """Least and greatest corner (2, 2) mm of what has to be on the drawing."""
    return _near_extent(view, solids) if backdrop_is_off(view, solids) else _whole_extent(view, solids)


def backdrop_is_off(view: View, solids: Solids) -> bool:
    """Whether the backdrop's middle would make the drawing of all else too small, and is left off it."""
    near, whole = (np.ptp(each(view, solids), axis=0) for each in (_near_extent, _whole_extent))
    return bool((whole > BACKDROP_MAY_ADD * near).any())


def _near_extent(view: View, solids: Solids) -> NDArray[np.float64]:
    left_out = (*FAINT, *SUPPORTS, "board")
    shown = [part for part in solids.parts if part.thing not in solids.far and part.what not in left_out]
    ground = np.array([-solids.subject_above_table_mm * solids.up, np.zeros(3)])
    flat = np.vstack([view.flat(ground), *(view.flat(part.hull) for part in shown)])
    return np.array([flat.min(axis=0), flat.max(axis=0)])


def _whole_extent(view: View, solids: Solids) -> NDArray[np.float64]:
    flat = np.vstack([_near_extent(view, solids), view.flat(solids.backdrop_centre)])
    return np.array([flat.min(axis=0), flat.max(axis=0)])


def common_ratio(sizes: NDArray, width_mm: float, height_mm: float) -> float:
    """The largest scale on the list at which both views fit, one over the other.

    sizes : (2, 2) mm of the set, width and height of each.  width_mm, height_mm : room for what is drawn.
    """
    needed = max(float(sizes[:, 0].max()) / width_mm, float(sizes[:, 1].sum()) / height_mm)
    return next((float(ratio) for ratio in RATIOS if ratio >= needed), float(RATIOS[-1]))


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

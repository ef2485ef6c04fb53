"""A petal as something to put drops on: where a place lies, how far off its edge, how it faces."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.stage import PetalMesh

if TYPE_CHECKING:
    from scipy.spatial import cKDTree


@dataclass(frozen=True)
class Place:
    """A point of the mesh: the face, its barycentric weights (3,), the point (3,) mm."""

    face: int
    weights: NDArray
    point: NDArray


@dataclass(frozen=True, eq=False)
class Surface:
    """The front of a petal's mesh in the petal's own frame (front toward +z).

    seams : whether vertices may stand twice in one place, as at the seams of a mesh file's texture.
    """

    mesh: PetalMesh
    seams: bool = False

    @cached_property
    def corners(self) -> NDArray:
        """Corners of every face, (nf, 3, 3) mm."""
        return self.mesh.vertices[self.mesh.faces]

    @cached_property
    def crossed(self) -> NDArray:
        """Face normals whose length is twice the face's area, (nf, 3) mm2."""
        c = self.corners
        return np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])

    @cached_property
    def front(self) -> NDArray[np.bool_]:
        """Which faces look toward the petal's front, (nf,)."""
        return self.crossed[:, 2] > 0.0

    @cached_property
    def cumulative_area(self) -> NDArray:
        """Running total of the front faces' areas, (nf,) mm2; a back face adds nothing."""
        return np.cumsum(np.where(self.front, 0.5 * np.linalg.norm(self.crossed, axis=1), 0.0))

    @cached_property
    def vertex_area(self) -> NDArray:
        """A third of the area of the faces round each vertex, (nv,) mm2."""
        third = np.linalg.norm(self.crossed, axis=1) / 6.0
        return np.bincount(self.mesh.faces.ravel(), np.repeat(third, 3), minlength=len(self.mesh.vertices))

    @cached_property
    def tree(self) -> cKDTree:
        """The vertices, searchable."""
        from scipy.spatial import cKDTree

        return cKDTree(self.mesh.vertices)

    @cached_property
    def _strips(self) -> tuple[NDArray, NDArray, float]:
        """Front faces ordered by their least x, that x (mm), and the width of the widest face."""
        numbers = np.flatnonzero(self.front)
        x = self.corners[numbers, :, 0]
        order = np.argsort(x.min(axis=1), kind="stable")
        return numbers[order], x.min(axis=1)[order], float(np.ptp(x, axis=1).max(initial=0.0))

    @cached_property
    def edge_points(self) -> tuple[cKDTree | None, float]:
        """Points along the front's edge, searchable, and half their spacing, mm; None without an edge."""
        from scipy.spatial import cKDTree

        ends = self.mesh.vertices[edge_of_front(self.mesh, self.front, self.seams)]
        if len(ends) == 0:
            return None, 0.0
        length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
        step = max(0.02, float(np.median(length)) / 4.0)
        pieces = np.ceil(length / step).astype(int)
        which = np.repeat(np.arange(len(ends)), pieces)
        share = (np.arange(len(which)) - np.repeat(np.cumsum(pieces) - pieces, pieces)) / pieces[which]
        return cKDTree(ends[which, 0] + share[:, None] * (ends[which, 1] - ends[which, 0])), 0.5 * step

    def below(self, x_mm: float, y_mm: float) -> Place | None:
        """The foremost point at (x, y) seen along the petal's own normal direction z; None off the petal."""
        faces, least_x, widest = self._strips
        first, last = np.searchsorted(least_x, [x_mm - widest - 1e-9, x_mm + 1e-9])
        near = faces[first:last]
        if len(near) == 0:
            return None
        weights = _weights_in_plane(self.corners[near, :, :2], np.array([x_mm, y_mm]))
        inside = (weights >= -1e-9).all(axis=1)
        if not inside.any():
            return None
        near, weights = near[inside], weights[inside]
        heights = np.einsum("ij,ij->i", weights, self.corners[near, :, 2])
        best = int(np.argmax(heights))
        return Place(int(near[best]), weights[best], weights[best] @ self.corners[near[best]])

    def spread(self, random: NDArray) -> tuple[NDArray, NDArray, NDArray]:
        """Places spread evenly by area, from uniform random numbers (..., 3) in 0..1.

        Returns
        -------
        faces (...,), weights (..., 3), points (..., 3) mm.
        """
        total = self.cumulative_area[-1]
        faces = np.searchsorted(self.cumulative_area, random[..., 0] * total, side="right")
        faces = np.minimum(faces, len(self.cumulative_area) - 1)
        root = np.sqrt(random[..., 1])
        weights = np.stack([1.0 - root, root * (1.0 - random[..., 2]), root * random[..., 2]], axis=-1)
        return faces, weights, np.einsum("...i,...ij->...j", weights, self.corners[faces])

    def inside_by(self, points: NDArray, margin_mm: NDArray) -> NDArray[np.bool_]:
        """Whether points (n, 3) are margins (n,) mm or more inside the front's edge; surely so where true."""
        tree, half_step = self.edge_points
        if tree is None:
            return np.ones(len(points), dtype=bool)
        reach = float(margin_mm.max(initial=0.0)) + half_step
        return tree.query(points, distance_upper_bound=1.001 * reach)[0] >= margin_mm + half_step

    def facing(self, place: Place, radius_mm: float) -> NDArray:
        """Unit normal (3,) averaged by area over the mesh within radius_mm of a place."""
        here = place.weights @ self.mesh.normals[self.mesh.faces[place.face]]
        here = here / np.linalg.norm(here)
        near = self.tree.query_ball_point(place.point, radius_mm)
        normals = self.mesh.normals[near]
        weight = self.vertex_area[near] * (normals @ here > 0.2)
        if np.count_nonzero(weight) < 3:
            return here
        mean = weight @ normals
        return mean / np.linalg.norm(mean)


def _weights_in_plane(corners: NDArray, point: NDArray) -> NDArray:
    """Barycentric weights (n, 3) of a point in triangles (n, 3, 2); outside, one is negative."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    ab, ac, ap = b - a, c - a, point - a
    area = ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]
    v = (ap[:, 0] * ac[:, 1] - ap[:, 1] * ac[:, 0]) / area
    w = (ab[:, 0] * ap[:, 1] - ab[:, 1] * ap[:, 0]) / area
    return np.stack([1.0 - v - w, v, w], axis=1)


def edge_of_front(mesh: PetalMesh, front: NDArray[np.bool_], seams: bool) -> NDArray:
    """Edges that belong to one front face only, (n, 2) vertex numbers."""
    faces = mesh.faces[front].astype(np.int64)
    count = len(mesh.vertices)
    numbers = np.arange(count)
    if seams:
        numbers, same = same_place(mesh.vertices)
        faces = same[faces]
    edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    codes, uses = np.unique(edges[:, 0] * count + edges[:, 1], return_counts=True)
    return numbers[np.stack(np.divmod(codes[uses == 1], count), axis=1)]


def same_place(vertices: NDArray) -> tuple[NDArray, NDArray]:
    """Vertices in one place (to a nanometre) counted as one: the first of each, and which each one is."""
    places = vertices.round(6)
    order = np.lexsort(places.T[::-1])  # stable, so that the first of each comes first
    places = places[order]
    starts = np.ones(len(order), dtype=bool)
    starts[1:] = (places[1:] != places[:-1]).any(axis=1)
    same = np.empty(len(order), dtype=np.int32)
    same[order] = np.cumsum(starts, dtype=np.int32) - 1
    return order[starts], same

"""A petal as something to put drops on: where a place lies, how far off its edge, how it faces."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.petal.point_rows import PointRows, runs_of
from lightsim.scene.stage import PetalMesh

ROUNDING_MM = 1e-9


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
    both_sides : whether the back is looked at as the front is.
    """

    mesh: PetalMesh
    seams: bool = False
    both_sides: bool = False

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
    def _vertices(self) -> PointRows:
        return PointRows(self.mesh.vertices)

    @cached_property
    def _edge(self) -> tuple[PointRows, float]:
        """Points along the front's edge, and half their spacing, mm."""
        ends = self.mesh.vertices[edge_of_front(self.mesh, self.front, self.seams)]
        length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
        step = max(0.02, float(np.median(length)) / 4.0) if len(ends) else 0.02
        pieces = np.ceil(length / step).astype(int)
        which, piece = runs_of(np.zeros_like(pieces), pieces)
        share = (piece / pieces[which])[:, None]
        return PointRows(ends[which, 0] + share * (ends[which, 1] - ends[which, 0])), 0.5 * step

    def below(self, points: NDArray) -> list[Place | None]:
        """The foremost place at each of points (n, 2) mm, seen along the petal's own normal direction z; None
        off the petal."""
        order = np.argsort(points[:, 0])
        x, y = points[order].T
        faces, vertices = self.mesh.faces, self.mesh.vertices
        first = np.searchsorted(x, vertices[:, 0] - ROUNDING_MM)
        last = np.searchsorted(x, vertices[:, 0] + ROUNDING_MM, side="right")
        first, last = _of_corners(np.minimum, first, faces), _of_corners(np.maximum, last, faces)
        face = np.flatnonzero(first < last)
        which, number = runs_of(first[face], last[face])
        low = _of_corners(np.minimum, vertices[:, 1], faces[face]) - ROUNDING_MM
        high = _of_corners(np.maximum, vertices[:, 1], faces[face]) + ROUNDING_MM
        near = np.flatnonzero((low[which] <= y[number]) & (y[number] <= high[which]))
        face, number = face[which[near]], order[number[near]]
        corners = vertices[faces[face]]
        weights, area = _weights_in_plane(corners[..., :2], points[number])
        inside = (weights >= -1e-9).all(axis=1) & (self.both_sides | (area > 0.0))
        heights = np.einsum("ij,ij->i", weights, corners[..., 2])
        found: list[Place | None] = [None] * len(points)
        for k in np.argsort(heights, kind="stable"):  # the foremost comes last
            if inside[k]:
                found[number[k]] = Place(int(face[k]), weights[k], weights[k] @ corners[k])
        return found

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
        edge, half_step = self._edge
        inside = np.ones(len(points), dtype=bool)
        inside[edge.within(points, margin_mm + half_step)[0]] = False
        return inside

    def facing(self, place: Place, radius_mm: float) -> NDArray:
        """Unit normal (3,) averaged by area over the mesh within radius_mm of a place."""
        here = place.weights @ self.mesh.normals[self.mesh.faces[place.face]]
        here = here / np.linalg.norm(here)
        _, near = self._vertices.within(place.point[None], np.array([radius_mm]))
        normals = self.mesh.normals[near]
        weight = self.vertex_area[near] * (normals @ here > 0.2)
        if np.count_nonzero(weight) < 3:
            return here
        mean = weight @ normals
        return mean / np.linalg.norm(mean)


def _of_corners(choose: np.ufunc, values: NDArray, faces: NDArray) -> NDArray:
    """The least or the most (nf,) of the vertices' values (nv,) over each face's corners."""
    return np.asarray(choose(choose(values[faces[:, 0]], values[faces[:, 1]]), values[faces[:, 2]]))


def _weights_in_plane(corners: NDArray, points: NDArray) -> tuple[NDArray, NDArray]:
    """Barycentric weights (n, 3) of points (n, 2) in triangles (n, 3, 2), outside one is negative; and the
    triangles' doubled areas (n,), negative where they turn clockwise, all outside where they are 0."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    ab, ac, ap = b - a, c - a, points - a
    area = ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]
    v, w = ap[:, 0] * ac[:, 1] - ap[:, 1] * ac[:, 0], ab[:, 0] * ap[:, 1] - ab[:, 1] * ap[:, 0]
    parts = np.stack([area - v - w, v, w], axis=1)
    return np.divide(parts, area[:, None], out=np.full_like(parts, -1.0), where=area[:, None] != 0.0), area


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

"""The petal's vertices in groups, one for each occupied cell of a grid in space."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.stage import PetalMesh
from lightsim.tracer.kernels import mesh_layout

PARTS = 16  # that sums over the mesh are made in, whatever the threads, so that they come out the same


@dataclass(frozen=True)
class Groups:
    """of_vertex (nv,): each vertex' group. Of each group count (n,), its cell's centre (n, 3), and place,
    normal, reflectance, transmittance (n, 3): its vertices' means. nearest (n,): the vertex nearest to the
    mean place. spacing : the cells' side.
    """

    of_vertex: NDArray[np.int32]
    spacing: float
    centre: NDArray[np.float64]
    place: NDArray[np.float64]
    normal: NDArray[np.float64]
    reflectance: NDArray[np.float64]
    transmittance: NDArray[np.float64]
    nearest: NDArray[np.int64]


def group(mesh: PetalMesh, many: int) -> Groups:
    """Group the vertices in cells so large that a flat sheet of the mesh's area would fill so many."""
    vertices = mesh.vertices
    one = np.zeros(len(vertices), dtype=np.int32)
    spacing = float(np.sqrt(areas(mesh, one, 1)[0] / many))
    low, high = (np.array([end(one) for one in vertices.T]) for end in (np.min, np.max))
    size = np.floor((high - low) / spacing).astype(np.int64) + 1
    cell = np.zeros(len(vertices), dtype=np.int64)
    mesh_layout.find_cells(len(cell), vertices, low, spacing, size, cell)
    occupied = np.flatnonzero(np.bincount(cell)) if np.prod(size) < len(cell) else np.unique(cell)
    of_vertex = np.zeros(len(vertices), dtype=np.int32)
    mesh_layout.find_groups(len(cell), cell, occupied, of_vertex)
    at = np.stack([occupied // (size[1] * size[2]), occupied // size[2] % size[1], occupied % size[2]], -1)
    count = _summed(of_vertex, np.ones((len(vertices), 1), np.float32), len(occupied))

    def mean(values: NDArray) -> NDArray[np.float64]:
        return _summed(of_vertex, values, len(occupied)) / count

    place = mean(vertices)
    return Groups(
        of_vertex,
        spacing,
        low + (at + 0.5) * spacing,
        place,
        mean(mesh.normals),
        mean(mesh.reflectance),
        mean(mesh.transmittance),
        _nearest(vertices, of_vertex, place),
    )


def areas(mesh: PetalMesh, of_vertex: NDArray[np.int32], groups: int) -> NDArray[np.float64]:
    """The petal's area that falls to each group (n,): of each triangle a third for each corner."""
    area = np.zeros((PARTS, groups))
    mesh_layout.add_areas(PARTS, mesh.vertices, mesh.faces, of_vertex, area)
    return area.sum(axis=0)


def _summed(of_vertex: NDArray[np.int32], values: NDArray, groups: int) -> NDArray[np.float64]:
    total = np.zeros((PARTS, groups, values.shape[1]))
    mesh_layout.add_up(PARTS, of_vertex, values, total)
    return total.sum(axis=0)


def _nearest(vertices: NDArray, of_vertex: NDArray[np.int32], place: NDArray) -> NDArray[np.int64]:
    square = np.full((PARTS, len(place)), np.inf)
    nearest = np.zeros((PARTS, len(place)), dtype=np.int64)
    mesh_layout.find_nearest(PARTS, vertices, of_vertex, place, square, nearest)
    return nearest[square.argmin(axis=0), np.arange(len(place))]


def neighbours(
    vertices: NDArray, groups: Groups, points: NDArray, many: int, width: float
) -> tuple[NDArray[np.int32], NDArray[np.float32]]:
    """The `many` points (n, 3), one in each group's cell, nearest to each vertex, and their weights, both
    (nv, many); width: see `kernels.mesh_layout.find_neighbours`."""
    from scipy.spatial import cKDTree

    tree, many = cKDTree(points), min(many, len(points))
    # Vertices lie within half a diagonal of their cell's centre, those points within as much more of them.
    far = tree.query(groups.centre, k=[many])[0][:, 0] + 1.001 * np.sqrt(3.0) * groups.spacing
    near = tree.query_ball_point(groups.centre, far)
    number = np.array([len(one) for one in near])
    start = np.concatenate([[0], np.cumsum(number)])
    listed = np.concatenate([np.asarray(one, dtype=np.int32) for one in near])
    group = np.repeat(np.arange(len(near)), number)
    off = np.linalg.norm(points[listed] - groups.centre[group], axis=1)
    nearest_first = np.lexsort((off, group))
    listed, off = listed[nearest_first], off[nearest_first]
    neighbour = np.zeros((len(vertices), many), dtype=np.int32)
    weight = np.zeros((len(vertices), many), dtype=np.float32)
    among = mesh_layout.Candidates(groups.of_vertex, groups.centre, start, listed, off, points)
    mesh_layout.find_neighbours(len(vertices), vertices, among, width, neighbour, weight)
    return neighbour, weight


def evenness(
    normals: NDArray, run: NDArray, neighbour: NDArray[np.int32], weight: NDArray[np.float32]
) -> NDArray[np.float32]:
    """(nv,) cosines between the mesh's normals and the petal's run: the normals `run` (n, 3) of the points,
    blended between a vertex' neighbours."""
    even = np.ones(len(normals), dtype=np.float32)
    mesh_layout.find_evenness(len(normals), normals, run, neighbour, weight, even)
    return even

"""Cutting a mesh finer without cracks, carrying along whatever its vertices hold."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def split_long_edges(
    carried: NDArray, faces: NDArray, longest_mm: float, most_faces: int
) -> tuple[NDArray, NDArray] | None:
    """Halve every edge longer than a length, again and again, until none is left.

    An edge is halved for both of its faces at once, so the mesh stays whole.

    Parameters
    ----------
    carried : (n, 3 + k) float, the vertices' places in mm and what else they hold, averaged at new vertices.
    faces : (m, 3) int.
    most_faces : gives None when more faces than that would be made.
    """
    while True:
        ends, of_face = _edges(faces)
        length = np.linalg.norm(carried[ends[:, 0], :3] - carried[ends[:, 1], :3], axis=1)
        long = length > longest_mm
        if not long.any():
            return carried, faces.astype(np.int32)
        if len(faces) + int(np.count_nonzero(long[of_face])) > most_faces:
            return None
        middle = np.full(len(ends), -1)
        middle[long] = len(carried) + np.arange(np.count_nonzero(long))
        carried = np.concatenate([carried, 0.5 * (carried[ends[long, 0]] + carried[ends[long, 1]])])
        faces = _cut(faces, middle[of_face])


def _edges(faces: NDArray) -> tuple[NDArray, NDArray]:
    """Edges (e, 2), and which of them lie opposite no, one, two: of_face[:, k] joins corners k and k + 1."""
    pairs = np.sort(np.stack([faces, np.roll(faces, -1, axis=1)], axis=2).astype(np.int64), axis=2)
    count = int(faces.max()) + 1
    codes, of_face = np.unique(pairs[..., 0] * count + pairs[..., 1], return_inverse=True)
    return np.stack(np.divmod(codes, count), axis=1), of_face.reshape(faces.shape)


def _cut(faces: NDArray, middle: NDArray) -> NDArray:
    """Faces cut at the new vertices in the middle of their edges, (m, 3), -1 where an edge stays whole."""
    halved = middle >= 0
    number = halved.sum(axis=1)
    whole = faces[number == 0]
    return np.concatenate(
        [
            whole,
            _cut_once(*_turned(faces, middle, halved[:, 0] & (number == 1), 0)),
            _cut_once(*_turned(faces, middle, halved[:, 1] & (number == 1), 1)),
            _cut_once(*_turned(faces, middle, halved[:, 2] & (number == 1), 2)),
            _cut_twice(*_turned(faces, middle, ~halved[:, 2] & (number == 2), 0)),
            _cut_twice(*_turned(faces, middle, ~halved[:, 0] & (number == 2), 1)),
            _cut_twice(*_turned(faces, middle, ~halved[:, 1] & (number == 2), 2)),
            _cut_thrice(faces[number == 3], middle[number == 3]),
        ]
    )


def _turned(faces: NDArray, middle: NDArray, chosen: NDArray, by: int) -> tuple[NDArray, NDArray]:
    return np.roll(faces[chosen], -by, axis=1), np.roll(middle[chosen], -by, axis=1)


def _cut_once(faces: NDArray, middle: NDArray) -> NDArray:
    """Only the edge between corners 0 and 1 is halved."""
    (a, b, c), m = faces.T, middle[:, 0]
    return np.concatenate([np.stack([a, m, c], 1), np.stack([m, b, c], 1)])


def _cut_twice(faces: NDArray, middle: NDArray) -> NDArray:
    """The edges 0-1 and 1-2 are halved."""
    (a, b, c), m, n = faces.T, middle[:, 0], middle[:, 1]
    return np.concatenate([np.stack([m, b, n], 1), np.stack([a, m, n], 1), np.stack([a, n, c], 1)])


def _cut_thrice(faces: NDArray, middle: NDArray) -> NDArray:
    (a, b, c), (m, n, p) = faces.T, middle.T
    return np.concatenate(
        [np.stack([a, m, p], 1), np.stack([m, b, n], 1), np.stack([p, n, c], 1), np.stack([m, n, p], 1)]
    )

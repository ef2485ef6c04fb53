"""A tree of boxes over triangles or spheres, with eight children to a node for `simd.boxes_met`.

Items are parted into halves along the longest side of the box round their centres (a k-d tree: Bentley,
Communications of the ACM 18 (1975) 509), always at a power of two times LEAF items. So leaves and nodes are
full but for the last ones, and eight of one level in a row are the children of one node of the next.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels.jit import jit, threaded
from lightsim.tracer.kernels.simd import LANES, TRIANGLES

STACK = 192  # nodes that a walk through a tree keeps
LEAF = TRIANGLES  # items
NOWHERE = 1e18  # both ends of a box that no ray meets


class BoxTree(NamedTuple):
    """box (m, 6, LANES) float32 : low x y z and high x y z of each child, a little wider than what it holds.
    link (m, LANES, 2) int32 : (node, 0), (first item, how many, at most LEAF), (0, -1) for no child. Node 0
    is the root. order (n,) int32 : the items as the leaves hold them, one leaf after the other."""

    box: NDArray
    link: NDArray
    order: NDArray


def build_tree(items: NDArray[np.float32]) -> BoxTree:
    """Tree over boxes (n, 6), low x y z and high x y z; of none, a root without children."""
    many = len(items)
    order, centre = np.arange(many, dtype=np.int32), items[:, :3] + items[:, 3:]
    size = LEAF
    while size < many:
        size *= 2
    while size > LEAF:
        halve(-(-many // size), centre, order, size)
        size //= 2
    first = np.arange(0, many, LEAF)
    box, link = _joined(items[order], LEAF), np.stack([first, np.minimum(many - first, LEAF)], axis=1)
    levels: list[tuple[NDArray, NDArray]] = []
    while not levels or len(box) > 1:
        levels.append((_side_by_side(box, NOWHERE), _side_by_side(link, (0, -1))))
        box = _joined(box, LANES)
        link = np.stack([np.arange(len(box)), np.zeros(len(box), dtype=int)], axis=1)
    return BoxTree(*_from_root(levels), order)


def _joined(box: NDArray[np.float32], count: int) -> NDArray[np.float32]:
    """The boxes round `count` boxes (n, 6) after another."""
    start = np.arange(0, len(box), count)
    low, high = np.minimum.reduceat(box[:, :3], start), np.maximum.reduceat(box[:, 3:], start)
    return np.concatenate([low, high], axis=1) if len(box) else box


def _side_by_side(rows: NDArray, fill: object) -> NDArray:
    """Rows (n, k) as (nodes, LANES, k), at least one node; what is free is filled."""
    nodes = np.empty((max(1, -(-len(rows) // LANES)) * LANES, rows.shape[1]), dtype=rows.dtype)
    nodes[: len(rows)], nodes[len(rows) :] = rows, fill
    return nodes.reshape(-1, LANES, rows.shape[1])


def _from_root(levels: list[tuple[NDArray, NDArray]]) -> tuple[NDArray[np.float32], NDArray[np.int32]]:
    """Boxes and links of all nodes, the root's level first; boxes widened, so that singles serve for rays."""
    boxes, links, used = [], [], 1
    for box, link in reversed(levels):
        inner = link[..., 1] == 0
        link[inner, 0] += used
        used += int(inner.sum())
        wide = 4e-6 * (1.0 + np.abs(box))
        wide[..., :3] *= -1.0
        boxes.append(np.ascontiguousarray((box + wide).transpose(0, 2, 1), dtype=np.float32))
        links.append(link.astype(np.int32))
    return np.concatenate(boxes), np.concatenate(links)


@threaded
def halve(begin, end, centre, order, size):
    """Part each run of `size` items into the lower and the higher half; centre (n, 3): of the items in their
    order, which moves with that."""
    for part in range(begin, end):
        first = part * size
        last = min(first + size, order.shape[0])
        if last - first > size // 2:
            _part_at(centre, order, first, last, first + size // 2)


@jit
def _longest(centre, first, last):
    """The axis along which some items' centres spread most."""
    axis, longest = 0, -1.0
    for a in range(3):
        low, high = inf, -inf
        for i in range(first, last):
            low, high = min(low, centre[i, a]), max(high, centre[i, a])
        if high - low > longest:
            axis, longest = a, high - low
    return axis


@jit
def _part_at(centre, order, first, last, middle):
    """Put the items first..last in such an order that none before `middle` is higher than one after it, along
    the axis on which they spread most (Hoare, Communications of the ACM 4 (1961) 321)."""
    axis, low, high = _longest(centre, first, last), first, last - 1
    while low < high:
        pivot, i, j = centre[(low + high) // 2, axis], low, high
        while i <= j:
            while centre[i, axis] < pivot:
                i += 1
            while centre[j, axis] > pivot:
                j -= 1
            if i <= j:
                order[i], order[j] = order[j], order[i]
                for a in range(3):
                    centre[i, a], centre[j, a] = centre[j, a], centre[i, a]
                i, j = i + 1, j - 1
        if middle <= j:
            high = j
        elif middle >= i:
            low = i
        else:
            return


@jit
def child_meets(box, node, c, o, inv, grow):
    """Whether a ray meets the box of child c of a node, grown by `grow` on every side."""
    x0, x1 = (box[node, 0, c] - grow - o[0]) * inv[0], (box[node, 3, c] + grow - o[0]) * inv[0]
    y0, y1 = (box[node, 1, c] - grow - o[1]) * inv[1], (box[node, 4, c] + grow - o[1]) * inv[1]
    z0, z1 = (box[node, 2, c] - grow - o[2]) * inv[2], (box[node, 5, c] + grow - o[2]) * inv[2]
    near = max(max(min(x0, x1), min(y0, y1)), max(min(z0, z1), 0.0))
    far = min(min(max(x0, x1), max(y0, y1)), max(z0, z1))
    return near <= far


@jit
def lay_in_lanes(box, leaves, many, lanes):
    """Lay the boxes of the first `many` leaves, numbered LANES node + child, side by side for
    `simd.boxes_met`: lanes (m, 6, LANES)."""
    for i in range(-(-many // LANES) * LANES):
        for a in range(6):
            lanes[i // LANES, a, i % LANES] = NOWHERE
            if i < many:
                lanes[i // LANES, a, i % LANES] = box[leaves[i] // LANES, a, leaves[i] % LANES]


@jit
def inverse(d):
    """1 / d with zeros replaced by something tiny."""
    x = d[0] if abs(d[0]) > 1e-20 else 1e-20
    y = d[1] if abs(d[1]) > 1e-20 else 1e-20
    z = d[2] if abs(d[2]) > 1e-20 else 1e-20
    return 1.0 / x, 1.0 / y, 1.0 / z

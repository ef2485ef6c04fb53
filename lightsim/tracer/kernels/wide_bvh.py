"""A tree of boxes with up to eight children to a node, for `simd.boxes_met`, from one with two."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels.bvh import half_area
from lightsim.tracer.kernels.jit import jit, single_threaded, threaded
from lightsim.tracer.kernels.simd import LANES, TRIANGLES


class Tree(NamedTuple):
    """A tree with two children to a node: boxes and links as `bvh.build_tree` gives them, first item and
    number of items under each node."""

    box: NDArray
    link: NDArray
    first: NDArray
    many: NDArray


class WideTree(NamedTuple):
    """Nodes with up to LANES children: see `widen`."""

    box: NDArray
    link: NDArray


def widen(box: NDArray[np.float32], link: NDArray[np.int32]) -> tuple[NDArray[np.float32], NDArray[np.int32]]:
    """The tree of `bvh.build_tree` with up to LANES children to a node, level by level.

    Returns wide_box (m, 6, LANES) float32, a little wider so that singles serve for the ray; wide_link
    (m, LANES, 2) int32: (child, 0), (first item, item count of at most TRIANGLES), (0, -1) for none.
    """
    tree = Tree(box, link, *_items_below(link))
    level, used = np.zeros(1, dtype=np.int32), 1
    boxes, links = [], []
    while len(level):
        wide_box = np.full((len(level), 6, LANES), 1e18, dtype=np.float32)
        wide_link = np.tile(np.array([0, -1], dtype=np.int32), (len(level), LANES, 1))
        _widen_level(len(level), tree, level, WideTree(wide_box, wide_link))
        inner = wide_link[..., 1] == 0
        level = wide_link[inner, 0]
        wide_link[inner, 0] = used + np.arange(len(level), dtype=np.int32)
        used += len(level)
        boxes.append(wide_box)
        links.append(wide_link)
    return np.concatenate(boxes), np.concatenate(links)


def _nothing_below(link: NDArray[np.int32]) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """No items under any node."""
    return np.zeros(len(link), dtype=np.int32), np.zeros(len(link), dtype=np.int32)


@single_threaded(_nothing_below)
def _items_below(link):
    """First item and number of items under each node."""
    many = link.shape[0]
    first, count = np.empty(many, dtype=np.int32), np.empty(many, dtype=np.int32)
    for node in range(many - 1, -1, -1):  # children come after their parents
        if link[node, 1] > 0:
            first[node], count[node] = link[node, 0], link[node, 1]
        else:
            child = link[node, 0]
            first[node] = min(first[child], first[child + 1])
            count[node] = count[child] + count[child + 1]
    return first, count


@jit
def _widen_one(tree, node, children, wide, n):
    """Fill node n of the wide tree with what lies below a node of the tree; children (LANES,): scratch."""
    children[0], many = node, 1
    while many < LANES:
        widest, most = -1, -1.0
        for c in range(many):
            child = children[c]
            if tree.many[child] > (0 if many == 1 else TRIANGLES) and tree.link[child, 1] == 0:
                area = half_area(tree.box, child)
                if area > most:
                    widest, most = c, area
        if widest < 0:
            break
        child = tree.link[children[widest], 0]
        children[widest] = child
        children[many] = child + 1
        many += 1
    for c in range(many):
        child = children[c]
        _lay_in_lane(tree.box, child, wide.box, n, c)
        few = tree.many[child] <= TRIANGLES
        wide.link[n, c, 0] = tree.first[child] if few else child
        wide.link[n, c, 1] = tree.many[child] if few else 0


@threaded
def _widen_level(begin, end, tree, level, wide):
    """The children of some nodes of the tree with two, as `widen` gives them back, but that inner children
    have their number in the tree with two."""
    children = np.empty(LANES, dtype=np.int32)
    for n in range(begin, end):
        _widen_one(tree, level[n], children, wide, n)


@jit
def _lay_in_lane(box, node, wide_box, n, c):
    """A node's box as the c-th of eight, a little wider so that singles serve for the ray."""
    for a in range(3):
        wide_box[n, a, c] = box[node, a] - 4e-6 * (1.0 + abs(box[node, a]))
        wide_box[n, a + 3, c] = box[node, a + 3] + 4e-6 * (1.0 + abs(box[node, a + 3]))


@jit
def lane_boxes(box, nodes, many, wide_box):
    """Lay the boxes of the first `many` nodes side by side for `simd.boxes_met`: wide_box (m, 6, LANES)."""
    for i in range(many):
        _lay_in_lane(box, nodes[i], wide_box, i // LANES, i % LANES)
    for i in range(many, -(-many // LANES) * LANES):
        for a in range(6):
            wide_box[i // LANES, a, i % LANES] = 1e18

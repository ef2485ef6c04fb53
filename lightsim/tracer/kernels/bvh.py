"""A tree of boxes over triangles or spheres: built by binned surface-area heuristic, children side by side.

Node i: box[i] = (low x y z, high x y z); link[i] = (first child, 0) or (first item, item count).
MacDonald and Booth, The Visual Computer 6 (1990) 153 (heuristic); Wald, IEEE RT 2007 (binning).
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels.jit import compiles_only, jit, jit_allocating, single_threaded, threaded
from lightsim.tracer.kernels.simd import TRIANGLES
from lightsim.tracer.kernels.struct_pointer import held

BINS = 16
FEW_BINS, FEW_ITEMS = 8, 32  # bins for a node of so few items
LEAF = TRIANGLES
ALONE = 16_384  # items up to which one thread builds the tree; of more, all threads build its lower parts
CELLS = 16  # along each side of the grid that those many are sorted into first
SHARES = 16  # that they are counted in, whatever the threads


class Build(NamedTuple):
    """A tree in the making: the items' boxes (n, 6) and their order (n,), the nodes' boxes and links."""

    items: NDArray
    order: NDArray
    box: NDArray
    link: NDArray


class Scratch(NamedTuple):
    """Room for parting a node's items: bins (BINS, 6), how many in each, what each border would cost on its
    right (BINS,), and the boxes of the two sides (2, 6)."""

    bins: NDArray
    counts: NDArray
    right: NDArray
    sides: NDArray


class Parts(NamedTuple):
    """Parts of a tree that are built apart: the leaf each lies below, the first place of its nodes, and how
    many it used (parts,)."""

    root: NDArray
    start: NDArray
    used: NDArray


def build_tree(
    items: NDArray[np.float32],
) -> tuple[NDArray[np.float32], NDArray[np.int32], NDArray[np.int32]]:
    """Tree over n boxes (n, 6), low x y z and high x y z: box (m, 6), link (m, 2), order (n,)."""
    many = len(items)
    order = np.arange(many, dtype=np.int32)
    room = max(1, 2 * many + (2 * CELLS**3 if many > ALONE else 0))
    box = np.empty((room, 6), dtype=np.float32)
    link = np.zeros((room, 2), dtype=np.int32)
    if compiles_only():
        _build_over_cells(items, box.copy(), link.copy())
    if many > ALONE and not compiles_only():
        items, order, top = _build_over_cells(items, box, link)
    else:
        items = items.copy()
        top = _build_top(Build(items, order, box, link), LEAF)
    build, root = Build(items, order, box, link), np.flatnonzero(link[:top, 1] > LEAF)
    start = top + 2 * link[root, 0].astype(np.int64)
    parts = Parts(root, start, np.zeros(len(root), dtype=np.int64))
    _build_parts(len(root), build, parts)
    end = top + np.concatenate([[0], np.cumsum(parts.used)]).astype(np.int64)
    whole = build._replace(box=box[: end[-1]].copy(), link=link[: end[-1]].copy())
    _close_up(len(root), build, parts, end, whole)
    return whole.box, whole.link, order


def _build_over_cells(
    items: NDArray[np.float32], box: NDArray[np.float32], link: NDArray[np.int32]
) -> tuple[NDArray[np.float32], NDArray[np.int32], int]:
    """The items in the order of the cells of a grid in which their centres lie, that order, and how many
    nodes a tree over the cells has: its leaves hold the items of one cell each."""
    grid = np.array([items[:, a].min() for a in range(3)] + [items[:, a + 3].max() for a in range(3)])
    count = np.zeros((SHARES, CELLS**3), dtype=np.int64)
    boxes = np.empty((SHARES, CELLS**3, 6), dtype=np.float32)
    _count_in_cells(SHARES, items, grid, count, boxes)
    cells = np.flatnonzero(count.sum(axis=0))
    number = count[:, cells]
    start = np.cumsum(number.T.ravel()) - number.T.ravel()
    place = np.zeros_like(count)
    place[:, cells] = start.reshape(len(cells), SHARES).T
    sorted_items, order = np.empty_like(items), np.empty(len(items), dtype=np.int32)
    _put_in_cells(SHARES, items, grid, place, sorted_items, order)
    low, high = boxes[:, cells, :3].min(axis=0), boxes[:, cells, 3:].max(axis=0)
    cell_order = np.arange(len(cells), dtype=np.int32)
    top = _build_top(Build(np.concatenate([low, high], axis=1), cell_order, box, link), 1)
    leaf = np.flatnonzero(link[:top, 1] > 0)
    cell = cell_order[link[leaf, 0]]
    link[leaf, 0], link[leaf, 1] = start[cell * SHARES], number.sum(axis=0)[cell]
    return sorted_items, order, top


@jit
def share_of(part, parts, many):
    """First and last of so many things that fall to a part."""
    return part * many // parts, (part + 1) * many // parts


@jit
def half_area(boxes, b):
    """Half of a box's area."""
    x, y, z = boxes[b, 3] - boxes[b, 0], boxes[b, 4] - boxes[b, 1], boxes[b, 5] - boxes[b, 2]
    return x * y + y * z + z * x


@jit
def _empty(boxes, b):
    for a in range(3):
        boxes[b, a] = inf
        boxes[b, a + 3] = -inf


@jit
def _grow(boxes, b, others, i):
    """Make box b hold another one too."""
    for a in range(3):
        boxes[b, a] = min(boxes[b, a], others[i, a])
        boxes[b, a + 3] = max(boxes[b, a + 3], others[i, a + 3])


@jit
def _join(others, first, last, boxes, b):
    """Make box b the one round others first..last."""
    _empty(boxes, b)
    for i in range(first, last):
        _grow(boxes, b, others, i)


@jit
def _cheapest(bins, counts, right, sides, many):
    """The border between so many bins, 1..many - 1, of the cheapest split."""
    _empty(sides, 0)
    count = 0
    for b in range(many - 1, 0, -1):
        _grow(sides, 0, bins, b)
        count += counts[b]
        right[b] = count * half_area(sides, 0) if count > 0 else 0.0
    _empty(sides, 0)
    count, border = 0, 1
    best = inf
    for b in range(1, many):
        _grow(sides, 0, bins, b - 1)
        count += counts[b - 1]
        cost = (count * half_area(sides, 0) if count > 0 else 0.0) + right[b]
        if cost < best:
            best, border = cost, b
    return border


@jit
def _widest(items, first, last):
    """The axis along which the items' centres spread most; twice where they begin, and twice how far."""
    x0, y0, z0, x1, y1, z1 = inf, inf, inf, -inf, -inf, -inf
    for i in range(first, last):
        x, y, z = items[i, 0] + items[i, 3], items[i, 1] + items[i, 4], items[i, 2] + items[i, 5]
        x0, y0, z0 = min(x0, x), min(y0, y), min(z0, z)
        x1, y1, z1 = max(x1, x), max(y1, y), max(z1, z)
    axis, start, width = 0, x0, x1 - x0
    if y1 - y0 > width:
        axis, start, width = 1, y0, y1 - y0
    if z1 - z0 > width:
        axis, start, width = 2, z0, z1 - z0
    return axis, start, width


@jit
def _longest(boxes, b):
    """The longest side of a box, as `_widest`."""
    axis, width = 0, boxes[b, 3] - boxes[b, 0]
    for a in range(1, 3):
        if boxes[b, a + 3] - boxes[b, a] > width:
            axis, width = a, boxes[b, a + 3] - boxes[b, a]
    return axis, 2.0 * boxes[b, axis], 2.0 * width


@jit
def _bin(items, i, axis, start, per_bin, many):
    return min(int((items[i, axis] + items[i, axis + 3] - start) * per_bin), many - 1)


@jit
def _split(build, room, node, first, last):
    """Part the items into first..middle and middle..last; the room's sides get the two boxes. The node's box
    holds them all."""
    items, order, bins, counts = build.items, build.order, room.bins, room.counts
    if last - first <= FEW_ITEMS:
        axis, start, width = _widest(items, first, last)
    else:
        axis, start, width = _longest(build.box, node)
    middle = first
    if width > 0.0:
        many = FEW_BINS if last - first <= FEW_ITEMS else BINS
        per_bin = many / width
        for b in range(many):
            counts[b] = 0
            _empty(bins, b)
        for i in range(first, last):
            b = _bin(items, i, axis, start, per_bin, many)
            counts[b] += 1
            _grow(bins, b, items, i)
        border = _cheapest(bins, counts, room.right, room.sides, many)
        end = last
        while middle < end:
            if _bin(items, middle, axis, start, per_bin, many) < border:
                middle += 1
            else:
                end -= 1
                for a in range(6):
                    items[middle, a], items[end, a] = items[end, a], items[middle, a]
                order[middle], order[end] = order[end], order[middle]
        if first < middle < last:
            _join(bins, 0, border, room.sides, 0)
            _join(bins, border, many, room.sides, 1)
            return middle
    middle = (first + last) // 2
    _join(items, first, middle, room.sides, 0)
    _join(items, middle, last, room.sides, 1)
    return middle


@jit
def _note(box, node, sides, side):
    """A node's box, a little wider than what was found."""
    for a in range(3):
        low, high = sides[side, a], sides[side, a + 3]
        box[node, a] = low - 1e-6 * (1.0 + abs(low))
        box[node, a + 3] = high + 1e-6 * (1.0 + abs(high))


@jit
def _build_in(build, scratch, waiting, root, few, used):
    """As `_build_below`; waiting (n, 3): room for the nodes that wait, with their first and last item."""
    link, room = build.link, held(scratch)
    waiting[0, 0], waiting[0, 1], waiting[0, 2] = root, link[root, 0], link[root, 0] + link[root, 1]
    many = 1
    while many > 0:
        many -= 1
        node, first, last = waiting[many, 0], waiting[many, 1], waiting[many, 2]
        link[node, 0], link[node, 1] = first, last - first
        if last - first <= few:
            continue
        middle = _split(build, room, node, first, last)
        link[node, 0], link[node, 1] = used, 0
        for side in range(2):
            _note(build.box, used + side, room.sides, side)
        waiting[many, 0], waiting[many, 1], waiting[many, 2] = used, first, middle
        waiting[many + 1, 0], waiting[many + 1, 1], waiting[many + 1, 2] = used + 1, middle, last
        many += 2
        used += 2
    return used


@jit_allocating
def _build_below(build, root, few, used):
    """Build the tree below a leaf, in the places from `used` on, down to leaves of at most `few` items.

    Returns the first place that is free still.
    """
    bins, sides = np.empty((BINS, 6)), np.empty((2, 6))
    counts, right = np.zeros(BINS, dtype=np.int64), np.zeros(BINS)
    waiting = np.empty((build.link[root, 1] + 2, 3), dtype=np.int64)
    return _build_in(build, Scratch(bins, counts, right, sides), waiting, root, few, used)


def _one_leaf(build: Build, few: int) -> int:
    """A tree of one leaf, so that what follows it up has something to do."""
    build.box[0] = 0.0
    build.link[0] = 0, min(len(build.items), LEAF)
    return 1


@single_threaded(_one_leaf)
def _build_top(build, few):
    """The root and what lies below it, down to leaves of at most `few` items: how many nodes."""
    sides = np.empty((1, 6))
    _join(build.items, 0, build.items.shape[0], sides, 0)
    _note(build.box, 0, sides, 0)
    build.link[0, 1] = build.items.shape[0]
    return _build_below(build, 0, few, 1)


@jit
def _cell_of(items, i, grid):
    """Number of the cell of a grid, low and high x y z, in which an item's centre lies."""
    cell = 0
    for a in range(3):
        wide = 2.0 * (grid[a + 3] - grid[a]) + 1e-30
        share = (items[i, a] + items[i, a + 3] - 2.0 * grid[a]) / wide
        cell = cell * CELLS + min(max(int(share * CELLS), 0), CELLS - 1)
    return cell


@threaded
def _count_in_cells(begin, end, items, grid, count, boxes):
    """Items of each share in each cell (shares, cells), and the boxes round them (shares, cells, 6)."""
    for share in range(begin, end):
        mine, many = boxes[share], items.shape[0]
        for cell in range(mine.shape[0]):
            _empty(mine, cell)
        first, last = share_of(share, count.shape[0], many)
        for i in range(first, last):
            cell = _cell_of(items, i, grid)
            count[share, cell] += 1
            _grow(mine, cell, items, i)


@threaded
def _put_in_cells(begin, end, items, grid, place, sorted_items, order):
    """Put the items of each share where those of their cell go, from place (shares, cells) on."""
    for share in range(begin, end):
        many, shares = items.shape[0], place.shape[0]
        first, last = share_of(share, shares, many)
        for i in range(first, last):
            cell = _cell_of(items, i, grid)
            at = place[share, cell]
            place[share, cell] += 1
            order[at] = i
            for a in range(6):
                sorted_items[at, a] = items[i, a]


@threaded
def _build_parts(begin, end, build, parts):
    """Build the parts of a tree, each in places of its own."""
    for part in range(begin, end):
        start = parts.start[part]
        parts.used[part] = _build_below(build, parts.root[part], LEAF, start) - start


@threaded
def _close_up(begin, end, build, parts, ends, whole):
    """Move the parts together, to the places of the whole from ends[part] on."""
    for part in range(begin, end):
        back, root = parts.start[part] - ends[part], parts.root[part]
        whole.link[root, 0] = build.link[root, 0] - back
        whole.link[root, 1] = build.link[root, 1]
        for node in range(ends[part], ends[part + 1]):
            for a in range(6):
                whole.box[node, a] = build.box[node + back, a]
            inner = build.link[node + back, 1] == 0
            whole.link[node, 0] = build.link[node + back, 0] - (back if inner else 0)
            whole.link[node, 1] = build.link[node + back, 1]


@jit
def wide_entry(box, node, o, inv, grow):
    """Whether the ray meets the node's box, grown by `grow` on every side."""
    x0 = (box[node, 0] - grow - o[0]) * inv[0]
    x1 = (box[node, 3] + grow - o[0]) * inv[0]
    y0 = (box[node, 1] - grow - o[1]) * inv[1]
    y1 = (box[node, 4] + grow - o[1]) * inv[1]
    z0 = (box[node, 2] - grow - o[2]) * inv[2]
    z1 = (box[node, 5] + grow - o[2]) * inv[2]
    near = max(max(min(x0, x1), min(y0, y1)), max(min(z0, z1), 0.0))
    far = min(min(max(x0, x1), max(y0, y1)), max(z0, z1))
    return near <= far


@jit
def inverse(d):
    """1 / d with zeros replaced by something tiny."""
    x = d[0] if abs(d[0]) > 1e-20 else 1e-20
    y = d[1] if abs(d[1]) > 1e-20 else 1e-20
    z = d[2] if abs(d[2]) > 1e-20 else 1e-20
    return 1.0 / x, 1.0 / y, 1.0 / z

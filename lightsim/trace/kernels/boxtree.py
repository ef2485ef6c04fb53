"""A tree of boxes over triangles or spheres: built by binned surface-area heuristic, children side by side.

Node i: box[i] = (low x y z, high x y z); link[i] = (first child, 0) or (first item, item count).
MacDonald and Booth, The Visual Computer 6 (1990) 153 (heuristic); Wald, IEEE RT 2007 (binning).
"""

from __future__ import annotations

from math import inf

import numpy as np

from lightsim.trace.kernels.jit import jit, making
from lightsim.trace.kernels.lanes import LANES, TRIANGLES

BINS = 16
LEAF = TRIANGLES


@jit
def _half_area(b):
    x, y, z = b[3] - b[0], b[4] - b[1], b[5] - b[2]
    return x * y + y * z + z * x


@jit
def _grow(b, low, high):
    for a in range(3):
        b[a] = min(b[a], low[a])
        b[a + 3] = max(b[a + 3], high[a])


@jit
def _empty(b):
    b[:3] = inf
    b[3:] = -inf


@making
def _split_place(low, high, centre, order, first, last, work):
    """Axis and bin border of the cheapest split; axis -1 when all centres coincide."""
    c_low = np.full(3, inf)
    c_high = np.full(3, -inf)
    for i in range(first, last):
        for a in range(3):
            c_low[a] = min(c_low[a], centre[order[i], a])
            c_high[a] = max(c_high[a], centre[order[i], a])
    axis = int(np.argmax(c_high - c_low))
    width = c_high[axis] - c_low[axis]
    if width <= 0.0:
        return -1, 0.0
    boxes, counts, right = work
    counts[:] = 0
    for b in range(BINS):
        _empty(boxes[b])
    k = BINS / width * (1.0 - 1e-9)
    for i in range(first, last):
        item = order[i]
        b = int((centre[item, axis] - c_low[axis]) * k)
        counts[b] += 1
        _grow(boxes[b], low[item], high[item])
    box = np.empty(6)
    _empty(box)
    count = 0
    for b in range(BINS - 1, 0, -1):
        _grow(box, boxes[b, :3], boxes[b, 3:])
        count += counts[b]
        right[b] = count * _half_area(box) if count else 0.0
    _empty(box)
    count = 0
    best = inf
    border = 1
    for b in range(1, BINS):
        _grow(box, boxes[b - 1, :3], boxes[b - 1, 3:])
        count += counts[b - 1]
        cost = (count * _half_area(box) if count else 0.0) + right[b]
        if cost < best:
            best = cost
            border = b
    return axis, c_low[axis] + border / k


@making
def build_tree(low, high):
    """Tree over n boxes; low, high : (n, 3) float64.

    Returns box (m, 6) float32, link (m, 2) int32, order (n,) int32.
    """
    n = low.shape[0]
    centre = 0.5 * (low + high)
    order = np.arange(n).astype(np.int32)
    box = np.empty((max(1, 2 * n), 6), dtype=np.float32)
    link = np.zeros((max(1, 2 * n), 2), dtype=np.int32)
    work = (np.empty((BINS, 6)), np.zeros(BINS, dtype=np.int64), np.zeros(BINS))
    stack = [(0, 0, n)]
    used = 1
    whole = np.empty(6)
    while len(stack) > 0:
        node, first, last = stack.pop()
        _empty(whole)
        for i in range(first, last):
            _grow(whole, low[order[i]], high[order[i]])
        for a in range(3):
            box[node, a] = whole[a] - 1e-6 * (1.0 + abs(whole[a]))
            box[node, a + 3] = whole[a + 3] + 1e-6 * (1.0 + abs(whole[a + 3]))
        if last - first <= LEAF:
            link[node, 0] = first
            link[node, 1] = last - first
            continue
        axis, border = _split_place(low, high, centre, order, first, last, work)
        middle = first
        if axis >= 0:
            end = last
            while middle < end:
                if centre[order[middle], axis] < border:
                    middle += 1
                else:
                    end -= 1
                    swapped = order[middle]
                    order[middle] = order[end]
                    order[end] = swapped
        if middle in (first, last):
            middle = (first + last) // 2
        link[node, 0] = used
        stack.append((used, first, middle))
        stack.append((used + 1, middle, last))
        used += 2
    return box[:used].copy(), link[:used].copy(), order


@making
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


@making
def widen(box, link):
    """The same tree with up to LANES children to a node, for `lanes.boxes_met`.

    Returns wide_box (m, 6, LANES) float32, a little wider so that singles serve for the ray; wide_link
    (m, LANES, 2) int32: (child, 0), (first item, item count of at most TRIANGLES), (0, -1) for none.
    """
    first, count = _items_below(link)
    room = link.shape[0] // 2 + 1
    wide_box = np.full((room, 6, LANES), 1e18, dtype=np.float32)
    wide_link = np.zeros((room, LANES, 2), dtype=np.int32)
    source = np.zeros(room, dtype=np.int32)
    children = np.empty(LANES, dtype=np.int32)
    used, n = 1, 0
    while n < used:
        children[0], many = source[n], 1
        while many < LANES:
            widest, most = -1, -1.0
            for c in range(many):
                node = children[c]
                if count[node] > (0 if many == 1 else TRIANGLES) and link[node, 1] == 0:
                    area = _half_area(box[node])
                    if area > most:
                        widest, most = c, area
            if widest < 0:
                break
            child = link[children[widest], 0]
            children[widest] = child
            children[many] = child + 1
            many += 1
        for c in range(LANES):
            wide_link[n, c, 1] = -1
        for c in range(many):
            node = children[c]
            for a in range(3):
                wide_box[n, a, c] = box[node, a] - 4e-6 * (1.0 + abs(box[node, a]))
                wide_box[n, a + 3, c] = box[node, a + 3] + 4e-6 * (1.0 + abs(box[node, a + 3]))
            if count[node] <= TRIANGLES:
                wide_link[n, c, 0], wide_link[n, c, 1] = first[node], count[node]
            else:
                wide_link[n, c, 0], wide_link[n, c, 1] = used, 0
                source[used] = node
                used += 1
        n += 1
    return wide_box[:used].copy(), wide_link[:used].copy()


@jit
def entry(box, node, o, inv, t_max):
    """Distance at which the ray enters the node's box, inf when it misses it before t_max."""
    x0 = (box[node, 0] - o[0]) * inv[0]
    x1 = (box[node, 3] - o[0]) * inv[0]
    y0 = (box[node, 1] - o[1]) * inv[1]
    y1 = (box[node, 4] - o[1]) * inv[1]
    z0 = (box[node, 2] - o[2]) * inv[2]
    z1 = (box[node, 5] - o[2]) * inv[2]
    near = max(max(min(x0, x1), min(y0, y1)), max(min(z0, z1), 0.0))
    far = min(min(max(x0, x1), max(y0, y1)), min(max(z0, z1), t_max))
    return near if near <= far else inf


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

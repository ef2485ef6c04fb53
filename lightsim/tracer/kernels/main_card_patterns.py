"""A card that is the set's main light: what it sends if it shines evenly, as any lamp's face, and how its
radiance is seen from each pixel.

By how much each pattern of the radiance counts at a pixel depends on no lamp. About and in drops, which hide
one part of a card and gather the light of another, indirect light's grids tell it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import petal_mesh
from lightsim.tracer.kernels.camera_paths import TAG
from lightsim.tracer.kernels.card_patterns import PATTERNS, visible_from
from lightsim.tracer.kernels.drop_grids import round_drop
from lightsim.tracer.kernels.emitters import face_of
from lightsim.tracer.kernels.jit import jit, jit_allocating, threaded
from lightsim.tracer.kernels.near_transfer import colour_at
from lightsim.tracer.kernels.pixel_cells import CELL
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import dot, row, sub

THREES = -(-(PATTERNS - 1) // 3)  # that all patterns but the first come in
SLOTS = 1 + 3 * THREES


class Even(NamedTuple):
    """What a card sends to some pixels if it shines evenly, with a radiance of 1 cd/m2, and how it is seen.

    petal (pixels, 3) float32; counts (pixels, SLOTS) float32: the mean of each pattern over what is seen of
    the card from there. number (pixels,) int32: a pixel's place in surface and water (m, 3), what the drops'
    surfaces mirror and what comes through the water, and in in_drops (m, 2, SLOTS), what counts there; -1 for
    a pixel that sees petal alone.
    """

    petal: NDArray
    counts: NDArray
    number: NDArray
    surface: NDArray
    water: NDArray
    in_drops: NDArray


class Seen(NamedTuple):
    """How the patterns are seen past and through drops, by indirect light's grids; all but the first, in
    threes.

    round (THREES, nd, rings, spokes, 3): by how much their means change by each drop on the petal round it;
    base (THREES, nd, g, g, 3): their means on its base.
    """

    round: NDArray
    base: NDArray


@jit
def _count_patterns(face, card, x, n, share, counts):
    """Fill counts (SLOTS,): the mean of each pattern over the face as a surface at x with the normal n is
    lit by it on either side. share (m,): how much of each part is seen there."""
    total = 0.0
    counts[:] = 0.0
    for m in range(face.flux.shape[0]):
        to = sub(row(face.node, m), x)
        r2 = dot(to, to)
        e = face.flux[m] * share[m] * max(-dot(to, face.out), 0.0) * abs(dot(to, n)) / (r2 * r2)
        total += e
        for i in range(PATTERNS):
            counts[i] += e * card.node_pattern[m, i]
    for i in range(PATTERNS):
        counts[i] = counts[i] / total if total > 0.0 else (1.0 if i == 0 else 0.0)


@jit
def _in_sight(paths, petal, p, part):
    """Of the ends by which pixel p sees dry petal as this part, the one in the middle of them: place, front
    normal, whether on the front, and whether there is one."""
    first, last, many = paths.petal_start[p], paths.petal_start[p + 1], 0
    for e in range(first, last):
        many += 1 if paths.petal_tag[e] & TAG.part == part else 0
    wanted = many // 2
    for e in range(first, last):
        if paths.petal_tag[e] & TAG.part != part:
            continue
        if wanted == 0:
            f, u, v = int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
            on_front = paths.petal_tag[e] & TAG.front != 0
            return petal_mesh.place(petal, f, u, v), petal_mesh.normal_at(petal, f, u, v), on_front, True
        wanted -= 1
    return (0.0, 0.0, 0.0), (0.0, 0.0, 1.0), True, False


@jit
def _past_drops(view, rings, seen, i, j, x, counts):
    """Change counts (SLOTS,) at a place x of the petal's front by what the drops near it hide of the card
    and send there; i, j: the cell of pixels."""
    for q in range(rings.bounds[i, j, 0], rings.bounds[i, j, 1]):
        k = int(rings.near[q])
        inside, ring, turn = round_drop(view.drops, rings.rims, seen.round.shape[2], k, x)
        if not inside:
            continue
        for part in range(THREES):
            more = colour_at(seen.round[part], k, ring, turn)
            for i in range(3):
                m = 1 + 3 * part + i
                counts[m] = min(max(counts[m] + more[i], -1.0), 1.0)


@jit
def _on_bases(paths, seen, p, counts):
    """Fill counts (SLOTS,) with the means on the wet bases that pixel p sees."""
    begin, end = paths.base_start[p], paths.base_start[p + 1]
    counts[0], counts[1:] = 1.0, 0.0
    for e in range(begin, end):
        k, ring, turn = int(paths.base_drop[e]), paths.base_place[e, 0], paths.base_place[e, 1]
        for part in range(THREES):
            mean = colour_at(seen.base[part], k, ring, turn)
            for i in range(3):
                counts[1 + 3 * part + i] += mean[i] / (end - begin)


@jit_allocating
def _count_one(view, card, seen, rings, even, r):
    paths, petal = view.paths, view.petal
    face = held(face_of(card.lamp))
    share = np.empty(card.visible.shape[2])
    for x_pixel in range(paths.width):
        p = r * paths.width + x_pixel
        m = even.number[p]
        row_of_cell, column = r // CELL, x_pixel // CELL
        if not visible_from(card.visible, x_pixel, paths.first // paths.width + r, share):
            share[:] = 1.0
        if paths.mean_end[p] >= 0:
            x, on_front = row(paths.mean_place, p), paths.petal_tag[paths.mean_end[p]] & TAG.front
            _count_patterns(face, card, x, row(paths.mean_normal, p), share, even.counts[p])
            if on_front:
                _past_drops(view, rings, seen, row_of_cell, column, x, even.counts[p])
        if m < 0:
            continue
        for i in range(2):
            x, n, on_front, found = _in_sight(paths, petal, p, TAG.surface if i == 0 else TAG.water)
            if paths.base_start[p + 1] > paths.base_start[p] and (i == 1 or not found):
                _on_bases(paths, seen, p, even.in_drops[m, i])
            elif found:
                _count_patterns(face, card, x, n, share, even.in_drops[m, i])
                if on_front:
                    _past_drops(view, rings, seen, row_of_cell, column, x, even.in_drops[m, i])


@threaded
def count(begin, end, view, card, seen, rings, even):
    """Fill counts and in_drops of `even` for some rows. card: a `card_patterns.Card`; seen: `Seen`; rings: a
    `drop_grids.RingPlaces`."""
    for r in range(begin, end):
        _count_one(view, card, seen, rings, even, r)


@jit
def _weighed(shares, counts):
    """The mean radiance by shares of the patterns (PATTERNS,) and how these count."""
    total = 0.0
    for i in range(PATTERNS):
        total += shares[i] * counts[i]
    return max(total, 0.0)


@threaded
def add_even(begin, end, width, even, shares, parts):
    """Add to `parts`, for rows of `width` pixels, what a card sends with its patterns weighed by shares
    (PATTERNS,)."""
    for p in range(begin * width, end * width):
        k = _weighed(shares, even.counts[p])
        for a in range(3):
            parts.petal[p, a] += k * even.petal[p, a]
        m = even.number[p]
        if m < 0:
            continue
        surface, water = _weighed(shares, even.in_drops[m, 0]), _weighed(shares, even.in_drops[m, 1])
        for a in range(3):
            parts.surface[p, a] += surface * even.surface[m, a]
            parts.water[p, a] += water * even.water[m, a]

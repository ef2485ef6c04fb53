"""The veins of a petal: a fan from the foot that branches twice, as ridges and as darker lines.

Veins are drawn in fan coordinates: t runs from foot (0) to tip (1), q across, and a main vein keeps its q
while the fan opens. What a real petal looks like is common knowledge of the trade, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.petal.point_rows import PointRows, runs_of
from lightsim.scene.records import Petal

LEVELS = 3  # main veins, their branches, the branches' branches
STEPS = 1200  # points along one vein
FAN_FOOT, FAN_TIP = 0.10, 1.30  # half width of the fan in half widths of the petal
FAN_POWER = 0.85
WIDTH_SHARE = 0.0042  # half width of a main vein's ridge in widths of the petal
THINNER = 0.66  # of a branch against its parent
WEAKER = 0.72
FOOT_STEPS = 4  # of Newton's, after which the nearest step of a strand stays


class Relief(NamedTuple):
    """What veins or wrinkles add at each point.

    height : (n,) in units of the relief.  slope : (n, 2) its slopes dh/dx, dh/dy per mm.
    dark : (n,) 0..1, how much of a vein's colour shows.
    """

    height: NDArray
    slope: NDArray
    dark: NDArray


@dataclass(frozen=True)
class Strand:
    """One vein in fan coordinates: q as a function of t, from `start` to `end`."""

    t: NDArray
    q: NDArray
    level: int


def fan(t: NDArray) -> tuple[NDArray, NDArray]:
    """Half width of the fan at t in half widths of the petal, and its derivative."""
    t = np.maximum(t, 1e-3)
    opened = FAN_TIP - FAN_FOOT
    return FAN_FOOT + opened * t**FAN_POWER, opened * FAN_POWER * t ** (FAN_POWER - 1.0)


def vein_relief(petal: Petal, xy: NDArray) -> Relief:
    """Ridges and dark lines of the veins at points (n, 2) mm of the petal's plane."""
    height, slope, dark = nothing_at(xy)
    strands, rows = strands_of(petal), PointRows(xy)
    for level in range(LEVELS if strands else 0):
        ridge = _ridge(petal, [strand for strand in strands if strand.level == level], rows, level)
        # a smooth union, so that a branch leaves its parent without a step
        slope = slope * (1.0 - ridge.height)[:, None] + ridge.slope * (1.0 - height)[:, None]
        height = height + ridge.height - height * ridge.height
        dark = dark + ridge.dark - dark * ridge.dark
    return Relief(height, slope, dark)


def nothing_at(xy: NDArray) -> Relief:
    """No relief at points (n, 2)."""
    return Relief(np.zeros(len(xy)), np.zeros((len(xy), 2)), np.zeros(len(xy)))


def strands_of(petal: Petal) -> list[Strand]:
    """All veins of a petal; their course depends on its number of veins and its pattern alone."""
    random = np.random.default_rng([petal.pattern, petal.veins])
    strands: list[Strand] = []
    spacing = 2.0 / max(petal.veins, 1)
    parents = []
    for number in range(petal.veins):
        q = -1.0 + spacing * (number + 0.5 + random.uniform(-0.15, 0.15))
        t = np.linspace(0.0, random.uniform(0.93, 0.99), STEPS)
        parents.append(Strand(t, _arched(q, t) + _sway(random, t, 0.11 * spacing), 0))
    strands += parents
    for level in range(1, LEVELS):
        parents = [
            child for parent in parents for child in _branches(random, parent, spacing * 0.62**level, level)
        ]
        strands += parents
    return strands


def _arched(q: float, t: NDArray) -> NDArray:
    """The outer veins bow outward low down and turn in again toward the tip."""
    return q * (1.0 + 0.22 * np.sin(np.pi * t) - 0.12 * t**3)


def _sway(random: np.random.Generator, t: NDArray, size: float) -> NDArray:
    phase = random.uniform(0.0, 2.0 * np.pi, 3)
    waves = (
        np.sin(5.0 * t + phase[0]) + 0.5 * np.sin(13.0 * t + phase[1]) + 0.22 * np.sin(31.0 * t + phase[2])
    )
    return size * np.minimum(2.0 * t, 1.0) * waves


def _branches(random: np.random.Generator, parent: Strand, reach: float, level: int) -> list[Strand]:
    """Two to three side veins that leave a parent in turn to the left and to the right."""
    side = random.choice([-1.0, 1.0])
    start, end = parent.t[0], parent.t[-1]
    branches = []
    for where in np.linspace(0.22, 0.70, 3 if level == 1 else 2):
        leaves = start + (end - start) * (where + random.uniform(-0.08, 0.08))
        t = np.linspace(leaves, min(end, leaves + random.uniform(0.3, 0.6)), STEPS // 2)
        apart = side * reach * random.uniform(0.45, 0.7) * (1.0 - np.exp(-(t - leaves) / 0.12))
        q = np.interp(t, parent.t, parent.q) + apart + _sway(random, t - leaves, 0.15 * reach)
        branches.append(Strand(t, q, level))
        side = -side
    return branches


def _ridge(petal: Petal, strands: list[Strand], rows: PointRows, level: int) -> Relief:
    """One level's veins: bell-shaped ridges about the nearest strand."""
    ridge = nothing_at(rows.points)
    points, across, share = _drawn(petal, strands)
    finest = 1.1 * petal.mesh_spacing_mm  # a narrower ridge would fall between the mesh's vertices
    wanted = WIDTH_SHARE * petal.width_mm * THINNER**level
    base = max(wanted, finest)
    near, nearest = _nearest(points, across, rows, 6.0 * base)
    points, across, share = points[nearest], across[nearest], share[nearest]
    width = base * (1.0 - 0.4 * share[:, 1])
    strength = WEAKER**level * min(1.0, wanted / base) * share[:, 0]
    offset = np.einsum("ij,ij->i", rows.points[near] - points, across)
    narrow = np.exp(-((offset / width) ** 2))
    broad = np.exp(-((offset / (2.8 * width)) ** 2))
    ridge.height[near] = strength * (0.7 * narrow + 0.3 * broad)
    steep = -2.0 * strength * offset / width**2 * (0.7 * narrow + 0.3 * broad / 2.8**2)
    ridge.slope[near] = steep[:, None] * across
    ridge.dark[near] = strength * (0.8 * narrow + 0.2 * broad)
    return ridge


def _nearest(
    points: NDArray, across: NDArray, rows: PointRows, reach_mm: float
) -> tuple[NDArray, tuple[NDArray, NDArray]]:
    """Which of the points of rows lie within reach_mm of a strand, (m,), and the strand and its step that is
    nearest to each; points, across : see `_drawn`."""
    low, high = points[:, 0, 1], points[:, -1, 1]
    last = points.shape[1] - 1
    rise = (high - low) / last
    strand, row = runs_of(rows.row_at(low - reach_mm), rows.row_at(high + reach_mm) + 1)
    step = _whole((rows.middle_y(row) - low[strand]) / rise[strand], last)
    steep = np.abs(across[..., 1] / across[..., 0]).max(axis=1)
    aside = (reach_mm * np.hypot(1.0, steep) + 0.5 * steep * rows.height)[strand]
    x = points[strand, step, 0]
    asked, near = rows.between(row, x - aside, x + aside)
    strand, step, place = strand[asked], step[asked], rows.points[near]
    for _ in range(FOOT_STEPS):  # toward the foot of the perpendicular
        off, normal = place - points[strand, step], across[strand, step]
        along = off[:, 0] * normal[:, 1] - off[:, 1] * normal[:, 0]
        step = _whole(step - along * normal[:, 0] / rise[strand], last)
    distance = np.linalg.norm(place - points[strand, step], axis=1)
    least = np.full(len(rows.points), reach_mm)
    np.minimum.at(least, near, distance)
    nearest = np.flatnonzero(distance == least[near])
    return near[nearest], (strand[nearest], step[nearest])


def _drawn(petal: Petal, strands: list[Strand]) -> tuple[NDArray, NDArray, NDArray]:
    """Strands step by step, each (strands, steps, 2): points mm, unit vectors across, strength and share of
    the strand's length."""
    t, q = np.array([strand.t for strand in strands]), np.array([strand.q for strand in strands])
    opened, _ = fan(t)
    points = np.stack([0.5 * petal.width_mm * q * opened, petal.length_mm * (t - 0.5)], axis=-1)
    along = np.gradient(points, axis=1)
    along /= np.linalg.norm(along, axis=2, keepdims=True)
    run = np.linspace(0.0, 1.0, t.shape[1])
    rises = np.clip(run / 0.08, 0.0, 1.0) if strands[0].level else np.ones(len(run))
    fades = np.clip((1.0 - run) / 0.35, 0.0, 1.0)
    share = np.stack([_eased(rises) * _eased(fades), run], axis=-1)
    return points, np.stack([-along[..., 1], along[..., 0]], axis=-1), np.broadcast_to(share, points.shape)


def _whole(steps: NDArray, last: int) -> NDArray[np.int64]:
    return np.clip(np.rint(steps), 0, last).astype(np.int64)


def _eased(t: NDArray) -> NDArray:
    return t * t * (3.0 - 2.0 * t)

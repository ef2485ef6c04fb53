"""What solid things do to a set: which lines of light they cut, and what cannot be built.

A set that cannot be built can be traced all the same: it shows light that cannot be had.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.camera import half_field_mm
from lightsim.scene.faces import RING, light_face, points_on
from lightsim.scene.records import Light, Scene
from lightsim.scene.solid_bodies import CAMERA, SHEET_MM, light_bodies
from lightsim.scene.stage import Body, Stage, StagedCard, StagedLight

SIDES = 32  # of the prism that stands for a rod
FACE_STEPS = 9  # points along the side of a face from which lines are drawn
TOUCHING_MM = 0.2  # things that come so near overlap by no more than what is supposed of them


def hidden_share(stage: Stage, light: StagedLight) -> float:
    """Share, 0..1, of a light's straight lines to the field that solid things and cards cut."""
    across, up = half_field_mm(stage.camera)
    field = np.array([[x * across, y * up, 0.0] for x in (-1, 0, 1) for y in (-1, 0, 1)])
    others = [body for body in stage.bodies if body.thing != light.name]
    return share_cut([*others, *map(_sheet, stage.cards)], field, points_on(light.face, FACE_STEPS))


def share_cut(bodies: Sequence[Body], starts: NDArray[np.float64], ends: NDArray[np.float64]) -> float:
    """Share, 0..1, of the lines between points (k, 3) and points (n, 3) that some bodies cut."""
    return float(cut_by(bodies, starts[:, None], ends[None]).mean())


def cut_by(bodies: Sequence[Body], start: NDArray, end: NDArray) -> NDArray[np.bool_]:
    """Which lines between points, broadcast (..., 3), some bodies cut."""
    cut = np.zeros(np.broadcast_shapes(start.shape, end.shape)[:-1], dtype=bool)
    for body in bodies:
        cut |= _cuts(body, start, end)
    return cut


def _cuts(body: Body, start: NDArray, end: NDArray) -> NDArray[np.bool_]:
    """Which lines between points, broadcast (..., 3), a body cuts: Kay and Kajiya's slabs, and for a rod the
    quadratic of its side."""
    axes = np.array([body.right, body.up, body.out])
    o, to = (start - body.centre) @ axes.T, (end - body.centre) @ axes.T
    half = np.array([body.half_width_mm, body.half_height_mm, body.half_depth_mm])
    lines = np.broadcast_shapes(o.shape, to.shape)[:-1]
    ends = np.concatenate([o.reshape(-1, 3), to.reshape(-1, 3)])
    if np.any((ends.min(axis=0) > half) | (ends.max(axis=0) < -half)):  # all lines pass on one side
        return np.zeros(lines, dtype=bool)
    o, d = np.broadcast_arrays(o, to - o)
    low, high = np.zeros(lines), np.ones(lines)
    for axis in (2,) if body.round else (0, 1, 2):
        along = np.where(np.abs(d[..., axis]) < 1e-12, 1e-12, d[..., axis])
        one, other = (-half[axis] - o[..., axis]) / along, (half[axis] - o[..., axis]) / along
        low, high = np.maximum(low, np.minimum(one, other)), np.minimum(high, np.maximum(one, other))
    if body.round:
        a = np.maximum(np.sum(d[..., :2] ** 2, axis=-1), 1e-12)
        b = np.sum(o[..., :2] * d[..., :2], axis=-1)
        root = b * b - a * (np.sum(o[..., :2] ** 2, axis=-1) - half[0] ** 2)
        away = np.sqrt(np.maximum(root, 0.0))
        low, high = np.maximum(low, (-b - away) / a), np.minimum(high, (-b + away) / a)
        low = np.where(root > 0.0, low, 2.0)
    return np.asarray(low < high)


def unbuildable_words(scene: Scene, stage: Stage) -> list[str]:
    """The same, each with the angles at which the light among the two would stand free, if any."""
    return [sentence + "".join(_free_words(scene, stage, sentence)) for sentence in not_buildable(stage)]


def _free_words(scene: Scene, stage: Stage, sentence: str) -> Iterator[str]:
    for light in scene.lights:
        if _speaks_of(sentence, light):
            free = free_from_deg(stage, light)
            if free is not None:
                yield f"; {free_words(light, free)}"


def free_words(light: Light, free_deg: float) -> str:
    """From which angle on a light stands clear of everything, see `free_from_deg`."""
    return f"at its distance and clock position {light.name} stands free from {free_deg:g}° to 90°"


def _speaks_of(sentence: str, light: Light) -> bool:
    return f" of {light.name} " in f"{sentence} "


def not_buildable(stage: Stage) -> list[str]:
    """One sentence for each two things that stand in the same place."""
    found = []
    cards = {card.name for card in stage.cards}
    for (one, its), (other, others) in combinations(_things(stage).items(), 2):
        if cards >= {one, other} or _round_the_lens(its, others):  # cards may lean on one another
            continue
        met = next(((a, b) for a in its for b in others if _overlap(a, b)), None)
        if met is not None:
            found.append(f"{_named(met[0])} and {_named(met[1])} stand in the same place")
    return found


def _round_the_lens(some: list[Body], others: list[Body]) -> bool:
    """Whether these are the camera and a ring, which holds the lens in its hole."""
    whats = {body.what for body in (*some, *others)}
    return RING in whats and CAMERA in {some[0].thing, others[0].thing}


def _things(stage: Stage) -> dict[str, list[Body]]:
    """Camera, lights, cards, each with its bodies."""
    things: dict[str, list[Body]] = {}
    for body in stage.bodies:
        things.setdefault(body.thing, []).append(body)
    if stage.bodies:
        things.update({card.name: [_sheet(card)] for card in stage.cards})
    return things


def _sheet(card: StagedCard) -> Body:
    """A card as a body."""
    face, half_depth = card.face, 0.5 * SHEET_MM
    half = face.half_width_mm, face.half_height_mm, half_depth
    centre = face.centre - half_depth * face.out
    return Body(card.name, "card", centre, face.right, face.up, face.out, *half)


def _named(body: Body) -> str:
    if body.thing == CAMERA:
        return "the camera" if body.what == "body" else f"the {body.what}"
    if body.what == "card":
        return "the card" if body.thing == "card" else f"the card {body.thing}"
    return f"the {body.what} of {body.thing}"


def _overlap(one: Body, other: Body) -> bool:
    """Whether two convex bodies share a place, more than TOUCHING_MM deep: no plane parts them."""
    reach = np.linalg.norm(one.centre - other.centre)
    if reach > _radius(one) + _radius(other):
        return False
    from scipy.optimize import linprog

    a, b = _corners(one), _corners(other)
    middle = 0.5 * (one.centre + other.centre)
    # greatest gap t of a plane n.x = c with n.a >= c + t, n.b <= c - t, the parts of n at most 1
    rows = [np.column_stack([-(a - middle), np.ones(len(a)), np.ones(len(a))])]
    rows += [np.column_stack([b - middle, -np.ones(len(b)), np.ones(len(b))])]
    within = np.concatenate(rows)
    bounds = [(-1, 1)] * 3 + [(None, None)] * 2
    found = linprog(np.array([0, 0, 0, 0, -1.0]), within, np.zeros(len(within)), bounds=bounds)
    return bool(-found.fun <= 1e-9)


def _radius(body: Body) -> float:
    return float(np.linalg.norm([body.half_width_mm, body.half_height_mm, body.half_depth_mm]))


def _corners(body: Body) -> NDArray[np.float64]:
    """Corners (n, 3) of a body less half of TOUCHING_MM on each side, of a prism inside a rod."""
    w, h, d = (
        max(half - 0.5 * TOUCHING_MM, 0.0)
        for half in (body.half_width_mm, body.half_height_mm, body.half_depth_mm)
    )
    if body.round:
        turn = 2.0 * np.pi * np.arange(SIDES) / SIDES
        rim = w * np.cos(turn)[:, None] * body.right + w * np.sin(turn)[:, None] * body.up
    else:
        rim = np.array([x * w * body.right + y * h * body.up for x in (-1, 1) for y in (-1, 1)])
    return np.concatenate([body.centre + rim - d * body.out, body.centre + rim + d * body.out])


def free_from_deg(stage: Stage, light: Light) -> float | None:
    """Least angle off the lens axis, whole degrees, from which on up to 90 a light on its clock position and
    at its distance stands clear of everything; None where it does not at 90."""
    others = tuple(body for body in stage.bodies if body.thing != light.name)
    free = None
    for angle in range(90, -1, -1):
        moved = light.moved(angle_deg=float(angle))
        there = replace(stage, bodies=(*others, *light_bodies(moved, light_face(moved))))
        if any(_speaks_of(sentence, light) for sentence in not_buildable(there)):
            break
        free = float(angle)
    return free

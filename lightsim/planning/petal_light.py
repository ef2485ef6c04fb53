"""The light on the petal in closed form, nothing traced: what each lamp and the room give the part in frame.

Convention: the bare petal in the frame, as if no drop and no fold of the petal hid a light from it, lit by
each face straight (Lambert's sum over the face's edges, so close faces are as they are, less the share that
solid things hide), by each card once, and by the dome past solid things; it reflects and lets through by the
cosine law. Left out: shadows, gloss, the light from petal to petal and the backdrop's.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lightsim.optics.lens_records import CameraGeometry
from lightsim.optics.radiometry import polygon_factors
from lightsim.picture import luminance
from lightsim.scene.camera import toward_lens
from lightsim.scene.describe import lines_of_sight, outline_seen
from lightsim.scene.faces import corners
from lightsim.scene.obstruction import cut_by, hidden_share
from lightsim.scene.stage import Face, PetalMesh, Stage

AMBIENT = "ambient"
COLUMNS = 12  # lines of sight across the frame that meet the petal
SKY_RAYS = 256  # directions over each point in which solid things are looked for
FAR_MM = 1e5  # beyond all solid things
ROUND_SIDES = 48  # a round face as a polygon of the same area


@dataclass(frozen=True)
class SeenPetal:
    """Points of the petal that evenly spread lines of sight meet.

    points : (n, 3) mm.  normals : (n, 3), unit, on the side that is seen.
    reflectance, transmittance : (n, 3).
    """

    points: NDArray[np.float64]
    normals: NDArray[np.float64]
    reflectance: NDArray[np.float64]
    transmittance: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.points)

    @property
    def mean_reflectance(self) -> float:
        """Luminance of the mean reflectance, 0..1."""
        return float(luminance(self.reflectance.mean(axis=0)))


@dataclass(frozen=True)
class PetalLight:
    """Mean over the petal in frame, for each light by name and the dome as "ambient", per unit of output.

    colours : (3,) cd/m2 (cd s/m2 for a flash) of the petal, all light counted.
    on_petal, by_cards : lx (lx s) on the side that is seen, straight from the light, and from cards.
    incidence_deg : mean angle between the petal's normal and the light, for each light.
    """

    seen: SeenPetal
    colours: dict[str, NDArray[np.float64]]
    on_petal: dict[str, float]
    by_cards: dict[str, float]
    incidence_deg: dict[str, float]


_last: list[tuple[PetalMesh, CameraGeometry, SeenPetal]] = []  # where only lights move it stays the same


def seen_petal(stage: Stage) -> SeenPetal:
    """The petal in the frame, by a grid of lines of sight from the middle of the pupil."""
    for petal, camera, seen in _last:
        if petal is stage.petal and camera == stage.camera:
            return seen
    found = _seen_petal(stage)
    _last[:] = [(stage.petal, stage.camera, found)]
    return found


def _seen_petal(stage: Stage) -> SeenPetal:
    outline, petal = outline_seen(stage), stage.petal
    found = outline.below(lines_of_sight(stage.camera, COLUMNS))
    places = [place for place in found if place is not None]
    if not places:
        empty = np.zeros((0, 3))
        return SeenPetal(empty, empty, empty, empty)
    faces = outline.mesh.faces[[place.face for place in places]]
    weights = np.array([place.weights for place in places])

    def mean(values: NDArray) -> NDArray[np.float64]:
        return np.einsum("ij,ijk->ik", weights, np.asarray(values, dtype=np.float64)[faces])

    points, normals = mean(petal.vertices), mean(petal.normals)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    turned = np.sum(normals * toward_lens(stage.camera, points), axis=1, keepdims=True) < 0.0
    return SeenPetal(
        points, np.where(turned, -normals, normals), mean(petal.reflectance), mean(petal.transmittance)
    )


def petal_light(stage: Stage) -> PetalLight:
    """What each light of the stage gives the petal in frame."""
    seen = seen_petal(stage)
    front, back, cards = {}, {}, {}
    for light in stage.lights:
        per_cd = 1e6 / light.face.area_mm2  # cd/m2 of the face for one candela
        left = 1.0 - hidden_share(stage, light)
        front[light.name] = left * per_cd * _from_face(light.face, seen.points, seen.normals)
        back[light.name] = left * per_cd * _from_face(light.face, seen.points, -seen.normals)
        cards[light.name] = per_cd * _from_cards(light.face, stage, seen)
    front[AMBIENT] = _from_dome(stage, seen.normals) * _dome_left(stage, seen.points, seen.normals)
    back[AMBIENT] = _from_dome(stage, -seen.normals) * _dome_left(stage, seen.points, -seen.normals)
    cards[AMBIENT] = np.zeros(len(seen))
    colours = {
        name: _colour(seen, front[name] + cards[name], back[name]) if len(seen) else np.zeros(3)
        for name in front
    }
    return PetalLight(
        seen,
        colours,
        {name: _mean(front[name]) for name in front},
        {name: _mean(cards[name]) for name in cards},
        {light.name: _incidence_deg(light.face, seen) for light in stage.lights},
    )


def _mean(values: NDArray[np.float64]) -> float:
    return float(values.mean()) if len(values) else 0.0


def _colour(seen: SeenPetal, front: NDArray, back: NDArray) -> NDArray[np.float64]:
    lit = seen.reflectance * front[:, None] + seen.transmittance * back[:, None]
    return np.asarray(lit.mean(axis=0) / np.pi)


def _from_face(face: Face, points: NDArray, normals: NDArray) -> NDArray[np.float64]:
    """Light from a face of 1 cd/m2, (n,) lx; it shines to its front alone."""
    if face.hole_mm > 0.0:
        hole = replace(face, half_width_mm=face.hole_mm, half_height_mm=face.hole_mm, hole_mm=0.0)
        whole = replace(face, hole_mm=0.0)
        return _from_face(whole, points, normals) - _from_face(hole, points, normals)
    rim = outline_points(face)
    before = (points - face.centre) @ face.out > 0.0
    light = np.zeros(len(points))
    light[before] = np.pi * polygon_factors(rim, points[before], normals[before])
    return light


def outline_points(face: Face) -> NDArray[np.float64]:
    """The face's outline, (n, 3) mm; a round one as a polygon of its area."""
    if not face.round:
        return corners(face)
    turn = np.linspace(0.0, 2.0 * np.pi, ROUND_SIDES, endpoint=False)
    step = 2.0 * np.pi / ROUND_SIDES
    radius = face.half_width_mm * np.sqrt(step / np.sin(step))
    return np.asarray(
        face.centre + radius * (np.cos(turn)[:, None] * face.right + np.sin(turn)[:, None] * face.up)
    )


def _from_cards(face: Face, stage: Stage, seen: SeenPetal) -> NDArray[np.float64]:
    """Light of a face of 1 cd/m2 by the cards, (n,) lx; each card even over its area."""
    total = np.zeros(len(seen))
    for card in stage.cards:
        on_card = float(_from_face(face, card.face.centre[None], card.face.out[None])[0])
        if on_card > 0.0:
            luminance_cd_m2 = card.reflectance * on_card / np.pi
            total += luminance_cd_m2 * _from_face(card.face, seen.points, seen.normals)
    return total


def _from_dome(stage: Stage, normals: NDArray) -> NDArray[np.float64]:
    """Light of the whole half-dome over each normal per lux of the room, (n,).

    Radiance (1 + g cos(angle from straight up)) / pi; its integral over a half-space is 1 + 2/3 g cos(tilt).
    """
    return np.asarray(1.0 + 2.0 / 3.0 * stage.ambient_gradient * (normals @ stage.up))


def _dome_left(
    stage: Stage, points: NDArray[np.float64], normals: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Share, (n,), of the half-dome over each normal, weighed by the cosine, that solid things leave."""
    if not stage.bodies or len(points) == 0:
        return np.ones(len(points))
    i = np.arange(SKY_RAYS) + 0.5
    flat, turn = np.sqrt(i / SKY_RAYS), np.pi * (np.sqrt(5.0) - 1.0) * i  # a golden angle apart
    local = np.stack([flat * np.cos(turn), flat * np.sin(turn), np.sqrt(1.0 - flat**2)], axis=-1)
    axis = np.where(np.abs(normals[:, :1]) < 0.9, [1.0, 0.0, 0.0], [0.0, 1.0, 0.0])
    aside = np.cross(normals, axis)
    aside /= np.linalg.norm(aside, axis=1, keepdims=True)
    rays = local @ np.stack([aside, np.cross(normals, aside), normals], axis=1)
    starts = points[:, None]
    return np.asarray(1.0 - cut_by(stage.bodies, starts, starts + FAR_MM * rays).mean(axis=1))


def _incidence_deg(face: Face, seen: SeenPetal) -> float:
    """Mean angle between normal and light, degrees; over 90 it comes from behind; 0 without a petal."""
    if len(seen) == 0:
        return 0.0
    toward = face.centre - seen.points
    cosine = np.sum(toward * seen.normals, axis=1) / np.linalg.norm(toward, axis=1)
    return float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))).mean())

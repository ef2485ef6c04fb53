"""Indirect light of a set: radiosity over points of the petal, the drops' bases and rings round them.

Each of these places has a row of a transfer matrix, found once for a view: a list of what its rays meet
(sparse) between points of the petal and to and from drops, dense between a drop's base and its rings. A
light's first irradiance is passed on by them in a few iterations.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.stage import Body, Stage
from lightsim.tracer.drop_transfer import (
    Detail,
    DropTransfer,
    Incident,
    between_rings,
    solve,
    transfer_of,
)
from lightsim.tracer.first_irradiance import (
    Areas,
    FirstIrradiance,
    areas_of,
)
from lightsim.tracer.kernels import dome_shadow, near_transfer, petal_radiosity
from lightsim.tracer.kernels.drop_rays import Surroundings
from lightsim.tracer.kernels.emitters import Boards
from lightsim.tracer.kernels.indirect_at_paths import IndirectLight
from lightsim.tracer.kernels.petal_radiosity import PetalPoints, VertexBlend
from lightsim.tracer.pack import Packed, pack_bodies
from lightsim.tracer.vertex_groups import Groups, evenness, group, neighbours

POINTS = 1500  # gathering points on the petal, about
ROUNDS = 6  # of light between petal and petal
MANY_DROPS = 500  # beyond so many, light between a drop and the petal round it is known more coarsely
BASE_RAYS = 48_000  # from one place of each base, for all drops together
FINE = Detail(grid=10, rings=12, spokes=16, base_rays=48, ring_rays=1536, far_rays=6)


@dataclass(frozen=True)
class IndirectTransfer:
    """What indirect light needs and no lamp changes. around : points, drops, boards and dome. blend : from
    points to vertices. drops : of those of each contact angle. areas : that each place stands for. samples :
    paths a pixel."""

    around: Surroundings
    blend: VertexBlend
    detail: Detail
    drops: tuple[DropTransfer, ...]
    areas: Areas
    samples: int

    @property
    def points(self) -> PetalPoints:
        """The gathering points."""
        return self.around.points


def prepare(
    stage: Stage,
    packed: Packed,
    boards: Boards,
    dome: NDArray,
    samples: int,
    pause: Callable[[], None],
) -> IndirectTransfer:
    """Spread the gathering points, look around from each, and from every drop's base.

    samples : paths a pixel.  pause : called between the steps.
    """
    points, groups = _points(stage, len(boards.frame))
    petal_radiosity.look_around(len(points.place), packed.petal, points, boards, dome)
    pause()
    nearest = neighbours(stage.petal.vertices, groups, points.place, 8, 0.7 * groups.spacing)
    blend = VertexBlend(*nearest, evenness(stage.petal.normals, points.normal, *nearest))
    many = len(stage.drops)
    detail = detail_for(many)
    foot = packed.petal.face[packed.foot_face]
    foot_point = points.of_vertex[foot[:, 0] if many else np.zeros(0, np.int32)]
    around = Surroundings(packed.petal, packed.drops, points, foot_point, boards, dome)
    return IndirectTransfer(
        around,
        blend,
        detail,
        tuple(_by_contact_angle(stage, packed, around, detail, pause)),
        areas_of(stage, packed, points, detail),
        samples,
    )


def detail_for(drops: int) -> Detail:
    """How finely indirect light is known of so many drops: the more there are, the smaller they are seen."""
    if drops <= MANY_DROPS:
        return FINE
    rays = int(np.clip(BASE_RAYS // drops, 4, FINE.base_rays))
    return replace(FINE, rings=6, spokes=8, base_rays=rays, far_rays=1)


def _by_contact_angle(
    stage: Stage,
    packed: Packed,
    around: Surroundings,
    detail: Detail,
    pause: Callable[[], None],
) -> list[DropTransfer]:
    """The transfer of all drops, those of one contact angle together."""
    foot = packed.petal.face[packed.foot_face]
    angles = np.round(stage.drops.contact_angle_deg, 3)
    found = []
    for angle in np.unique(angles):
        pause()
        members = np.flatnonzero(angles == angle).astype(np.int64)
        of_petal = (
            one[foot[members]].mean(axis=1).astype(float)
            for one in (packed.petal.reflectance, packed.petal.transmittance)
        )
        found.append(transfer_of(float(angle), detail, members, around, *of_petal))
    return found


def under_bodies(transfer: IndirectTransfer, bodies: Sequence[Body]) -> IndirectTransfer:
    """The same where bodies that were not there before hide the dome."""
    body, around = pack_bodies(bodies), transfer.around
    on_points = np.zeros_like(around.points.dome)
    dome_shadow.hide_from_points(len(on_points), around, body, on_points)
    drops = []
    for one in transfer.drops:
        seen = []
        for rays in (one.base_rays, one.far_rays):
            left = np.zeros_like(rays.dome)
            dome_shadow.hide_from_drops(len(left), around, body, rays, left)
            seen.append(rays._replace(dome=left))
        drops.append(replace(one, base_rays=seen[0], far_rays=seen[1]))
    points = around.points._replace(dome=on_points)
    return replace(transfer, around=around._replace(points=points), drops=tuple(drops))


def _points(stage: Stage, boards: int) -> tuple[PetalPoints, Groups]:
    """One gathering point for each occupied cell of a grid in space: the vertex nearest the cell's mean."""
    mesh = stage.petal
    groups = group(mesh, POINTS)
    normal = groups.normal / np.maximum(np.linalg.norm(groups.normal, axis=1, keepdims=True), 1e-12)
    points = PetalPoints(
        np.ascontiguousarray(mesh.vertices[groups.nearest]),
        np.ascontiguousarray(normal),
        groups.reflectance,
        groups.transmittance,
        groups.of_vertex,
        *nothing_seen(len(groups.place), boards),
    )
    return points, groups


def exitance_of(points: PetalPoints, irradiance: NDArray[np.float64]) -> NDArray[np.float64]:
    """What each side of the points sends, per area (n, 2, 3), of the light on both, (n, 2, 1 or 3)."""
    return points.reflectance[:, None] * irradiance + points.transmittance[:, None] * irradiance[:, ::-1]


def nothing_seen(points: int, boards: int) -> tuple[NDArray, NDArray, NDArray]:
    """column, dome and board of so many points, for `look_around` to fill."""
    directions = petal_radiosity.LOOK.petal_directions
    return (
        np.full((points, 2, directions), petal_radiosity.MEETS.environment, dtype=np.int32),
        np.zeros((points, 2)),
        np.zeros((points, 2, boards)),
    )


def interreflect(
    transfer: IndirectTransfer,
    packed: Packed,
    first: FirstIrradiance,
    board_exitance: NDArray[np.float64],
    dome_level: float,
) -> IndirectLight:
    """The indirect light of a layer, from its first irradiance. board_exitance (b, 3) : pi times the boards'
    mean radiance. dome_level : of the dome."""
    points, drops = transfer.points, len(first.base)
    around = _between_points(points, first, board_exitance, dome_level)
    indirect = around + (first.point - first.own_point)[..., None]
    exitance = exitance_of(points, around + first.point[..., None])
    columns = np.concatenate([exitance.reshape(-1, 3), board_exitance])
    foot = packed.petal.face[packed.foot_face, 0]
    behind = first.back[:, None] + _at_vertices(transfer, foot, indirect, exitance)[:, 1]
    detail = transfer.detail
    base = np.zeros((drops, detail.grid**2, 3))
    by_drop = np.zeros((drops, detail.rings * detail.spokes, 3))
    for one in transfer.drops:
        some = one.members
        incident = Incident(
            first.base[some],
            first.ring[some],
            behind[some].astype(float),
            indirect[transfer.around.foot_point[some], 0],
            columns,
            dome_level,
        )
        on_base, to_rings = solve(one, incident, detail.rings)
        base[some] = (on_base - first.own_base[some, None]).transpose(0, 2, 1)
        by_drop[some] = to_rings.transpose(0, 2, 1)
    on_rings = by_drop.reshape(drops, detail.rings, detail.spokes, 3)
    indirect[:, 0] += _beyond_rings(transfer, on_rings)
    rest = (first.ring - first.own_ring).reshape(drops, detail.rings, detail.spokes)
    return IndirectLight(
        _at_vertices(transfer, slice(None), indirect, exitance),
        base.reshape(drops, detail.grid, detail.grid, 3),
        between_rings(packed.rims, on_rings, rest).astype(np.float32),
    )


def _between_points(
    points: PetalPoints, first: FirstIrradiance, board_exitance: NDArray[np.float64], dome_level: float
) -> NDArray[np.float64]:
    """Irradiance on the points' sides (n, 2, 3) by the dome, the boards and one another."""
    boards, dome = points.board @ board_exitance, dome_level * points.dome[..., None]
    share = petal_radiosity.PETAL_SHARES
    column = points.column.reshape(-1, len(share))
    around = np.zeros((len(column), 3))
    total = np.broadcast_to(dome, boards.shape)
    for _ in range(ROUNDS):
        exitance = exitance_of(points, total + first.point[..., None])
        petal_radiosity.gather(len(column), share, column, exitance.reshape(-1, 3), around)
        total = around.reshape(boards.shape) + boards + dome
    return total


def _at_vertices(
    transfer: IndirectTransfer, which: NDArray[np.int32] | slice, irradiance: NDArray, exitance: NDArray
) -> NDArray[np.float32]:
    """Indirect light at some of the mesh's vertices (n, 2, 3)."""
    blend = VertexBlend(*(one[which] for one in transfer.blend))
    light = np.zeros((len(blend.even), 2, 3), dtype=np.float32)
    petal_radiosity.to_vertices(len(light), blend, irradiance, exitance, light)
    return light


def _beyond_rings(transfer: IndirectTransfer, by_drop: NDArray[np.float64]) -> NDArray[np.float64]:
    """What drops send to the points (n, 3) beyond their rings."""
    light = np.zeros((len(transfer.points.place), 3))
    outermost = by_drop[:, -1].mean(axis=1)
    near_transfer.beyond_rings(len(light), transfer.points.place, transfer.around.drops, outermost, light)
    return light

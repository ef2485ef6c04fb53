"""The soft light of a stage: gathering points on the petal, grids on the drops' bases, passing light on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.stage import Body, Stage
from lightsim.tracer.drop_transfer import Shape, far_rays_of, halo_of, shape_of, ways_of
from lightsim.tracer.first_irradiance import MANY_DROPS, Areas, First, areas_of, points_followed, thinned
from lightsim.tracer.kernels import (
    base_transfer,
    dome_shadow,
    far_transfer,
    near_radiosity,
    near_transfer,
    petal_radiosity,
)
from lightsim.tracer.kernels.base_transfer import BaseLight, Lit, Ways
from lightsim.tracer.kernels.emitters import Boards
from lightsim.tracer.kernels.far_transfer import FarLight, FarRays
from lightsim.tracer.kernels.indirect_at_paths import SoftLight
from lightsim.tracer.kernels.petal_radiosity import Points
from lightsim.tracer.pack import Packed, pack_bodies
from lightsim.tracer.vertex_groups import Groups, evenness, group, neighbours

POINTS = 1500  # gathering points on the petal, about
NEIGHBOURS = 8  # points that share in a vertex
SHARING = 0.7  # of the points' spacing, within which they do
ROUNDS = 6  # of light between petal and petal, and base and base
UNSEEN_RAYS = 4  # directions from each point of a base that is out of view, where drops are many
FAR = 6  # ways from a place round a drop by which light from far off, and as many by which what it hides
FALLING = 3  # power of the distance that light from a drop falls off with
BETWEEN = 4  # times as many rings as it is worked out on
AGAIN = 2  # times that bases and the petal round them are worked out from one another


@dataclass(frozen=True)
class SoftStage:
    """What soft light needs and no lamp changes. far: round the drops; even: see
    `kernels.petal_radiosity.to_vertices`; followed (nd,): see `first_irradiance.points_followed`."""

    points: Points
    neighbour: NDArray[np.int32]
    weight: NDArray[np.float32]
    even: NDArray[np.float32]
    grid: int
    rings: int
    spokes: int
    shapes: list[Shape]
    point_of_foot: NDArray[np.int32]
    base: BaseLight
    far: FarLight
    areas: Areas
    in_view: NDArray[np.bool_]
    followed: NDArray[np.int64]
    boards: Boards
    looked: tuple[tuple[NDArray[np.int64], Ways, FarRays], ...]

    @property
    def fine_rings(self) -> int:
        """On how many rings round a drop its light is given."""
        return (self.rings - 1) * BETWEEN + 1


def prepare(
    stage: Stage, packed: Packed, boards: Boards, dome: NDArray, in_view: NDArray[np.bool_], samples: int
) -> SoftStage:
    """Spread the gathering points, look around from each, and from every drop's base.

    in_view : (nd,) of many drops, those that the camera does not see are followed more coarsely.  samples :
    paths a pixel.
    """
    points, groups = _points(stage, len(boards.frame))
    petal_radiosity.look_around(
        len(points.place), packed.petal, points, boards, dome, petal_radiosity.LIFT_MM
    )
    neighbour, weight = neighbours(
        stage.petal.vertices, groups, points.place, NEIGHBOURS, SHARING * groups.spacing
    )
    many = len(stage.drops)
    grid, rays, rings, spokes = (10, 48, 12, 16) if many <= MANY_DROPS else (5, 24, 6, 8)
    far = _empty_far(many, rings * spokes, 2 * (FAR if many <= MANY_DROPS else 1))
    foot_vertex = packed.petal.face[packed.foot_face, 0] if many else np.zeros(0, np.int32)
    point_of_foot = points.of_vertex[foot_vertex]
    seen_rays = thinned(rays, UNSEEN_RAYS, in_view) if many > MANY_DROPS else rays
    angles = np.round(stage.drops.contact_angle_deg, 3)
    coarse = ~in_view & (many > MANY_DROPS)
    kinds = np.unique(np.column_stack([angles, coarse]), axis=0)
    ways = [ways_of(float(angle), grid, UNSEEN_RAYS if few else seen_rays) for angle, few in kinds]
    base = _empty_base(packed, many, grid, max((one.out_share.shape[1] for one in ways), default=0))
    shapes, looked = [], []
    for (angle, few), found in zip(kinds, ways, strict=True):
        members = np.flatnonzero((angles == angle) & (coarse == few)).astype(np.int64)
        base_transfer.look_out(
            len(members),
            packed.petal,
            packed.drops,
            members,
            found,
            rings,
            points,
            point_of_foot,
            boards,
            dome,
            base,
        )
        halo = halo_of(float(angle), rings, rays, grid)
        far_rays = far_rays_of(halo, spokes, far.met.shape[2] // 2)
        far_transfer.look_far(
            len(members),
            packed.petal,
            packed.drops,
            members,
            far_rays,
            points,
            point_of_foot,
            boards,
            dome,
            far,
        )
        looked.append((members, found, far_rays))
        shapes.append(shape_of(members, found, halo, far_rays.share, grid, spokes))
    areas = areas_of(stage, packed, points, grid, rings, spokes)
    even = evenness(stage.petal.normals, points.normal, neighbour, weight)
    followed = points_followed(in_view, samples)
    return SoftStage(
        points, neighbour, weight, even, grid, rings, spokes, shapes, point_of_foot, base, far, areas,
        in_view, followed, boards, tuple(looked),
    )  # fmt: skip


def under_bodies(soft: SoftStage, packed: Packed, bodies: Sequence[Body], dome: NDArray) -> SoftStage:
    """The same where bodies that were not there before hide the dome."""
    body, points = pack_bodies(bodies), soft.points
    on_points, on_base, on_far = (np.zeros_like(one) for one in (points.dome, soft.base.dome, soft.far.dome))
    dome_shadow.hide_from_points(
        len(points.place), points, soft.boards, body, dome, petal_radiosity.LIFT_MM, on_points
    )
    for members, found, rays in soft.looked:
        dome_shadow.hide_from_bases(
            len(members), packed.drops, members, found, soft.boards, body, dome, soft.base, on_base
        )
        dome_shadow.hide_from_rings(
            len(members), packed.drops, members, rays, soft.boards, body, dome, soft.far, on_far
        )
    return replace(
        soft,
        points=points._replace(dome=on_points),
        base=soft.base._replace(dome=on_base),
        far=soft.far._replace(dome=on_far),
    )


def _points(stage: Stage, boards: int) -> tuple[Points, Groups]:
    """One gathering point for each occupied cell of a grid in space: the vertex nearest the cell's mean."""
    mesh = stage.petal
    groups = group(mesh, POINTS)
    many = len(groups.place)
    normal = groups.normal / np.maximum(np.linalg.norm(groups.normal, axis=1, keepdims=True), 1e-12)
    points = Points(
        np.ascontiguousarray(mesh.vertices[groups.nearest]),
        np.ascontiguousarray(normal),
        groups.reflectance,
        groups.transmittance,
        groups.of_vertex,
        *nothing_seen(many, boards),
    )
    return points, groups


def sent_on(points: Points, light: NDArray[np.float64]) -> NDArray[np.float64]:
    """What each side of the points sends, per area (n, 2, 3), of the light on both, (n, 2, 1 or 3)."""
    return points.reflectance[:, None] * light + points.transmittance[:, None] * light[:, ::-1]


def nothing_seen(points: int, boards: int) -> tuple[NDArray, NDArray, NDArray, NDArray]:
    """met, met_side, dome and board of so many points, for `look_around` to fill."""
    return (
        np.full((points, 2, petal_radiosity.AROUND), petal_radiosity.ENVIRONMENT, dtype=np.int32),
        np.zeros((points, 2, petal_radiosity.AROUND), dtype=np.uint8),
        np.zeros((points, 2)),
        np.zeros((points, 2, boards)),
    )


def _empty_base(packed: Packed, many: int, grid: int, outs: int) -> BaseLight:
    nodes = grid * grid
    foot = packed.petal.face[packed.foot_face]
    return BaseLight(
        np.full((many, nodes, outs), -9, dtype=np.int32),
        np.zeros((many, nodes, outs), dtype=np.uint8),
        np.zeros((many, nodes, outs, 2), dtype=np.float32),
        np.zeros((many, nodes)),
        packed.petal.reflectance[foot].mean(axis=1).astype(float).reshape(many, 3),
        packed.petal.transmittance[foot].mean(axis=1).astype(float).reshape(many, 3),
    )


def _empty_far(many: int, places: int, rays: int) -> FarLight:
    return FarLight(
        np.full((many, places, rays), petal_radiosity.ENVIRONMENT, dtype=np.int32),
        np.zeros((many, places, rays), dtype=np.uint8),
        np.zeros((many, places)),
    )


def spread(
    soft: SoftStage,
    packed: Packed,
    first: First,
    board_exitance: NDArray[np.float64],
    dome_share: float,
) -> SoftLight:
    """Pass a layer's first light around. board_exitance : (b, 3) pi times the boards' mean radiance."""
    many = len(soft.points.place)
    straight = np.repeat(first.point[:, :, None], 3, axis=2)
    dome = dome_share * np.repeat(soft.points.dome[:, :, None], 3, axis=2)
    around = np.zeros((many, 2, 3))
    after = np.zeros((many, 2, 3))
    for _ in range(ROUNDS):
        petal_radiosity.pass_around(many, soft.points, straight, board_exitance, after, around + dome)
        around, after = after, around
    total = around + dome + (first.point - first.own_point)[:, :, None]
    whole = straight + around + dome
    sent = sent_on(soft.points, whole)
    foot = packed.petal.face[packed.foot_face, 0]
    back = first.back[:, None] + _at_vertices(soft, foot, total, sent)[:, 1]
    drops = len(first.base)
    base, glow = np.zeros((drops, soft.grid**2, 3)), np.zeros((drops, soft.rings * soft.spokes, 3))
    lit = Lit(np.repeat(first.ring[:, :, None], 3, axis=2), back.astype(float), total, sent, board_exitance)
    for shape in soft.shapes:
        _settle(soft, shape, lit, first, dome_share, base, glow)
    total[:, 0] += _afar(soft, packed, glow)
    vertex = _at_vertices(soft, slice(None), total, sent)
    rest = first.ring - first.own_ring
    fine = np.zeros((drops, soft.fine_rings, soft.spokes, 3), dtype=np.float32)
    size = drops, soft.rings, soft.spokes
    near_transfer.between_rings(
        drops, packed.rims, glow.reshape(*size, 3), rest.reshape(size), float(FALLING), fine
    )
    return SoftLight(vertex, base.reshape(drops, soft.grid, soft.grid, 3), fine)


def _at_vertices(
    soft: SoftStage, which: NDArray[np.int32] | slice, total: NDArray, sent: NDArray
) -> NDArray[np.float32]:
    """Soft light at some of the mesh's vertices (n, 2, 3)."""
    neighbour, weight, even = soft.neighbour[which], soft.weight[which], soft.even[which]
    light = np.zeros((len(neighbour), 2, 3), dtype=np.float32)
    petal_radiosity.to_vertices(len(light), neighbour, weight, even, total, sent, light)
    return light


def _afar(soft: SoftStage, packed: Packed, glow: NDArray) -> NDArray[np.float64]:
    """What drops throw on the points (n, 3) beyond their rings."""
    edge = glow.reshape(len(glow), soft.rings, soft.spokes, 3)[:, -1].mean(axis=1)
    afar = np.zeros((len(soft.points.place), 3))
    far_transfer.glow_afar(len(afar), soft.points.place, packed.drops, edge, afar)
    return afar


def _settle(
    soft: SoftStage,
    shape: Shape,
    lit: Lit,
    first: First,
    dome_share: float,
    base: NDArray[np.float64],
    glow: NDArray[np.float64],
) -> None:
    """Soft light on the bases of one shape's drops, base (nd, nodes, 3), and on the petal round them, glow
    (nd, places, 3)."""
    foot, near = soft.point_of_foot, shape.petal.sum(axis=1)
    many, distant = len(shape.members), np.zeros_like(glow)
    far_transfer.from_far(many, shape.members, shape.far, soft.far, lit.sent, lit.board_exitance, distant)
    distant += dome_share * soft.far.dome[..., None]
    settling = near_radiosity.Settling(
        shape.members,
        shape.thrown,
        shape.back,
        shape.base,
        shape.petal,
        near,
        near + shape.base.sum(axis=1),
        ROUNDS,
        soft.base.reflectance,
        soft.base.transmittance,
        first.base + dome_share * soft.base.dome,
        first.own_base,
        lit.back,
        lit.around,
        distant,
        lit.soft[foot, 0],
    )
    outside = np.zeros_like(base)
    around = lit.around + glow
    for _ in range(AGAIN):
        round_them = around.reshape(len(glow), soft.rings, soft.spokes, 3)
        lit = lit._replace(around=round_them)
        base_transfer.from_outside(
            many, shape.members, shape.out, soft.base, lit, soft.rings, soft.spokes, outside
        )
        near_radiosity.settle(many, settling, outside, base, glow, around)

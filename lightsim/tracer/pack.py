"""From a stage to the plain arrays that the kernels take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.constants import CUTICLE_INDEX
from lightsim.optics.fresnel import reflectance
from lightsim.scene.obstruction import cut_by
from lightsim.scene.stage import Body, DropSet, Face, PetalMesh, Stage
from lightsim.tracer.kernels import mesh_layout, near_drops
from lightsim.tracer.kernels.bodies import COLUMNS
from lightsim.tracer.kernels.box_tree import build_tree
from lightsim.tracer.kernels.drop_spheres import Drops
from lightsim.tracer.kernels.emitters import Boards, Lamp
from lightsim.tracer.kernels.petal_mesh import Petal
from lightsim.tracer.kernels.simd import TRIANGLES

FINEST = 6  # quadrature points along the side of a wide face
PATCHES = 16  # along each side of a card or the backdrop


@dataclass(frozen=True)
class Packed:
    """The parts of a stage that stay while lights move. foot_face (n,) int32: the face under each drop."""

    petal: Petal
    drops: Drops
    foot_face: NDArray[np.int32]
    rims: NDArray[np.float64]


def pack(stage: Stage) -> Packed:
    """Pack petal and drops, with their trees."""
    petal = pack_petal(stage.petal)
    drops = pack_drops(stage.drops)
    foot_face = np.full(len(stage.drops), -1, dtype=np.int32)
    near_drops.faces_under(len(drops.radius), petal, drops.foot, drops.normal, drops.radius, foot_face)
    rims = np.sin(np.radians(stage.drops.contact_angle_deg))
    return Packed(petal, drops, foot_face, rims)


def pack_petal(mesh: PetalMesh) -> Petal:
    """The petal's triangles in the order of their tree."""
    vertices, faces, many = mesh.vertices, mesh.faces, len(mesh.faces)
    boxes = np.zeros((many, 6), dtype=np.float32)
    mesh_layout.face_boxes(many, vertices, faces, boxes)
    tree = build_tree(boxes)
    leaves = -(-many // TRIANGLES)
    lanes = np.zeros((leaves, 9, TRIANGLES), dtype=np.float32)
    face = np.zeros((leaves * TRIANGLES, 3), dtype=np.int32)
    mesh_layout.lay_out(many, vertices, faces, tree.order, lanes, face)
    return Petal(
        tree.box,
        tree.link,
        lanes,
        face,
        _f4(mesh.normals),
        _f4(mesh.reflectance),
        _f4(mesh.transmittance),
        float(mesh.gloss),
        max(0.05, float(mesh.gloss_roughness)),
        _mean_gloss(mesh.gloss),
    )


def _mean_gloss(gloss: float) -> float:
    """Share of diffuse light that the gloss mirrors: cosine-weighted mean of the Fresnel reflectance."""
    x, w = np.polynomial.legendre.leggauss(32)
    cosine = 0.5 * (x + 1.0)
    mirrored = reflectance(np.degrees(np.arccos(cosine)), CUTICLE_INDEX)
    return float(gloss * np.sum(w * cosine * mirrored))


def pack_drops(drops: DropSet) -> Drops:
    """The drops and their tree."""
    centre = np.ascontiguousarray(drops.centre, dtype=np.float64).reshape(-1, 3)
    radius = np.ascontiguousarray(drops.radius, dtype=np.float64)
    reach = radius[:, None]
    tree = build_tree(_f4(np.concatenate([centre - reach, centre + reach], axis=1)))
    foot = np.ascontiguousarray(drops.foot, dtype=np.float64).reshape(-1, 3)
    normal = np.ascontiguousarray(drops.normal, dtype=np.float64).reshape(-1, 3)
    return Drops(centre, radius, foot, normal, *tree, _gaps(centre, radius))


def _gaps(centre: NDArray[np.float64], radius: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n,) below the distance between each sphere and the next, 0 where they cut one another."""
    from scipy.spatial import cKDTree

    if len(radius) < 2:
        return np.full(len(radius), np.inf)
    many = min(9, len(radius))  # itself and eight neighbours
    distance, other = cKDTree(centre).query(centre, k=many)
    gap = (distance - radius[other])[:, 1:].min(axis=1)
    if many < len(radius):
        gap = np.minimum(gap, distance[:, -1] - radius.max())
    return np.maximum(gap - radius, 0.0)


def pack_face(face: Face, radiance: NDArray[np.float64], finest: int = FINEST) -> Lamp:
    """A glowing face with its quadrature points, as many as its size at its distance needs, at most
    `finest` along a side.

    radiance : (p, p) cd/m2 per unit of output, row 0 at the bottom.
    """
    width, height = face.half_width_mm, face.half_height_mm
    spread = float(np.hypot(width, height)) if not face.round else width
    order = min(_order_for(spread / float(np.linalg.norm(face.centre))), finest)
    x, y, share = _disc_nodes(order) if face.round else _square_nodes(order)
    node = face.centre + np.outer(x * width, face.right) + np.outer(y * height, face.up)
    p = len(radiance)
    row = np.clip(((y + 1.0) * 0.5 * p).astype(int), 0, p - 1)
    column = np.clip(((x + 1.0) * 0.5 * p).astype(int), 0, p - 1)
    flux = radiance[row, column] * share * face.whole_area_mm2
    return Lamp(
        np.concatenate([face.centre, face.right, face.up, face.out]).astype(float),
        np.array([width, height, float(face.round), face.whole_area_mm2, spread]),
        np.ascontiguousarray(radiance, dtype=np.float64),
        np.ascontiguousarray(node),
        np.ascontiguousarray(flux),
    )


def _order_for(ratio: float) -> int:
    return 2 if ratio < 0.1 else (3 if ratio < 0.3 else FINEST)


def _square_nodes(order: int) -> tuple[NDArray, NDArray, NDArray]:
    """Gauss-Legendre points on the square -1..1 and their shares of its area."""
    x, w = np.polynomial.legendre.leggauss(order)
    shares = np.outer(w, w) / 4.0
    grid_y, grid_x = np.meshgrid(x, x, indexing="ij")
    return grid_x.ravel(), grid_y.ravel(), shares.ravel()


def _disc_nodes(order: int) -> tuple[NDArray, NDArray, NDArray]:
    """Points on the unit disc: Gauss-Legendre in the squared radius, even in angle; shares of its area."""
    x, w = np.polynomial.legendre.leggauss(order)
    radius = np.sqrt(0.5 * (x + 1.0))
    turns = 2 * order + 1
    angle = 2.0 * np.pi * (np.arange(turns) + 0.5) / turns
    shares = np.repeat(w / 2.0, turns) / turns
    return np.outer(radius, np.cos(angle)).ravel(), np.outer(radius, np.sin(angle)).ravel(), shares


def pack_boards(faces: list[Face], glows: list[NDArray[np.float64]], bodies: Sequence[Body] = ()) -> Boards:
    """Some faces and what they send, glows of (PATCHES, PATCHES, 3), and solid bodies."""
    frame = np.zeros((len(faces), 12))
    size = np.zeros((len(faces), 3))
    glow = np.zeros((len(faces), PATCHES, PATCHES, 3))
    for i, (face, sent) in enumerate(zip(faces, glows, strict=True)):
        frame[i] = np.concatenate([face.centre, face.right, face.up, face.out])
        size[i] = face.half_width_mm, face.half_height_mm, float(face.round)
        glow[i] = sent
    return Boards(frame, size, glow, pack_bodies(bodies))


def pack_bodies(bodies: Sequence[Body]) -> NDArray[np.float64]:
    """Solid bodies as `kernels.bodies` takes them, (n, COLUMNS)."""
    packed = np.zeros((len(bodies), COLUMNS))
    for row, body in zip(packed, bodies, strict=True):
        half = np.array([body.half_width_mm, body.half_height_mm, body.half_depth_mm])
        row[:12] = np.concatenate([body.centre, body.right, body.up, body.out])
        row[12:15], row[15], row[16] = half, float(body.round), half @ half
    return packed


def patch_places(face: Face, patches: int = PATCHES) -> NDArray[np.float64]:
    """Centres of a face's patches, (patches, patches, 3), row 0 at the bottom."""
    t = (np.arange(patches) + 0.5) / patches * 2.0 - 1.0
    across = t[None, :, None] * face.half_width_mm * face.right
    upward = t[:, None, None] * face.half_height_mm * face.up
    return face.centre + across + upward


def irradiance_on(face: Face, sources: list[Lamp], bodies: Sequence[Body] = ()) -> NDArray[np.float64]:
    """Irradiance on the front of a face's patches from glowing faces past some bodies, (PATCHES, PATCHES)."""
    places = patch_places(face)
    total = np.zeros(places.shape[:2])
    for source in sources:
        to = source.node - places[..., None, :]
        r2 = np.sum(to * to, axis=-1)
        leaving = np.maximum(0.0, -(to @ source.frame[9:]))
        arriving = np.maximum(0.0, to @ face.out)
        cut = cut_by(bodies, places[..., None, :], source.node)
        total += np.sum(np.where(cut, 0.0, source.flux * leaving * arriving / r2**2), axis=-1)
    return total


def _f4(array: NDArray) -> NDArray[np.float32]:
    return np.ascontiguousarray(array, dtype=np.float32)

"""A petal from a mesh file: any that trimesh reads, with its vertex colours or its texture."""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, radians, sin
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lightsim.errors import SceneError
from lightsim.scene.file.check import MOST_TRIANGLES
from lightsim.scene.file.messages import shown
from lightsim.scene.petal.mesh_source import KNOWN, loaded_mesh
from lightsim.scene.petal.shape import gradient
from lightsim.scene.petal.size import LEAST_MM, MOST_MM, helpful_scale, size_words, unit_mm
from lightsim.scene.petal.split import split_long_edges
from lightsim.scene.petal.surface import same_place
from lightsim.scene.petal.texture import Part, colours, part_of
from lightsim.scene.records import XYZ, Petal
from lightsim.scene.stage import PetalMesh

BLOCK = 250_000  # faces that are worked on at a time
MOST_LIGHT = 0.98  # reflected and let through together, at most


def petal_from_file(petal: Petal) -> PetalMesh:
    """The mesh of `petal.file`: scaled, rotated, its front toward +z, its bounding box centred on the origin.

    Raises SceneError when the file does not load, has no faces, or has vertices that are not numbers.
    """
    assert petal.file is not None
    parts = _parts(petal)
    scale = unit_mm(petal.file) if petal.scale is None else petal.scale
    vertices = _concatenated([part.vertices for part in parts], 3) * scale
    starts = np.cumsum([0] + [len(part.vertices) for part in parts])
    faces = np.concatenate([part.faces + start for part, start in zip(parts, starts[:-1], strict=True)])
    used = _refuse_bad(vertices, faces, petal.file)
    faces = faces.astype(np.int32)
    _refuse_size(vertices[used], scale, petal.file)
    del used
    vertices = _centred(vertices @ rotation(petal.rotate_deg).T)
    faces = facing_front(vertices, _with_area(vertices, faces, petal.file))
    normals = smooth_normals(vertices, faces)
    if all(part.uv is None and part.rgb is None for part in parts):
        del parts
        return _plain(petal, vertices, normals, faces)
    owner = np.repeat(np.arange(len(parts)), np.diff(starts)).astype(float)
    uv = _concatenated([part.uv_or_zero() for part in parts], 2)
    rgb = _concatenated([part.rgb_or_nan() for part in parts], 3)
    carried = np.column_stack([vertices, normals, uv, rgb, owner])
    if any(part.image is not None for part in parts):
        carried, faces = _refined(carried, faces, petal)
    return _finished(petal, carried, faces, parts)


def _plain(petal: Petal, vertices: NDArray, normals: NDArray, faces: NDArray) -> PetalMesh:
    """A mesh without colours: corners that stand in one place are one vertex."""
    first, same = same_place(vertices)
    vertices, normals, faces = vertices[first], normals[first], same[faces]
    return _with_colours(petal, vertices, normals, faces, plain_colours(petal, vertices))


def _parts(petal: Petal) -> list[Part]:
    """The geometries of a file, each moved to its place in the file's scene."""
    file = petal.file
    assert file is not None
    scale = unit_mm(file) if petal.scale is None else petal.scale
    try:
        loaded = loaded_mesh(file, allow_lacking=petal.reflectance is not None)
        parts = [
            part_of(loaded.geometry[name], transform, petal.mesh_spacing_mm / scale)
            for transform, name in (loaded.graph[node] for node in loaded.graph.nodes_geometry)
        ]
    except (SceneError, MemoryError):
        raise
    except Exception as error:  # readers of many formats fail in as many ways
        raise SceneError(
            f"petal.file: found {shown(file)}, which does not load ({_reason(error, file)}), allowed {KNOWN}"
        ) from None
    kept = [part for part in parts if len(part.faces)]
    if not kept:
        raise SceneError(f"petal.file: found {shown(file)}, which has no faces, allowed {KNOWN}")
    return kept


def _reason(error: Exception, file: Path) -> str:
    """Why a file does not load, in our words: those of libraries are advice to programmers."""
    if isinstance(error, ImportError):
        needs = f"takes the package {error.name}" if error.name else "takes a package more"
        return f"reading a {file.suffix.lower()} file {needs}, which is not installed"
    if isinstance(error, RecursionError):
        return "it is nested too deeply"
    return f"its contents are not those of a {file.suffix.lower()} file"


def _concatenated(arrays: list[NDArray], columns: int) -> NDArray[np.float64]:
    return np.concatenate(arrays).reshape(-1, columns).astype(np.float64)


def _refuse_bad(vertices: NDArray, faces: NDArray, file: Path) -> NDArray[np.bool_]:
    """Which vertices the faces use, (n,); SceneError for faces or vertices that cannot be."""
    if faces.min() < 0 or faces.max() >= len(vertices):
        raise SceneError(
            f"petal.file: found {shown(file)}, whose faces name vertices it does not have, allowed {KNOWN}"
        )
    used = np.zeros(len(vertices), dtype=bool)
    used[faces] = True
    bad = int(np.count_nonzero(used & ~np.isfinite(vertices).all(axis=1)))
    if bad:
        raise SceneError(
            f"petal.file: found {shown(file)}, in which {bad} vertices are not finite numbers, "
            f"allowed {KNOWN}"
        )
    return used


def _refuse_size(vertices: NDArray, scale: float, file: Path) -> None:
    largest = float(np.ptp(vertices, axis=0).max())
    if largest > 0.0 and not LEAST_MM <= largest <= MOST_MM:
        raise SceneError(
            f"petal.scale: found {scale:g}, which makes {shown(file)} {size_words(vertices)}, allowed one "
            f"that makes it {LEAST_MM:g} to {MOST_MM:g} mm ({helpful_scale(largest, scale)})"
        )


def _with_area(vertices: NDArray, faces: NDArray, file: Path) -> NDArray[np.int32]:
    """The faces that have an area; those drawn together into a line or a point are left out."""
    size = np.concatenate([np.linalg.norm(_crossed(vertices, some), axis=1) for some in _blocks(faces)])
    if size.max() <= 0.0:
        raise SceneError(f"petal.file: found {shown(file)}, whose faces have no area, allowed {KNOWN}")
    return faces[size > 1e-12 * float(size.max())].astype(np.int32, copy=False)


def _blocks(faces: NDArray) -> Iterator[NDArray]:
    """The faces some at a time, so that what is worked out of their corners takes little memory."""
    for start in range(0, len(faces), BLOCK):
        yield faces[start : start + BLOCK]


def _centred(vertices: NDArray) -> NDArray:
    return vertices - 0.5 * (vertices.min(axis=0) + vertices.max(axis=0))


def rotation(degrees: XYZ) -> NDArray[np.float64]:
    """Rotation (3, 3) about x, then y, then z, right-handed."""
    (cx, sx), (cy, sy), (cz, sz) = ((cos(radians(angle)), sin(radians(angle))) for angle in degrees)
    about_x = np.array([[1, 0, 0], [0, cx, -sx], [0, sx, cx]])
    about_y = np.array([[cy, 0, sy], [0, 1, 0], [-sy, 0, cy]])
    about_z = np.array([[cz, -sz, 0], [sz, cz, 0], [0, 0, 1]])
    return about_z @ about_y @ about_x


def facing_front(vertices: NDArray, faces: NDArray) -> NDArray[np.int32]:
    """The faces wound so that normals point toward +z on average, or outward for a closed mesh."""
    toward = size = volume = 0.0  # twice the area seen along z, twice the area, six times the volume
    for some in _blocks(faces):
        crossed = _crossed(vertices, some)
        toward += float(crossed[:, 2].sum())
        size += float(np.linalg.norm(crossed, axis=1).sum())
        volume += float(np.einsum("ij,ij->", vertices[some[:, 0]], crossed))
    if abs(toward) < 1e-6 * size:
        toward = volume
    return faces[:, ::-1].copy() if toward < 0.0 else faces


def smooth_normals(vertices: NDArray, faces: NDArray) -> NDArray[np.float64]:
    """Unit vertex normals (n, 3), each face weighted by its angle at the vertex; seams count as joined.

    Thuermer and Wuethrich, Computing vertex normals from polygonal facets, J. Graphics Tools 3 (1998) 43.
    """
    first, same = same_place(vertices)
    total = np.zeros((len(first), 3))
    for some in _blocks(faces):
        corner = vertices[some]
        flat = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
        flat /= np.linalg.norm(flat, axis=1, keepdims=True)
        for k in range(3):
            a, b = corner[:, (k + 1) % 3] - corner[:, k], corner[:, (k + 2) % 3] - corner[:, k]
            angle = np.arctan2(np.linalg.norm(np.cross(a, b), axis=1), np.einsum("ij,ij->i", a, b))
            np.add.at(total, same[some[:, k]], angle[:, None] * flat)
    length = np.linalg.norm(total, axis=1, keepdims=True)
    unit = np.where(length > 1e-9, total / np.maximum(length, 1e-9), [0.0, 0.0, 1.0])
    return unit[same]


def _crossed(vertices: NDArray, faces: NDArray) -> NDArray:
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    return np.cross(b - a, c - a)


def _refined(carried: NDArray, faces: NDArray, petal: Petal) -> tuple[NDArray, NDArray]:
    """Edges halved until none is longer than mesh_spacing_mm, so that the vertices can hold the texture."""
    result = split_long_edges(carried, faces, petal.mesh_spacing_mm, MOST_TRIANGLES)
    if result is None:
        raise SceneError(
            f"petal.mesh_spacing_mm: found {petal.mesh_spacing_mm:g} mm, which makes more than "
            f"{MOST_TRIANGLES:,} triangles of {shown(petal.file)}, allowed a coarser spacing"
        )
    return result


def _finished(petal: Petal, carried: NDArray, faces: NDArray, parts: list[Part]) -> PetalMesh:
    plain = plain_colours(petal, carried[:, :3])
    reflectance = colours(carried[:, 6:8], carried[:, 8:11], carried[:, 11].round().astype(int), parts, plain)
    return _with_colours(petal, carried[:, :3], carried[:, 3:6], faces, reflectance)


def _share_from_foot(vertices: NDArray) -> NDArray:
    """0 at the foot, 1 at the tip, (n,)."""
    return 0.5 + vertices[:, 1] / max(float(np.ptp(vertices[:, 1])), 1e-12)


def plain_colours(petal: Petal, vertices: NDArray) -> NDArray:
    """Reflectances (n, 3) where the file has no colours: those of the keys."""
    if petal.reflectance is not None:
        return np.broadcast_to(np.array(petal.reflectance, dtype=np.float32), (len(vertices), 3))
    return gradient(_share_from_foot(vertices), petal.reflectance_foot, petal.reflectance_tip)


def _with_colours(
    petal: Petal, vertices: NDArray, normals: NDArray, faces: NDArray, reflectance: NDArray
) -> PetalMesh:
    normals = normals / np.linalg.norm(normals, axis=1, keepdims=True)
    reflectance = np.clip(reflectance, 0.0, MOST_LIGHT)
    share = _share_from_foot(vertices)
    through = gradient(share, petal.transmittance_foot, petal.transmittance_tip)
    return PetalMesh(
        vertices=np.ascontiguousarray(vertices),
        faces=np.ascontiguousarray(faces, dtype=np.int32),
        normals=normals,
        reflectance=reflectance.astype(np.float32),
        transmittance=tinted(through, reflectance).astype(np.float32),
        gloss=petal.gloss,
        gloss_roughness=petal.gloss_roughness,
    )


def tinted(through: NDArray, reflectance: NDArray) -> NDArray:
    """Transmittances (n, 3): their strongest channel's amount in the hue of the reflectance.

    What is let through takes the colour of what is reflected, since the same pigment filters both; the sum
    stays at most MOST_LIGHT.
    """
    strongest = reflectance.max(axis=1, keepdims=True)
    hue = np.divide(reflectance, strongest, out=np.ones_like(reflectance), where=strongest > 0.0)
    amount = through.max(axis=1, keepdims=True)
    return np.minimum(amount * hue, MOST_LIGHT - reflectance)

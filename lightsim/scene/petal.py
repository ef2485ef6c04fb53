"""A petal in its own frame: x across, y from foot to tip, its front toward +z; millimetres."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.forms import FORMS
from lightsim.scene.outline import flat_mesh
from lightsim.scene.records import RGB, Petal
from lightsim.scene.stage import PetalMesh


def petal_sheet(petal: Petal) -> PetalMesh:
    """The petal of a form built here, centred on its own origin, before turn and tilt."""
    xy, faces = flat_mesh(petal.outline, petal.width_mm, petal.length_mm, petal.mesh_spacing_mm)
    z, slope = _form_height(petal, xy)
    share = 0.5 + xy[:, 1] / petal.length_mm
    return PetalMesh(
        vertices=np.column_stack([xy, z]),
        faces=faces,
        normals=normals_from_slopes(slope),
        reflectance=gradient(share, petal.reflectance_foot, petal.reflectance_tip),
        transmittance=gradient(share, petal.transmittance_foot, petal.transmittance_tip),
        gloss=petal.gloss,
        gloss_roughness=petal.gloss_roughness,
    )


def _form_height(petal: Petal, xy: NDArray) -> tuple[NDArray, NDArray]:
    """Heights (n,) mm and slopes dz/dx, dz/dy (n, 2) of the smooth form."""
    half = 0.5 * np.array([petal.width_mm, petal.length_mm])
    depth = 0.5 * petal.curl * petal.width_mm
    z, z_u, z_v = FORMS[petal.form](xy[:, 0] / half[0], xy[:, 1] / half[1], petal.ruffles)
    return depth * z, depth * np.column_stack([z_u, z_v]) / half


def normals_from_slopes(slope: NDArray) -> NDArray:
    """Unit normals (n, 3) of z(x, y), toward +z, from its slopes (n, 2)."""
    normals = np.column_stack([-slope, np.ones(len(slope))])
    return normals / np.linalg.norm(normals, axis=1, keepdims=True)


def gradient(share: NDArray, foot: RGB, tip: RGB) -> NDArray[np.float32]:
    """Colours (n, 3) between foot (share 0) and tip (share 1), eased at both ends."""
    t = np.clip(share, 0.0, 1.0)
    t = (t * t * (3.0 - 2.0 * t))[:, None]
    return ((1.0 - t) * np.array(foot) + t * np.array(tip)).astype(np.float32)

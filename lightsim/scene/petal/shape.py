"""A petal in its own frame: x across, y from foot to tip, its front toward +z; millimetres."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.petal.forms import FORMS
from lightsim.scene.petal.outline import flat_mesh
from lightsim.scene.petal.veins import Relief, vein_relief
from lightsim.scene.petal.wrinkles import flecks, skin_relief
from lightsim.scene.records import RGB, Petal
from lightsim.scene.stage import PetalMesh


def petal_sheet(petal: Petal) -> PetalMesh:
    """The petal of a form built here, centred on its own origin, before turn and tilt.

    The relief of veins and skin stands on the smooth form as heights along z; normals are those of the
    displaced surface, in closed form.
    """
    xy, faces = flat_mesh(petal.outline, petal.width_mm, petal.length_mm, petal.mesh_spacing_mm)
    z, slope = form_height(petal, xy)
    veins = vein_relief(petal, xy)
    if petal.relief_mm > 0.0:
        skin = skin_relief(petal, xy)
        z = z + petal.relief_mm * (veins.height + skin.height)
        slope = slope + petal.relief_mm * (veins.slope + skin.slope)
    share, dark = 0.5 + xy[:, 1] / petal.length_mm, _darkening(petal, xy, veins)
    return PetalMesh(
        vertices=np.column_stack([xy, z]),
        faces=faces,
        normals=normals_from_slopes(slope),
        reflectance=_deepened(gradient(share, petal.reflectance_foot, petal.reflectance_tip), dark),
        transmittance=_deepened(gradient(share, petal.transmittance_foot, petal.transmittance_tip), dark),
        gloss=petal.gloss,
        gloss_roughness=petal.gloss_roughness,
    )


def _darkening(petal: Petal, xy: NDArray, veins: Relief) -> NDArray[np.float32]:
    """Factor (n, 1) on the petal's light that draws its veins and flecks."""
    factor = 1.0 - petal.vein_strength * veins.dark
    if petal.mottle > 0.0:
        factor = factor * (1.0 - petal.mottle * flecks(petal, xy))
    return factor.astype(np.float32)[:, None]


def _deepened(colour: NDArray, dark: NDArray) -> NDArray[np.float32]:
    """Colours (n, 3) darkened by factors (n, 1) as by more of the same pigment: most where most is absorbed.

    The factor is raised, in each channel, to the channel's absorption over the mean absorption, held between
    a half and one and a half.
    """
    absorbed = 1.0 - colour
    mean = absorbed.mean(axis=1, keepdims=True)
    power = np.divide(absorbed, mean, out=np.ones_like(colour), where=mean > 0.0)
    return (colour * dark ** np.clip(power, 0.5, 1.5)).astype(np.float32)


def form_height(petal: Petal, xy: NDArray) -> tuple[NDArray, NDArray]:
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

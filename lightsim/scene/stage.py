"""The set in world coordinates: what `build` makes of a `Scene`, as plain arrays.

The origin is the point of sharp focus, +z toward the lens, +x right, +y up in the picture; millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.optics.lens_records import CameraGeometry


@dataclass(frozen=True)
class PetalMesh:
    """Triangles with smooth normals and a colour at each vertex.

    vertices : (nv, 3) float64, mm.  faces : (nf, 3) int32, counter-clockwise seen from the petal's front.
    normals : (nv, 3) float64, unit, toward the front.
    reflectance, transmittance : (nv, 3) float32, diffuse, 0..1, sum at most 1.
    gloss, gloss_roughness : float.
    """

    vertices: NDArray[np.float64]
    faces: NDArray[np.int32]
    normals: NDArray[np.float64]
    reflectance: NDArray[np.float32]
    transmittance: NDArray[np.float32]
    gloss: float = 0.0
    gloss_roughness: float = 0.35


@dataclass(frozen=True)
class DropSet:
    """Spheres of water cut by the petal.

    centre : (n, 3) float64, mm, of the sphere.  radius : (n,) float64, mm.
    foot : (n, 3) float64, the petal's point below the drop.  normal : (n, 3) float64, the petal's there.
    contact_angle_deg : (n,) float64; centre = foot - radius cos(contact angle) normal.
    wanted : how many the scene asked for (more than n when not all found a place).
    """

    centre: NDArray[np.float64]
    radius: NDArray[np.float64]
    foot: NDArray[np.float64]
    normal: NDArray[np.float64]
    contact_angle_deg: NDArray[np.float64]
    wanted: int

    def __len__(self) -> int:
        return len(self.radius)


@dataclass(frozen=True)
class Face:
    """A flat rectangle or disc in space: a light's face, a card, the backdrop.

    centre : (3,) mm.  right, up, out : (3,) unit vectors, `out` is the face's normal.
    half_width_mm, half_height_mm : half sizes (both the radius when round).
    hole_mm : radius of a ring's hole; 0 for a whole face.
    """

    centre: NDArray[np.float64]
    right: NDArray[np.float64]
    up: NDArray[np.float64]
    out: NDArray[np.float64]
    half_width_mm: float
    half_height_mm: float
    round: bool = False
    hole_mm: float = 0.0

    @property
    def shape(self) -> str:
        """ "rectangle", "round" or "ring"."""
        return "ring" if self.hole_mm > 0.0 else "round" if self.round else "rectangle"

    @property
    def size_mm(self) -> tuple[float, float, float]:
        """Full width and height, and the width of the hole."""
        return 2.0 * self.half_width_mm, 2.0 * self.half_height_mm, 2.0 * self.hole_mm

    @property
    def area_mm2(self) -> float:
        """Area of the face."""
        return self.whole_area_mm2 - float(np.pi * self.hole_mm**2)

    @property
    def whole_area_mm2(self) -> float:
        """The same with the hole."""
        if self.round:
            return float(np.pi * self.half_width_mm**2)
        return 4.0 * self.half_width_mm * self.half_height_mm


@dataclass(frozen=True)
class Body:
    """A solid box, or a round rod along `out`.

    thing : whose it is: "camera" or a light's name.  what : "lens", "tube", "close-up lens", "body", "head",
    "diffuser".  centre : (3,) mm.  right, up, out : (3,) unit vectors.
    half_width_mm, half_height_mm, half_depth_mm : half sizes along these (both the first the rod's radius).
    """

    thing: str
    what: str
    centre: NDArray[np.float64]
    right: NDArray[np.float64]
    up: NDArray[np.float64]
    out: NDArray[np.float64]
    half_width_mm: float
    half_height_mm: float
    half_depth_mm: float
    round: bool = False


@dataclass(frozen=True)
class StagedLight:
    """A light in its place. output: cd s (flash) or cd, on the face's axis far away. flash_duration_s: how
    long a flash burns."""

    name: str
    kind: str
    face: Face
    output: float
    colour_temperature_k: float
    flash_duration_s: float = 1 / 2000


@dataclass(frozen=True)
class StagedCard:
    """A reflector card in its place."""

    name: str
    face: Face
    reflectance: float


@dataclass(frozen=True)
class Stage:
    """Everything in its place.

    up : (3,) unit vector, against gravity.  backdrop : Face or None, with backdrop_reflectance (3,).
    ambient_illuminance_lx, ambient_gradient, ambient_colour_temperature_k : the dome.
    bodies : solid things: lens and camera, lamp heads, diffusers; none where the scene leaves them out.
    """

    petal: PetalMesh
    drops: DropSet
    camera: CameraGeometry
    lights: tuple[StagedLight, ...]
    cards: tuple[StagedCard, ...]
    up: NDArray[np.float64]
    ambient_illuminance_lx: float
    ambient_gradient: float
    ambient_colour_temperature_k: float
    backdrop: Face | None
    backdrop_reflectance: NDArray[np.float32]
    bodies: tuple[Body, ...] = ()

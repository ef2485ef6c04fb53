"""What stands on the table, as frozen records. Change one by making a new one (`dataclasses.replace`).

Units: millimetres, degrees, seconds, lux, candela (continuous light) or candela seconds (flash),
kelvin. Colours are linear sRGB in 0..1. Frame at the point of sharp focus: +z along the lens axis
toward the lens, +x right and +y up in the picture. A light stands at an angle off the lens axis
(0 from the lens, 90 from the side, 180 from behind) and a clock position (12 above, 3 right, seen
from the camera).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import atan2, degrees, hypot
from pathlib import Path

from lightsim.errors import printable
from lightsim.optics.lens_records import Lens
from lightsim.optics.marks import ISO_SPEEDS

RGB = tuple[float, float, float]
XYZ = tuple[float, float, float]


@dataclass(frozen=True)
class Petal:
    """A petal built here, or a mesh file.

    form: "flat", "cupped", "ruffled", "saddle" or "mesh" (then `file` names it).
    In its own frame the petal lies in x (width) and y (length), its front toward +z; `tilt_deg` leans it
    away from facing the lens, the side at clock position `tilt_clock` going back; `turn_deg` spins it in
    its own plane, counter-clockwise seen from its front.
    """

    form: str = "cupped"
    file: Path | None = None
    width_mm: float = 30.0
    length_mm: float = 40.0
    curl: float = 0.3  # depth of the form as a share of half the width; 0 is flat
    ruffles: int = 5  # waves along the edge of the ruffled form
    outline: str = "petal"  # "petal" (narrow foot, round top) or "rectangle"
    tilt_deg: float = 0.0
    tilt_clock: float = 12.0
    turn_deg: float = 0.0
    mesh_spacing_mm: float = 0.2  # edge length of the triangles
    reflectance_foot: RGB = (0.55, 0.50, 0.30)  # share of light reflected, at the petal's foot ...
    reflectance_tip: RGB = (0.55, 0.25, 0.40)  # ... and at its tip
    transmittance_foot: RGB = (0.30, 0.28, 0.15)
    transmittance_tip: RGB = (0.30, 0.12, 0.20)
    veins: int = 9  # number of main veins fanning out from the foot; 0 for none
    vein_strength: float = 0.35  # share by which a vein darkens the petal, 0..1
    mottle: float = 0.0  # share by which fine irregular flecks darken the petal, 0..1
    relief_mm: float = 0.03  # height of the veins and the fine wrinkles
    pattern: int = 1  # chooses the course of veins, wrinkles and flecks
    gloss: float = 0.3  # share of the cuticle's mirror reflection that shows, 0..1
    gloss_roughness: float = 0.35  # microfacet roughness (GGX alpha)
    # mesh files only
    scale: float | None = (
        None  # millimetres per unit of the file; None: 1000 for glTF, whose unit is the metre
    )
    rotate_deg: XYZ = (0.0, 0.0, 0.0)  # about x, then y, then z, before tilt and turn
    reflectance: RGB | None = None  # where the file has no colours


@dataclass(frozen=True)
class PlacedDrop:
    """One drop put by hand: its place on the petal (x right, y up, seen along the petal's own normal)."""

    x_mm: float
    y_mm: float
    diameter_mm: float
    contact_angle_deg: float | None = None  # None takes the set's


@dataclass(frozen=True)
class Drops:
    """Drops of water on the petal's front: scattered, put by hand, or both (by hand first)."""

    count: int = 60
    diameter_mm: float = 1.0  # median of the log-normal
    diameter_spread: float = 1.5  # geometric standard deviation; 1 makes all alike
    contact_angle_deg: float = 110.0
    seed: int = 1
    gap_mm: float = 0.02  # least clear distance between two drops
    placed: tuple[PlacedDrop, ...] = ()


@dataclass(frozen=True)
class Focus:
    """Where it is sharp. on: "petal" (the petal's point at x_mm, y_mm), "drop" (front of the drop with that
    index, the largest when None) or "offset" (as "petal", but offset_mm nearer to the lens)."""

    on: str = "petal"
    x_mm: float = 0.0
    y_mm: float = 0.0
    drop: int | None = None
    offset_mm: float = 0.0


@dataclass(frozen=True)
class Camera:
    """Framing by a field width and a working distance; a `Lens` in the scene takes the place of both.

    f_number is the marked one (f/11 stands for 11.3). Without a lens train the effective one follows from
    the magnification sensor width / field width with a pupil ratio of 1.
    """

    field_width_mm: float | None = None  # 24 without a lens train
    working_distance_mm: float | None = None  # 120 without a lens train
    f_number: float = 11.0
    sensor_mm: tuple[float, float] = (36.0, 24.0)
    sensor_px: tuple[int, int] = (6000, 4000)
    diffraction: bool = True  # spread the light in the picture as the lens opening does
    looks_down_deg: float = 30.0  # 0: the lens axis is level; 90: the camera looks straight down
    focus: Focus = field(default_factory=Focus)
    width_px: int = 960


@dataclass(frozen=True)
class Motion:
    """A flower that sways or a camera that shakes, during the exposure: speed at the subject, and where to in
    the picture."""

    speed_mm_s: float = 1.0
    clock: float = 3.0


@dataclass(frozen=True)
class Noise:
    """The sensor's noise. full_well_e: electrons at saturation at base_iso. read_noise_e: of one reading."""

    full_well_e: float = 50_000.0
    base_iso: float = 100.0
    read_noise_e: float = 3.0
    seed: int = 1


@dataclass(frozen=True)
class Exposure:
    """Settings that need no tracing. auto: expose so that the petal's mean comes out at mid-tone.

    iso is the marked speed, as f_number is of the camera; what is worked out takes `exact_iso`.
    """

    iso: float = 100.0
    shutter_s: float = 1 / 128
    auto: bool = False
    white_balance: str | float = "key"  # a light's name, "key" (the first light), "ambient", or kelvin

    @property
    def exact_iso(self) -> float:
        """The speed that the mark stands for: ISO 125 is 126. One between the marks stands for itself."""
        return ISO_SPEEDS.exact(self.iso)


@dataclass(frozen=True)
class Diffuser:
    """A white sheet before a light's head: it becomes the glowing face, of its own size and shape.

    loss_stops: what it takes from the light on the axis. The light's place is then the diffuser's.
    """

    shape: str = "rectangle"
    width_mm: float = 100.0
    height_mm: float = 80.0
    loss_stops: float = 1.3


@dataclass(frozen=True)
class Light:
    """A light with a flat glowing face.

    kind: "flash" (output in candela seconds) or "continuous" (candela). Its output is given by exactly one
    of guide_number_m (flash; metres at ISO 100 and full power, without a diffuser), intensity (cd s at full
    power, or cd; on the face's axis, far away, without a diffuser), or, for a continuous light as it stands,
    illuminance_lx or ev100 (what it would give at the subject's point, facing the light).
    `power` is the flash's fraction of full power.
    Place: angle_deg, clock and distance_mm from the subject to the face's centre, or position_mm. The face
    looks at aim_mm. shape: "rectangle" (width_mm along the horizontal), "round" (width_mm is the diameter) or
    "ring" (width_mm and inner_width_mm are its diameters): that is held at the lens's front, round the lens,
    whatever is said of its place, and has no diffuser.
    head_depth_mm: from the head's face to its back; None where not known, see `scene.solid_bodies`.
    """

    name: str = "flash"
    kind: str = "flash"
    shape: str = "rectangle"
    width_mm: float = 60.0
    height_mm: float = 40.0
    inner_width_mm: float | None = None
    head_depth_mm: float | None = None
    angle_deg: float = 75.0
    clock: float = 10.0
    distance_mm: float = 250.0
    position_mm: XYZ | None = None
    aim_mm: XYZ = (0.0, 0.0, 0.0)
    guide_number_m: float | None = None
    power: float = 1.0
    intensity: float | None = None
    illuminance_lx: float | None = None
    ev100: float | None = None
    colour_temperature_k: float = 5600.0
    flash_duration_s: float = 1 / 2000  # how long the flash burns
    diffuser: Diffuser | None = None

    def moved(self, **changes: object) -> Light:
        """The same light elsewhere.

        Naming an angle, a clock position or a distance drops an explicit position; what is not named stays
        as that position had it.
        """
        if self.position_mm is not None and {"angle_deg", "clock", "distance_mm"} & changes.keys():
            changes = {"position_mm": None, **_polar(self.position_mm), **changes}
        return replace(self, **changes)  # type: ignore[arg-type]


def _polar(position_mm: XYZ) -> dict[str, float]:
    """Angle off the lens axis, clock position and distance of a place."""
    x, y, z = position_mm
    return {
        "angle_deg": degrees(atan2(hypot(x, y), z)),
        "clock": degrees(atan2(x, y)) / 30.0 % 12.0,
        "distance_mm": hypot(x, y, z),
    }


@dataclass(frozen=True)
class Card:
    """A white reflector card: a diffuse rectangle that looks at the subject, lit by the lights."""

    name: str = "card"
    width_mm: float = 100.0
    height_mm: float = 100.0
    angle_deg: float = 75.0
    clock: float = 3.0
    distance_mm: float = 120.0
    position_mm: XYZ | None = None
    aim_mm: XYZ = (0.0, 0.0, 0.0)
    reflectance: float = 0.85


@dataclass(frozen=True)
class Ambient:
    """The room's light as a dome all around.

    illuminance_lx: its mean over all directions times pi, which is what a surface gets wherever it faces when
    gradient = 0. ev100: the same as an incident-light meter reads it, instead. gradient 0..1: radiance in
    proportion to 1 + gradient * cos(angle from straight up).
    """

    illuminance_lx: float | None = None  # 200 when neither is given
    ev100: float | None = None
    gradient: float = 0.0
    colour_temperature_k: float = 4000.0


@dataclass(frozen=True)
class Backdrop:
    """A matt square wall behind the subject, square to the lens axis, lit by the lights and the dome."""

    distance_mm: float = 400.0
    width_mm: float = 600.0
    reflectance: RGB = (0.05, 0.08, 0.06)


@dataclass(frozen=True)
class Scene:
    """One set-up: what stands on the table, the camera, the lights and the settings.

    lights : the first is the key.  lens : the lens train; None frames by `camera.field_width_mm`.
    bodies : whether lens, camera and lamps are solid: they hide light and are mirrored in the drops.
    title : heads the pages; the file's name when empty.

    >>> scene = Scene(lights=(Light(guide_number_m=20.0, power=1 / 16, angle_deg=30.0),))
    >>> scene.lights[0].angle_deg
    30.0
    """

    petal: Petal = field(default_factory=Petal)
    drops: Drops = field(default_factory=Drops)
    camera: Camera = field(default_factory=Camera)
    lens: Lens | None = None
    exposure: Exposure = field(default_factory=Exposure)
    lights: tuple[Light, ...] = field(default_factory=lambda: (Light(guide_number_m=20.0, power=1 / 16),))
    cards: tuple[Card, ...] = ()
    ambient: Ambient = field(default_factory=Ambient)
    backdrop: Backdrop | None = None
    motion: Motion | None = None
    noise: Noise | None = None
    bodies: bool = True
    title: str = ""  # heads the pages; the file's name when empty
    about: str = ""
    path: Path | None = field(default=None, compare=False)

    @property
    def shown_title(self) -> str:
        """What heads the pages: the title, else the file's name as words ("wet-rose.toml": "Wet rose")."""
        if self.title:
            return self.title
        words = (
            "" if self.path is None else printable(self.path.stem).replace("-", " ").replace("_", " ").strip()
        )
        return words[:1].upper() + words[1:] if words else "A set without a name"

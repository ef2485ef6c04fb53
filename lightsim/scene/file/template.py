"""The scene file to start from: a dewy petal in side light, made with the gear that is given."""

from __future__ import annotations

from dataclasses import dataclass
from textwrap import dedent

from lightsim.optics.lens_records import StackedLens
from lightsim.scene.file.write import brief_toml
from lightsim.scene.records import (
    Ambient,
    Backdrop,
    Camera,
    Card,
    Diffuser,
    Drops,
    Exposure,
    Focus,
    Lens,
    Light,
    Petal,
    PlacedDrop,
    Scene,
)

HEADER = dedent("""\
    # A set-up for a close-up photograph of a wet petal: what stands on the table, and the light on it.
    #
    # Lengths in mm, angles in degrees, times in seconds; a key's unit is in its name or in brackets above it,
    # and a number may carry its own in quotes: "f/8", "60 mm", "1/60s", "25 %". Colours are shares of light,
    # red, green and blue, from 0 to 1 (linear sRGB). Directions are those of the picture: x right, y up,
    # z toward the lens. A light stands at an angle off the lens axis (0 from the lens, 90 from the side,
    # 180 from behind) and a clock position (12 above, 3 right, seen from the camera).
    """)

# Keys that are written first, even where they are as usual.
MATTERS: dict[type, tuple[str, ...]] = {
    Petal: ("form", "width_mm", "length_mm", "tilt_deg", "tilt_clock"),
    Drops: ("count", "diameter_mm", "contact_angle_deg"),
    Camera: ("f_number",),
    Focus: ("on", "drop"),
    Lens: (
        "focal_length_mm",
        "native_magnification",
        "native_working_distance_mm",
        "extension_tubes_mm",
        "close_up_dioptres",
    ),
    StackedLens: ("focal_length_mm",),
    Exposure: ("iso", "shutter_s"),
    Light: ("name", "angle_deg", "clock", "distance_mm", "guide_number_m", "power"),
    Diffuser: ("width_mm", "height_mm", "loss_stops"),
    Card: ("angle_deg", "clock", "distance_mm"),
    Ambient: ("illuminance_lx", "colour_temperature_k"),
    Backdrop: ("distance_mm",),
}


@dataclass(frozen=True)
class Gear:
    """What a photographer has at hand, in the scene file's units.

    lens_mm : focal length.  magnification : what the lens gives by itself at its nearest.
    free_distance_mm : before the bare lens there, None where it is not known.
    tubes_mm : lengths.  close_up_dioptres : strengths.  teleconverter : its factor, 1 for none.
    reversed : whether the lens is mounted back to front.  second_lens_mm : focal length of one screwed
        back to front before it, None for none.
    diffuser_mm : width and height, None for a bare flash.
    """

    lens_mm: float = 100.0
    magnification: float = 1.0
    free_distance_mm: float | None = 140.0
    tubes_mm: tuple[float, ...] = (36.0, 12.0)
    close_up_dioptres: tuple[float, ...] = ()
    teleconverter: float = 1.0
    reversed: bool = False
    second_lens_mm: float | None = None
    f_number: float = 11.0
    guide_number_m: float = 20.0
    diffuser_mm: tuple[float, float] | None = (100.0, 80.0)
    room_lx: float = 150.0


def template_scene(gear: Gear | None = None, power: float = 1 / 4) -> Scene:
    """The scene of the template, made with some gear.

    power : of the flash, as a share of its full power.
    """
    gear = gear or Gear()
    diffuser = None if gear.diffuser_mm is None else Diffuser("rectangle", *gear.diffuser_mm)
    return Scene(
        about="A dewy petal in side light.",
        petal=Petal(tilt_deg=15.0, tilt_clock=10.0, mottle=0.06, mesh_spacing_mm=0.12),
        drops=Drops(count=60, diameter_mm=0.7, diameter_spread=1.4, placed=(PlacedDrop(0.0, 2.0, 1.5),)),
        camera=Camera(f_number=gear.f_number, focus=Focus(on="drop", drop=0)),
        lens=Lens(
            focal_length_mm=gear.lens_mm,
            native_magnification=gear.magnification,
            extension_tubes_mm=gear.tubes_mm,
            close_up_dioptres=gear.close_up_dioptres,
            teleconverter=gear.teleconverter,
            reversed=gear.reversed,
            stacked=None if gear.second_lens_mm is None else StackedLens(gear.second_lens_mm),
            native_working_distance_mm=gear.free_distance_mm,
        ),
        exposure=Exposure(),
        lights=(
            Light(
                name="flash", guide_number_m=gear.guide_number_m, power=power, angle_deg=75.0, clock=10.0,
                distance_mm=200.0, diffuser=diffuser,
            ),
        ),
        cards=(Card(angle_deg=70.0, clock=4.0, distance_mm=120.0),),
        ambient=Ambient(illuminance_lx=gear.room_lx),
        backdrop=Backdrop(),
    )  # fmt: skip


def template_text(scene: Scene | None = None) -> str:
    """The commented scene file; it loads as the scene, `template_scene` when None."""
    return HEADER + "\n" + brief_toml(scene or template_scene(), MATTERS)

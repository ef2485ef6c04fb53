"""The scene file to start from: a dewy petal in side light, every key explained."""

from __future__ import annotations

from textwrap import dedent

from lightsim.scene.file.write import scene_to_toml
from lightsim.scene.records import (
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
    # Lengths in mm, angles in degrees, times in seconds; a key's unit is in its name or in brackets above it.
    # Colours are shares of light, red, green and blue, from 0 to 1 (linear sRGB). Directions are those of
    # the picture: x right, y up, z toward the lens. A light stands at an angle off the lens axis (0 from
    # the lens, 90 from the side, 180 from behind) and a clock position (12 above, 3 right, seen from the
    # camera). A line such as "# file = ..." stands for a key that is not set here; a heading such as
    # "# [motion]" for a section that is not.
    """)


def template_scene() -> Scene:
    """The scene of the template."""
    return Scene(
        about="A dewy petal in side light.",
        petal=Petal(tilt_deg=15.0, tilt_clock=10.0, mottle=0.06, mesh_spacing_mm=0.12),
        drops=Drops(count=60, diameter_mm=0.7, diameter_spread=1.4, placed=(PlacedDrop(0.0, 2.0, 1.5),)),
        camera=Camera(focus=Focus(on="drop", drop=0)),
        lens=Lens(extension_tubes_mm=(36.0, 12.0), native_working_distance_mm=140.0),
        exposure=Exposure(),
        lights=(
            Light(
                name="flash", guide_number_m=20.0, power=1 / 4, angle_deg=75.0, clock=10.0, distance_mm=200.0,
                diffuser=Diffuser(),
            ),
        ),
        cards=(Card(angle_deg=70.0, clock=4.0, distance_mm=120.0),),
        backdrop=Backdrop(),
    )  # fmt: skip


def template_text() -> str:
    """The commented scene file; it loads as `template_scene`."""
    return HEADER + "\n" + scene_to_toml(template_scene(), comments=True)

"""Small sets whose answers are known on paper."""

from __future__ import annotations

from lightsim.picture import Layers, Photograph
from lightsim.scene.records import Ambient, Camera, Drops, Focus, Light, Petal, PlacedDrop, Scene


def plain_petal(reflectance: float = 0.5, transmittance: float = 0.0, width_mm: float = 30.0) -> Petal:
    """A flat square without colour, veins, relief or gloss."""
    return Petal(
        form="flat",
        outline="rectangle",
        width_mm=width_mm,
        length_mm=width_mm,
        curl=0.0,
        relief_mm=0.0,
        veins=0,
        vein_strength=0.0,
        gloss=0.0,
        mesh_spacing_mm=width_mm / 30.0,
        reflectance_foot=(reflectance,) * 3,
        reflectance_tip=(reflectance,) * 3,
        transmittance_foot=(transmittance,) * 3,
        transmittance_tip=(transmittance,) * 3,
    )


def one_drop(contact_angle_deg: float = 90.0, diameter_mm: float = 1.5) -> Drops:
    """One drop in the middle."""
    return Drops(count=0, placed=(PlacedDrop(0.0, 0.0, diameter_mm),), contact_angle_deg=contact_angle_deg)


NO_DROPS = Drops(count=0)


def lamp(**changes: object) -> Light:
    """A continuous light of one candela."""
    return Light(name="lamp", kind="continuous", intensity=1.0).moved(**changes)


def simple(
    petal: Petal | None = None,
    drops: Drops = NO_DROPS,
    lights: tuple[Light, ...] = (),
    field_mm: float = 4.0,
    far: bool = False,
    bodies: bool = False,
    **changes: object,
) -> Scene:
    """A set seen from 120 mm, or from afar through a small opening (nearly parallel rays), its lens and lamps
    in nobody's way unless `bodies`."""
    camera = Camera(
        field_width_mm=field_mm,
        working_distance_mm=2000.0 if far else 120.0,
        f_number=64.0 if far else 22.0,
        looks_down_deg=0.0,
        focus=Focus(on="drop", drop=0) if far else Focus(),
    )
    return Scene(
        petal=petal or plain_petal(),
        drops=drops,
        camera=camera,
        lights=lights,
        ambient=Ambient(illuminance_lx=1.0),
        bodies=bodies,
        **changes,
    )  # type: ignore[arg-type]


def as_photograph(layers: Layers, light: str) -> Photograph:
    """One light's layer as it is, for the measures."""
    layer = layers.by_light[light]
    return Photograph(
        layer.total(), layers.mm_per_px, saturation=1e9, glint=layer.glint, lit=layer.lit, maps=layers.maps
    )
